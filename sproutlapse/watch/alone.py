"""One watch at a time on one results folder; what a killed one held is free at once."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from sproutlapse.errors import ResultsError

NAME = ".watching.sqlite"


@contextmanager
def alone(out: Path) -> Iterator[None]:
    """Hold the results folder against a second watch; runs, notes and films may use it in between.

    Raises
    ------
    ResultsError
        If another watch is on it.
    """
    # A data base's own lock goes with its process, however that ends, and needs nothing that only some systems have.
    db = sqlite3.connect(out / NAME, isolation_level=None, timeout=0)
    try:
        try:
            db.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            raise ResultsError(
                "these results are watched already by another `sproutlapse watch`.",
                where=str(out),
                remedy="End that one first, or name another folder with --out.",
            ) from error
        yield
    finally:
        with suppress(sqlite3.Error):
            db.close()
