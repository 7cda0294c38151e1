"""Findings on disk, `store.sqlite` in the results folder: the one truth from which every other file is written again.

Only the main process writes it. What a photo told is kept under the hash of its bytes and of the reference that it was
measured under, so that a folder that grew, a name that changed or a copy cost nothing twice.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sproutlapse.errors import ResultsError
from sproutlapse.vision.findings import Findings

NAME = "store.sqlite"
LAYOUT = 1

_TABLES = """
CREATE TABLE IF NOT EXISTS about (key TEXT PRIMARY KEY, value TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS files (frame TEXT PRIMARY KEY, size INTEGER, mtime_ns INTEGER, digest TEXT, moment TEXT);
CREATE TABLE IF NOT EXISTS looks (digest TEXT PRIMARY KEY, damaged TEXT, look TEXT);
CREATE TABLE IF NOT EXISTS findings (digest TEXT, reference TEXT, found TEXT, labels BLOB,
                                     PRIMARY KEY (digest, reference));
"""


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

    Parameters
    ----------
    folder
        The results folder; it exists.

    Raises
    ------
    ResultsError
        If the store is not ours, broken, or of a later version.
    """

    def __init__(self, folder: Path) -> None:
        self.path = folder / NAME
        try:
            self._db = sqlite3.connect(self.path, isolation_level=None, timeout=5.0)
            self._db.execute("PRAGMA journal_mode=WAL")
            self._db.execute("PRAGMA synchronous=NORMAL")
            self._db.executescript(_TABLES)
        except sqlite3.DatabaseError as error:
            raise ResultsError(f"the store cannot be used ({error}).", where=str(self.path),
                               remedy="If no other run uses it, move it away and run again; photos are kept.") from error
        layout = self.about("layout")
        if layout is None:
            self.set_about({"layout": LAYOUT})
        elif layout != LAYOUT:
            self.close()
            raise ResultsError(f"these results were written by another version (layout {layout}).", where=str(self.path),
                               remedy="Name another folder with --out, or use the version that wrote them.")

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._db.close()

    def about(self, key: str) -> Any:
        """A value of the run as a whole, or None."""
        row = self._db.execute("SELECT value FROM about WHERE key = ?", (key,)).fetchone()
        return None if row is None else json.loads(row[0])

    def set_about(self, values: dict[str, Any]) -> None:
        """Keep values of the run as a whole."""
        rows = [(key, json.dumps(value, sort_keys=True)) for key, value in values.items()]
        self._write("INSERT OR REPLACE INTO about VALUES (?, ?)", rows)

    def scanned(self) -> dict[str, Scanned]:
        """Files as last read, by frame."""
        rows = self._db.execute("SELECT frame, size, mtime_ns, digest, moment FROM files").fetchall()
        return {row[0]: Scanned(*row) for row in rows}

    def set_scanned(self, files: Iterable[Scanned]) -> None:
        """Replace the list of files."""
        rows = [(f.frame, f.size, f.mtime_ns, f.digest, f.moment) for f in files]
        self._write("INSERT OR REPLACE INTO files VALUES (?, ?, ?, ?, ?)", rows, first="DELETE FROM files")

    def looks(self) -> dict[str, tuple[str, dict[str, Any]]]:
        """By digest: why a photo is damaged (empty if it is not) and its look as plain values."""
        rows = self._db.execute("SELECT digest, damaged, look FROM looks").fetchall()
        return {digest: (damaged, json.loads(look)) for digest, damaged, look in rows}

    def measured(self, reference: str) -> dict[str, Findings]:
        """Findings under a reference by digest, without label pictures."""
        rows = self._db.execute("SELECT digest, found FROM findings WHERE reference = ?", (reference,)).fetchall()
        return {digest: Findings.from_values(json.loads(found), b"") for digest, found in rows}

    def labels(self, digest: str, reference: str) -> bytes:
        """The label picture of one photo; empty if there is none."""
        row = self._db.execute("SELECT labels FROM findings WHERE digest = ? AND reference = ?",
                               (digest, reference)).fetchone()
        return b"" if row is None else bytes(row[0])

    def keep(self, digest: str, damaged: str, look: dict[str, Any], reference: str, found: Findings | None) -> None:
        """Keep what one photo told, at once."""
        steps: list[tuple[str, tuple[Any, ...]]] = [
            ("INSERT OR REPLACE INTO looks VALUES (?, ?, ?)", (digest, damaged, json.dumps(look)))]
        if found is not None:
            steps.append(("INSERT OR REPLACE INTO findings VALUES (?, ?, ?, ?)",
                          (digest, reference, json.dumps(found.to_values()), found.labels_png)))
        self._within(steps)

    def drop_other_references(self, reference: str) -> None:
        """Forget findings under references that no longer hold."""
        self._within([("DELETE FROM findings WHERE reference <> ?", (reference,))])

    def _write(self, statement: str, rows: list[tuple[Any, ...]], first: str = "") -> None:
        steps: list[tuple[str, tuple[Any, ...]]] = [(first, ())] if first else []
        self._within(steps + [(statement, row) for row in rows])

    def _within(self, steps: list[tuple[str, tuple[Any, ...]]]) -> None:
        try:
            self._db.execute("BEGIN IMMEDIATE")
            for statement, values in steps:
                self._db.execute(statement, values)
            self._db.execute("COMMIT")
        except sqlite3.OperationalError as error:
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")
            raise ResultsError(f"the store cannot be written ({error}).", where=str(self.path),
                               remedy="Make room on the disk, check that the folder may be written and that no other run "
                                      "uses it, then run again: it goes on where it stopped.") from error
