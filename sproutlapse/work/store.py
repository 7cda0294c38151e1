"""Findings on disk, `store.sqlite` in the results folder: the one truth from which every other file is written again.

Only the main process writes it. What a photo told is kept under the hash of its bytes and of the reference that it was
measured under, so that a folder that grew, a name that changed or a copy cost nothing twice.
"""

from __future__ import annotations

import json
import os
import secrets
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sproutlapse.errors import ResultsError
from sproutlapse.vision.findings import Findings
from sproutlapse.work.holder import held_in_words, keeps_locks, leave_note, take_note_away

NAME = "store.sqlite"
LAYOUT = 1

WAIT_S = 1.0  # for another run that is just ending

# Exclusive first: then the write-ahead log needs no shared memory, which network disks do not have. FULL, since with
# NORMAL the log is not flushed when a photo's findings are kept, and they would go when the power fails ("WAL mode does
# lose durability": SQLite, "PRAGMA synchronous"). It costs 4 ms a photo on a disk that flushes in that time.
_SETTINGS = ("PRAGMA locking_mode=EXCLUSIVE", "PRAGMA journal_mode=WAL", "PRAGMA synchronous=FULL")

_TABLES = (
    "CREATE TABLE IF NOT EXISTS about (key TEXT PRIMARY KEY, value TEXT NOT NULL)",
    "CREATE TABLE IF NOT EXISTS files (frame TEXT PRIMARY KEY, size INTEGER, mtime_ns INTEGER, digest TEXT, "
    "moment TEXT)",
    "CREATE TABLE IF NOT EXISTS looks (digest TEXT PRIMARY KEY, damaged TEXT, look TEXT)",
    "CREATE TABLE IF NOT EXISTS findings (digest TEXT, reference TEXT, found TEXT, labels BLOB, "
    "PRIMARY KEY (digest, reference))",
)

_MARK = "changed"  # key of what each opening that writes leaves
_TABLES_THERE = "SELECT name FROM sqlite_master WHERE type = 'table'"
_ABOUT = "SELECT value FROM about WHERE key = ?"
_OUR_TABLES = frozenset({"about", "files", "looks", "findings"})

_MAY_WRITE = "Check that the folder is there and that you may write in it, or name another with --out."
_FULL = "Make room and run again: it goes on where it stopped."
_FULL_OR_LOCKED = "Make room, check that you may write there, then run again: it goes on where it stopped."
_BROKEN = "Move this file away and run again: the photos are kept, and all are measured anew."
_OTHER = "Name another folder with --out, or use the version that wrote them."
_WAIT = "Wait until it has ended, or name another folder with --out."
_OWN_DISK = "Name a folder on a disk of this machine with --out."
_NO_LOCKS = "this disk keeps no locks, as some network disks do: two runs could spoil each other's results unseen."
_TROUBLES = {
    sqlite3.SQLITE_FULL: ("the disk is full.", _FULL),
    sqlite3.SQLITE_IOERR: ("the disk takes no more, may only be read, or failed.", _FULL_OR_LOCKED),
    sqlite3.SQLITE_READONLY: ("this folder, its store or the whole disk may only be read.", _MAY_WRITE),
    sqlite3.SQLITE_CANTOPEN: ("the store cannot be opened or made there.", _MAY_WRITE),
    sqlite3.SQLITE_NOTADB: ("this file is no store of ours.", _BROKEN),
    sqlite3.SQLITE_CORRUPT: ("the store is broken.", _BROKEN),
}
_CANNOT_LOCK = frozenset(
    {sqlite3.SQLITE_IOERR_LOCK, sqlite3.SQLITE_IOERR_RDLOCK, sqlite3.SQLITE_IOERR_UNLOCK,
     sqlite3.SQLITE_IOERR_CHECKRESERVEDLOCK}
)  # fmt: skip

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
        self._noted, self._mark = False, ""
        self._look_first()
        with self._told():
            self._db = sqlite3.connect(self.path, isolation_level=None, timeout=WAIT_S, check_same_thread=False)
        try:
            self._open()
        except BaseException:
            self.close()
            raise

    def _open(self) -> None:
        for statement in _SETTINGS:
            self._read(statement)
        # The lock itself is taken by the first writing, even of nothing.
        self._within([])
        leave_note(self.path.parent)
        self._noted = True
        self._must_be_ours()

    @classmethod
    def to_read(cls, folder: Path) -> Store:
        """A store that is only read from: also where the disk may not be written.

        Raises
        ------
        ResultsError
            As when it is opened, and where a run that was broken off there can be ended only on a disk that may be
            written.
        """
        if _may_write(folder):
            return cls(folder)
        log = folder / (NAME + "-wal")
        if log.is_file() and log.stat().st_size:
            raise ResultsError(
                "the last run here was broken off or still runs, and this disk may only be read.",
                where=str(folder),
                remedy="Copy the folder to a disk that may be written, and take the copy.",
            )
        store = cls.__new__(cls)
        store.path, store._noted, store._mark = folder / NAME, False, ""
        with store._told():
            store._db = _untouched(store.path)
        try:
            store._must_be_ours()
        except BaseException:
            store.close()
            raise
        return store

    def _look_first(self) -> None:
        """Stop before a data base that this version does not wholly know is opened to be written, which changes its
        head. What stands in a log alone is not seen so; that is seen when it is open."""
        # What is broken, or is just being written, is told when it is opened under the lock.
        with suppress(sqlite3.Error, ValueError, TypeError), closing(_untouched(self.path)) as db:
            there = {str(row[0]) for row in db.execute(_TABLES_THERE)}
            rows = db.execute(_ABOUT, ("layout",)).fetchall() if "about" in there else []
            self._must_be_known(there, json.loads(rows[0][0]) if rows else None)

    def _must_be_ours(self) -> None:
        """Make the tables of a new store; stop at one that this version does not wholly know."""
        there = {str(row[0]) for row in self._read(_TABLES_THERE)}
        layout = self.about("layout") if there <= _OUR_TABLES and "about" in there else None
        self._must_be_known(there, layout)
        if layout is None:
            # In one go with its number, so that a store is either wholly there or not at all.
            number = ("INSERT OR REPLACE INTO about VALUES (?, ?)", ("layout", _json(LAYOUT)))
            self._within([*((statement, ()) for statement in _TABLES), number])

    def _must_be_known(self, there: set[str], layout: Any) -> None:
        if not there <= _OUR_TABLES:
            raise ResultsError(
                "this data base is another program's, or of a later version.", where=str(self.path), remedy=_OTHER
            )
        if layout not in (None, LAYOUT):
            raise ResultsError(
                f"these results were written by another version (layout {layout}, this one writes {LAYOUT}).",
                where=str(self.path),
                remedy=_OTHER,
            )

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_exc: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the file and let others use it."""
        if self._noted:
            take_note_away(self.path.parent)
        # What is told of a full disk here was told by the last write already.
        with suppress(sqlite3.Error):
            self._db.close()

    def about(self, key: str) -> Any:
        """A value of the run as a whole, or None."""
        rows = self._read(_ABOUT, (key,))
        with self._understood():
            return json.loads(rows[0][0]) if rows else None

    def set_about(self, values: dict[str, Any]) -> None:
        """Keep values of the run as a whole, all or none."""
        self._within(_about(values))

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
        with self._understood():
            return {digest: (damaged, json.loads(look)) for digest, damaged, look in rows}

    def drop_looks(self, values: dict[str, Any]) -> None:
        """Forget all looks, and keep values of the run as a whole in the same go."""
        self._within([("DELETE FROM looks", ()), *_about(values)])

    def measured(self, reference: str) -> dict[str, Findings]:
        """Findings under a reference by digest, without label pictures."""
        rows = self._read("SELECT digest, found FROM findings WHERE reference = ?", (reference,))
        with self._understood():
            return {digest: Findings.from_values(json.loads(found), b"") for digest, found in rows}

    def digests(self, reference: str) -> set[str]:
        """Digests of the photos that were measured under a reference."""
        return {row[0] for row in self._read("SELECT digest FROM findings WHERE reference = ?", (reference,))}

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
        with self._told():
            return self._db.execute(statement, values).fetchall()

    def mark(self) -> str:
        """What the last opening that wrote left here, another one each time; empty where none did so far.

        Neither size nor time of the file tells it: what a killed run wrote may stand in the log alone.
        """
        return str(self.about(_MARK) or "")

    def _within(self, steps: Iterable[Step]) -> None:
        steps, mark = list(steps), self._mark
        if steps and not mark:
            mark = secrets.token_hex(8)
            steps.append(("INSERT OR REPLACE INTO about VALUES (?, ?)", (_MARK, _json(mark))))
        with self._told():
            try:
                self._db.execute("BEGIN IMMEDIATE")
                for statement, values in steps:
                    self._db.execute(statement, values)
                self._db.execute("COMMIT")
                self._mark = mark
            except BaseException:  # also a value that cannot be kept, or the keyboard
                with suppress(sqlite3.Error):
                    self._db.execute("ROLLBACK")
                raise

    @contextmanager
    def _told(self) -> Iterator[None]:
        """A data base's error as a person needs it."""
        try:
            yield
        except sqlite3.Error as error:
            raise trouble_of(error, self.path, _in_use) from error

    @contextmanager
    def _understood(self) -> Iterator[None]:
        """What stands in the store but is not as this version writes it."""
        try:
            yield
        except (ValueError, TypeError, KeyError) as error:
            raise ResultsError(
                f"what stands in the store is not understood by this version ({error}).",
                where=str(self.path),
                remedy=f"Use the version that wrote it. Or: {_BROKEN[0].lower()}{_BROKEN[1:]}",
            ) from error


def trouble_of(error: sqlite3.Error, path: Path, in_use: Callable[[Path], tuple[str, str]]) -> ResultsError:
    """A data base's error as a person needs it.

    Parameters
    ----------
    path
        The data base, in the results folder.
    in_use
        What to say, and what to do, where another process holds it; asked with that folder.
    """
    folder, code = path.parent, getattr(error, "sqlite_errorcode", 0)
    if not folder.is_dir():
        return ResultsError("the folder is not there.", where=str(folder), remedy=_MAY_WRITE)
    kind = code & 0xFF  # the low byte is the kind of error, the rest its details: SQLite's result codes
    if kind == sqlite3.SQLITE_BUSY and keeps_locks(folder):
        what, remedy = in_use(folder)
    elif not _may_write(folder):
        # The data base itself complains of a lock that it could not have.
        what, remedy = _TROUBLES[sqlite3.SQLITE_READONLY]
    elif kind == sqlite3.SQLITE_BUSY or code in _CANNOT_LOCK:
        what, remedy = _NO_LOCKS, _OWN_DISK
    else:
        what, remedy = _TROUBLES.get(kind, (f"the store cannot be used ({error}).", _MAY_WRITE))
    return ResultsError(what, where=str(path), remedy=remedy)


def _in_use(folder: Path) -> tuple[str, str]:
    return f"these results are in use by {held_in_words(folder)}.", _WAIT


def _about(values: dict[str, Any]) -> list[Step]:
    rows = [(key, _json(value)) for key, value in values.items()]
    return [("INSERT OR REPLACE INTO about VALUES (?, ?)", row) for row in rows]


def _untouched(path: Path) -> sqlite3.Connection:
    """A store to be read from without a lock and without a file beside it."""
    place = f"file:{quote(os.fsencode(path))}?mode=ro&immutable=1"
    return sqlite3.connect(place, uri=True, isolation_level=None)


def _may_write(folder: Path) -> bool:
    """Whether a folder and the store in it, if it is there, may be written; on a disk that may only be read they may
    not, whoever asks."""
    store = folder / NAME
    return os.access(folder, os.W_OK) and (not store.exists() or os.access(store, os.W_OK))


def _json(value: Any) -> str:
    """JSON text; a value that is not a number must not get that far."""
    return json.dumps(value, sort_keys=True, allow_nan=False)
