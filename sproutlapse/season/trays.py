"""The trays of a season as they are told: what each gave, or why it could not be done; and all of them in one table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from sproutlapse.report.words import moment
from sproutlapse.results import CareItem
from sproutlapse.season.kept import Cell, TrayTold

URGENCIES = ("now", "today", "this week")
# A tray whose last photo is so much older than the newest of all is told to be, and what is to do there comes after the
# rest: its camera may have stopped, or its season be over. Own proposal.
SILENT_DAYS = 1.0
FIRST_COLUMNS = ("tray", "results", "last_photo")


@dataclass(frozen=True)
class Failure:
    """Why a tray could not be done: what was wrong, where, and what to do."""

    what: str
    where: str = ""
    remedy: str = ""


@dataclass(frozen=True)
class SeasonTray:
    """One tray of a season.

    Attributes
    ----------
    name
        Told apart from all others.
    results
        Its results folder as it is typed in the folder of the season's page.
    page
        The way from the season's page to its own as an address, or empty where it has none.
    photos
        Files with a picture's ending in its folder.
    told
        What its last finished run gave; None where none ever came to its end.
    failed
        Why it could not be brought up to date.
    """

    name: str
    results: str
    page: str
    photos: int
    told: TrayTold | None
    failed: Failure | None = None


@dataclass(frozen=True)
class ToDo:
    """One thing to do, and in which tray; `old` where that has had no photo for long, or was not brought up to date."""

    tray: SeasonTray
    item: CareItem
    old: bool = False


def to_do(trays: Sequence[SeasonTray]) -> list[ToDo]:
    """What is to do over all trays: most urgent first, of trays with photos of late before others, then what hurts most
    if left, the same work side by side."""
    rank: dict[str, int] = {}
    newest = newest_of(trays)
    listed = [
        ToDo(tray, item, old=tray.failed is not None or behind(tray, newest) >= timedelta(days=SILENT_DAYS))
        for tray in trays
        if tray.told is not None
        for item in tray.told.care
    ]
    for tray in trays:
        for place, item in enumerate(tray.told.care if tray.told is not None else ()):
            kind = _kind(item)
            rank[kind] = min(place, rank.get(kind, place))
    order = {tray.name: place for place, tray in enumerate(trays)}
    return sorted(
        listed,
        key=lambda one: (
            URGENCIES.index(one.item.urgency), one.old, rank[_kind(one.item)], _kind(one.item), order[one.tray.name],
        ),
    )  # fmt: skip


def newest_of(trays: Sequence[SeasonTray]) -> datetime | None:
    """The newest photo of all, by its camera's clock."""
    return max((moment(t.told.last) for t in trays if t.told is not None and t.told.last), default=None)


def behind(tray: SeasonTray, newest: datetime | None) -> timedelta:
    """How much older a tray's last photo is than the newest of all."""
    if newest is None or tray.told is None or not tray.told.last:
        return timedelta(0)
    return newest - moment(tray.told.last)


def _kind(item: CareItem) -> str:
    return item.key.partition(":")[0]


def season_table(trays: Sequence[SeasonTray]) -> pd.DataFrame:
    """A row for each sowing of each tray: its tray, its results, its last photo, and the columns of sowings.csv."""
    rows: list[dict[str, Cell]] = []
    columns = dict.fromkeys((*FIRST_COLUMNS, "sowing"))
    for tray in trays:
        if tray.told is None:
            continue
        whose: dict[str, Cell] = {"tray": tray.name, "results": tray.results, "last_photo": tray.told.last}
        rows += [whose | dict(zip(tray.told.columns, row, strict=True)) for row in tray.told.rows]
        columns.update(dict.fromkeys(tray.told.columns if tray.told.rows else ()))
    # As objects, so that counts beside an empty cell stay whole numbers.
    return pd.DataFrame(rows, columns=list(columns), dtype=object)
