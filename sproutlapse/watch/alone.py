"""One watch at a time on one results folder; what a killed one held is free at once."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sproutlapse.work.store import trouble_of

NAME = ".watching.sqlite"


@contextmanager
def alone(out: Path) -> Iterator[None]:
    """Hold the results folder against a second watch; runs, notes and films may use it in between.

    Raises
    ------
    ResultsError
        If another watch is on it, or it cannot be held.
    """
    path = out / NAME
    # A data base's own lock goes with its process, however that ends, and needs nothing that only some systems have.
    try:
        db = sqlite3.connect(path, isolation_level=None, timeout=0)
    except sqlite3.Error as error:
        raise trouble_of(error, path, _watched) from error
    try:
        try:
            db.execute("BEGIN EXCLUSIVE")
        except sqlite3.Error as error:
            raise trouble_of(error, path, _watched) from error
        yield
    finally:
        with suppress(sqlite3.Error):
            db.close()


def _watched(_folder: Path) -> tuple[str, str]:
    return (
        "these results are watched already by another `sproutlapse watch`.",
        "End that one first, or name another folder with --out.",
    )
