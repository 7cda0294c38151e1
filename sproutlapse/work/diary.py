"""The grower's own words, `diary.csv` in the results folder: notes, and things to do that were said to be done.

It is the one file in there that the tool did not make up from photos. Entries are added at its end and nothing else in
it is ever touched, so that a hand that edits it loses nothing.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from sproutlapse.errors import ResultsError
from sproutlapse.results import DiaryEntry
from sproutlapse.work.files import put, sync_folder

NAME = "diary.csv"
COLUMNS = ("time", "kind", "about", "text")
_MEND = "Mend that line by hand, or move the file away: nothing else is lost by it."


def read_diary(folder: Path) -> tuple[DiaryEntry, ...]:
    """All entries, in order of time; none where there is no file.

    Raises
    ------
    ResultsError
        If a line is none of ours; the file is left as it is.
    """
    path = folder / NAME
    if not path.is_file():
        return ()
    try:
        rows = list(csv.reader(io.StringIO(_text(path), newline=None), strict=True))
    except csv.Error as error:
        raise ResultsError(f"a line cannot be read ({error}).", where=str(path), remedy=_MEND) from error
    if not rows or tuple(cell.strip() for cell in rows[0][: len(COLUMNS)]) != COLUMNS:
        raise ResultsError(f"the first line is not {','.join(COLUMNS)}.", where=str(path), remedy=_MEND)
    entries = [_entry(row, number, path) for number, row in enumerate(rows[1:], start=2) if any(row)]
    return tuple(sorted(entries, key=lambda entry: datetime.fromisoformat(entry.time).replace(tzinfo=None)))


def add_entries(folder: Path, entries: Sequence[DiaryEntry]) -> None:
    """Add entries at the end, all or none; what stands there keeps its bytes.

    Raises
    ------
    ResultsError
        If the file is not ours or cannot be written.
    """
    before = read_diary(folder)
    path = folder / NAME
    old = path.read_bytes() if path.is_file() else (",".join(COLUMNS) + "\n").encode("utf-8")
    lines = io.StringIO()
    if old and not old.endswith(b"\n"):
        lines.write("\n")
    writer = csv.writer(lines, lineterminator="\n")
    writer.writerows((entry.time, entry.kind, entry.about, entry.text) for entry in entries)
    put(path, old + lines.getvalue().encode("utf-8"))
    if len(read_diary(folder)) != len(before) + len(entries):
        put(path, old)
        raise ResultsError(
            "what was added would not be read again: a quotation mark is open in a line above.",
            where=str(path),
            remedy=_MEND,
        )
    sync_folder(folder)  # the grower's own words cannot be made again


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ResultsError("the file is not UTF-8 text.", where=str(path), remedy=_MEND) from error
    except OSError as error:
        raise ResultsError(f"cannot be read ({error.strerror or error}).", where=str(path), remedy=_MEND) from error


def _entry(row: Sequence[str], number: int, path: Path) -> DiaryEntry:
    cells = [*row, "", "", ""][: len(COLUMNS)]
    try:
        datetime.fromisoformat(cells[0].strip())
    except ValueError:
        raise ResultsError(
            f"line {number} does not begin with a time such as 2026-03-05T09:00:00.", where=str(path), remedy=_MEND
        ) from None
    kind = cells[1].strip()
    if kind not in ("note", "done"):
        raise ResultsError(f'line {number} is neither "note" nor "done".', where=str(path), remedy=_MEND)
    return DiaryEntry(cells[0].strip(), "note" if kind == "note" else "done", cells[2], cells[3])
