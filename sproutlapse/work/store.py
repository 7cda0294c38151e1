"""Findings on disk, `store.sqlite` in the results folder: the one truth from which every other file is written again.

Only the main process writes it. What a photo told is kept under the hash of its bytes and of the reference that it was
measured under, so that a folder that grew, a name that changed or a copy cost nothing twice.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sproutlapse.errors import ResultsError
from sproutlapse.vision.findings import Findings

NAME = "store.sqlite"
LAYOUT = 1

WAIT_S = 1.0  # for another run that is just ending

_TABLES = (
    "CREATE TABLE IF NOT EXISTS about (key TEXT PRIMARY KEY, value TEXT NOT NULL)",
    "CREATE TABLE IF NOT EXISTS files (frame TEXT PRIMARY KEY, size INTEGER, mtime_ns INTEGER, digest TEXT, "
    "moment TEXT)",
    "CREATE TABLE IF NOT EXISTS looks (digest TEXT PRIMARY KEY, damaged TEXT, look TEXT)",
    "CREATE TABLE IF NOT EXISTS findings (digest TEXT, reference TEXT, found TEXT, labels BLOB, "
    "PRIMARY KEY (digest, reference))",
)

_MAY_WRITE = "Check that the folder is there and that you may write in it, or name another with --out."
_FULL = "Make room and run again: it goes on where it stopped."
_FULL_OR_LOCKED = "Make room, check that you may write there, then run again: it goes on where it stopped."
_BROKEN = "Move this file away and run again: the photos are kept, and all are measured anew."
_TROUBLES = {
    sqlite3.SQLITE_BUSY: (
        "these results are in use by another run.",
        "Wait until it has ended, or name another folder with --out.",
    ),
    sqlite3.SQLITE_FULL: ("the disk is full.", _FULL),
    sqlite3.SQLITE_IOERR: ("the disk takes no more, may only be read, or failed.", _FULL_OR_LOCKED),
    sqlite3.SQLITE_READONLY: ("the store may only be read.", _MAY_WRITE),
    sqlite3.SQLITE_NOTADB: ("this file is no store of ours.", _BROKEN),
    sqlite3.SQLITE_CORRUPT: ("the store is broken.", _BROKEN),
}

Step = tuple[str, tuple[Any, ...]]


@dataclass(frozen=True)
class Scanned:
    """One file as it was when last read: size, time and hash of its bytes, and its moment as JSON text."""

    frame: str
    size: int
    mtime_ns: int
    digest: str
    moment: str


class Store:
    """An open store. Use it as a context manager; each write is safe on disk when the call returns.

    While it is open no other process can use it: two runs at once on one results folder would undo each other's work.
    The lock is the data base's own, so a run that was killed leaves none behind.

    Parameters
    ----------
    folder
        The results folder; it exists.

    Raises
    ------
    ResultsError
        If the store is in use, broken, or of a later version.
    """

    def __init__(self, folder: Path) -> None:
        self.path = folder / NAME
        try:
            self._db = sqlite3.connect(self.path, isolation_level=None, timeout=WAIT_S, check_same_thread=False)
        except sqlite3.Error as error:
            raise self._trouble(error) from error
        try:
            self._open()
        except BaseException:
            self.close()
            raise

    def _open(self) -> None:
        # Exclusive first: then the write-ahead log needs no shared memory, which network disks do not have.
        for statement in ("PRAGMA locking_mode=EXCLUSIVE", "PRAGMA journal_mode=WAL", "PRAGMA synchronous=NORMAL"):
            self._read(statement)
        self._within([(statement, ()) for statement in _TABLES])
        layout = self.about("layout")
        if layout is None:
            self.set_about({"layout": LAYOUT})
        elif layout != LAYOUT:
            raise ResultsError(
                f"these results were written by another version (layout {layout}).",
                where=str(self.path),
                remedy="Name another folder with --out, or use the version that wrote them.",
            )

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file and let others use it."""
        # What is told of a full disk here was told by the last write already.
        with suppress(sqlite3.Error):
            self._db.close()

    def about(self, key: str) -> Any:
        """A value of the run as a whole, or None."""
        rows = self._read("SELECT value FROM about WHERE key = ?", (key,))
        return json.loads(rows[0][0]) if rows else None

    def set_about(self, values: dict[str, Any]) -> None:
        """Keep values of the run as a whole, all or none."""
        rows = [(key, _json(value)) for key, value in values.items()]
        self._within([("INSERT OR REPLACE INTO about VALUES (?, ?)", row) for row in rows])

    def scanned(self) -> dict[str, Scanned]:
        """Files as last read, by frame."""
        return {row[0]: Scanned(*row) for row in self._read("SELECT frame, size, mtime_ns, digest, moment FROM files")}

    def set_scanned(self, files: Iterable[Scanned]) -> None:
        """Replace the list of files."""
        rows = [(f.frame, f.size, f.mtime_ns, f.digest, f.moment) for f in files]
        insert = "INSERT OR REPLACE INTO files VALUES (?, ?, ?, ?, ?)"
        self._within([("DELETE FROM files", ()), *((insert, row) for row in rows)])

    def looks(self) -> dict[str, tuple[str, dict[str, Any]]]:
        """By digest: why a photo is damaged (empty if it is not) and its look as plain values."""
        rows = self._read("SELECT digest, damaged, look FROM looks")
        return {digest: (damaged, json.loads(look)) for digest, damaged, look in rows}

    def measured(self, reference: str) -> dict[str, Findings]:
        """Findings under a reference by digest, without label pictures."""
        rows = self._read("SELECT digest, found FROM findings WHERE reference = ?", (reference,))
        return {digest: Findings.from_values(json.loads(found), b"") for digest, found in rows}

    def with_fault(self, reference: str, begins: str) -> int:
        """How many photos have a fault under a reference that begins with these words."""
        like = '%"fault": "' + begins + "%"
        rows = self._read("SELECT COUNT(*) FROM findings WHERE reference = ? AND found LIKE ?", (reference, like))
        return int(rows[0][0])

    def labels(self, digest: str, reference: str) -> bytes:
        """The label picture of one photo; empty if there is none."""
        rows = self._read("SELECT labels FROM findings WHERE digest = ? AND reference = ?", (digest, reference))
        return bytes(rows[0][0]) if rows else b""

    def keep(self, digest: str, damaged: str, look: dict[str, Any], reference: str, found: Findings | None) -> None:
        """Keep what one photo told, at once."""
        steps: list[Step] = [("INSERT OR REPLACE INTO looks VALUES (?, ?, ?)", (digest, damaged, _json(look)))]
        if found is not None:
            values = (digest, reference, _json(found.to_values()), found.labels_png)
            steps.append(("INSERT OR REPLACE INTO findings VALUES (?, ?, ?, ?)", values))
        self._within(steps)

    def drop_other_references(self, *references: str) -> None:
        """Forget findings under references that no longer hold."""
        places = ", ".join("?" * len(references))
        self._within([(f"DELETE FROM findings WHERE reference NOT IN ({places})", references)])

    def _read(self, statement: str, values: tuple[Any, ...] = ()) -> list[Any]:
        try:
            return self._db.execute(statement, values).fetchall()
        except sqlite3.Error as error:
            raise self._trouble(error) from error

    def _within(self, steps: Iterable[Step]) -> None:
        try:
            self._db.execute("BEGIN IMMEDIATE")
            for statement, values in steps:
                self._db.execute(statement, values)
            self._db.execute("COMMIT")
        except sqlite3.Error as error:
            with suppress(sqlite3.Error):
                self._db.execute("ROLLBACK")
            raise self._trouble(error) from error

    def _trouble(self, error: sqlite3.Error) -> ResultsError:
        """What a data base's error means for a person."""
        # The low byte is the kind of error, the rest its details: SQLite's result codes.
        kind = getattr(error, "sqlite_errorcode", 0) & 0xFF
        what, remedy = _TROUBLES.get(kind, (f"the store cannot be used ({error}).", _MAY_WRITE))
        return ResultsError(what, where=str(self.path), remedy=remedy)


def _json(value: Any) -> str:
    """JSON text; a value that is not a number must not get that far."""
    return json.dumps(value, sort_keys=True, allow_nan=False)
