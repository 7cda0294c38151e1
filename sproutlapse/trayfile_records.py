"""What this grower saw in earlier seasons: `own-crops.csv` of each run, kept in one folder and read by the next tray.

`[season] own_records` names the folder. What is found there goes into `own_days` and `own_year` of each sowing, so that
the tray.toml in the results says what was used and needs the folder no more.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from sproutlapse.crops import crop_name
from sproutlapse.errors import TrayError
from sproutlapse.tray import Sowing, Tray
from sproutlapse.trayproblems import Place, Problem

NAME = "own-crops.csv"
PATTERN = "own-crops*.csv"
COLUMNS = (
    "crop", "variety", "lot", "sowing", "sown", "soil_c", "unit", "of", "up", "first_days", "median_days", "last_days",
    "finished",
)  # fmt: skip
NEEDED = ("crop", "first_days", "last_days")
# Records made in soils that differ by more say nothing of this one. Own proposal: 5 degrees change days by a third or
# more in the table.
SAME_SOIL_C = 3.0


@dataclass(frozen=True)
class Record:
    """One sowing of an earlier season; days after sowing."""

    crop: str
    variety: str
    sown: date | None
    soil_c: float | None
    first_days: float
    last_days: float


def sowing_problems(sowing: Sowing, place: Place) -> Iterator[Problem]:
    """What each key of a sowing allows by itself but the whole does not."""
    if {"light", "dark"} <= set(sowing.needs):
        yield Problem((*place, "needs"), 'found both "light" and "dark"', "one of the two", "Take one of them out.")
    if sowing.own_days is not None and sowing.own_days[0] > sowing.own_days[1]:
        found = f"found [{sowing.own_days[0]:g}, {sowing.own_days[1]:g}]"
        yield Problem((*place, "own_days"), found, "fewest days first, then most", "Write them the other way round.")


def with_own_records(tray: Tray, path: Path) -> Tray:
    """The tray with what the folder of own records says of each sowing.

    Parameters
    ----------
    tray
        As it was read.
    path
        The file that it was read from; a relative folder counts from where that lies.

    Raises
    ------
    TrayError
        If the folder cannot be used or a file in it is broken, with its line.
    """
    named = tray.season.own_records
    if named is None:
        return tray
    records = read_records(path.parent / named, asked_in=path)
    sowings = tuple(_told(sowing, records) for sowing in tray.sowings)
    return tray.model_copy(update={"season": tray.season.model_copy(update={"own_records": None}), "sowings": sowings})


def _told(sowing: Sowing, records: Iterable[Record]) -> Sowing:
    """The sowing with the days of those of the same kind, unless the person wrote days of their own."""
    own = _alike(sowing, records)
    if sowing.own_days is not None or not own:
        return sowing
    days = min(r.first_days for r in own), max(r.last_days for r in own)
    years = {r.sown.year for r in own if r.sown is not None}
    year = years.pop() if len(years) == 1 and all(r.sown is not None for r in own) else None
    return sowing.model_copy(update={"own_days": days, "own_year": year})


def _alike(sowing: Sowing, records: Iterable[Record]) -> list[Record]:
    """Records of the crop from before this sowing, about as warm; of its variety only, where there are any."""
    own = [r for r in records if _kind(r.crop) == _kind(sowing.crop) != "" and _before(r, sowing) and _warm(r, sowing)]
    variety = (sowing.variety or "").strip().casefold()
    return [r for r in own if variety and r.variety.casefold() == variety] or own


def _kind(crop: str | None) -> str:
    return crop_name(crop) or (crop or "").strip().casefold()


def _before(record: Record, sowing: Sowing) -> bool:
    return record.sown is None or sowing.sown is None or record.sown < sowing.sown.date()


def _warm(record: Record, sowing: Sowing) -> bool:
    if record.soil_c is None or sowing.soil_c is None:
        return True
    return abs(record.soil_c - sowing.soil_c) <= SAME_SOIL_C


def read_records(folder: Path, *, asked_in: Path) -> list[Record]:
    """All records of a folder: its files `own-crops*.csv` and those of the folders in it.

    Rows of sowings that were still coming up, or of which nothing came up, tell no days and are passed over.

    Raises
    ------
    TrayError
        If there is no such folder, no such file in it, or a file or a line that cannot be read.
    """
    if not folder.is_dir():
        raise TrayError(
            f"own_records names a folder that is not there: {folder}",
            where=f"{asked_in}, season → own_records",
            remedy=f"Put the {NAME} of earlier results into such a folder, or take the line out.",
        )
    files = sorted({*folder.glob(PATTERN), *folder.glob(f"*/{PATTERN}")})
    if not files:
        raise TrayError(
            f"no {NAME} is in the folder of own records, nor in a folder in it",
            where=str(folder),
            remedy=f"Copy the {NAME} of earlier results there (own-crops-2025.csv is a good name), or take own_records "
            f"out of {asked_in}.",
        )
    return [record for file in files for record in _records_of(file)]


def _records_of(file: Path) -> list[Record]:
    try:
        text = file.read_bytes().decode("utf-8-sig")
        rows = list(csv.reader(io.StringIO(text), strict=True))
    except UnicodeDecodeError:
        raise _broken(file, 0, "is not a text file in UTF-8", "Save it again as CSV in UTF-8.") from None
    except csv.Error as error:
        raise _broken(file, 0, f"is no CSV table ({error})", "Save it again as CSV, or take it away.") from None
    except OSError as error:
        raise _broken(file, 0, f"cannot be read ({error.strerror})", "Check that you may read it.") from None
    head = [cell.strip() for cell in rows[0]] if rows else []
    absent = [name for name in NEEDED if name not in head]
    if absent:
        raise _broken(file, 1, f"lacks the column {' and '.join(absent)}", f"Its first line is {','.join(COLUMNS)}.")
    found = []
    for number, row in enumerate(rows[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(head):
            raise _broken(file, number, f"has {len(row)} fields where the first line has {len(head)}", REMEDY)
        record = _record(file, number, dict(zip(head, (cell.strip() for cell in row), strict=True)))
        found += [record] if record is not None else []
    return found


REMEDY = "Correct this line, or take it out."


def _record(file: Path, line: int, row: dict[str, str]) -> Record | None:
    if row.get("finished", "").casefold() in ("false", "no") or not (row["first_days"] or row["last_days"]):
        return None
    first, last = (_number(file, line, key, row[key]) for key in ("first_days", "last_days"))
    if first is None or last is None or not 0 < first <= last:
        what = f"first_days {row['first_days'] or 'empty'}, last_days {row['last_days'] or 'empty'}"
        raise _broken(file, line, f"{what}: both are needed, above 0 and first the smaller", REMEDY)
    sown = _day(file, line, row.get("sown", ""))
    warm = _number(file, line, "soil_c", row.get("soil_c", ""))
    return Record(row["crop"], row.get("variety", ""), sown, warm, first, last)


def _number(file: Path, line: int, key: str, text: str) -> float | None:
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise _broken(file, line, f"{key}: found “{text}”, which is no number", REMEDY)
    return value


def _day(file: Path, line: int, text: str) -> date | None:
    try:
        return datetime.fromisoformat(text).date() if text else None
    except ValueError:
        raise _broken(file, line, f"sown: found “{text}”, which is no day such as 2026-02-01", REMEDY) from None


def _broken(file: Path, line: int, what: str, remedy: str) -> TrayError:
    return TrayError(what, where=f"{file}, line {line}" if line else str(file), remedy=remedy)
