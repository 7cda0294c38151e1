"""The trays of a season as they are told: what each gave, or why it could not be done; and all of them in one table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from sproutlapse.results import CareItem
from sproutlapse.season.kept import Cell, TrayTold

URGENCIES = ("now", "today", "this week")
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
        The way from the season's page to its own, or empty where it has none.
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
    """One thing to do, and in which tray."""

    tray: SeasonTray
    item: CareItem


def to_do(trays: Sequence[SeasonTray]) -> list[ToDo]:
    """What is to do over all trays: most urgent first, then what hurts most if left, the same work side by side."""
    rank: dict[str, int] = {}
    listed = [ToDo(tray, item) for tray in trays if tray.told is not None for item in tray.told.care]
    for tray in trays:
        for place, item in enumerate(tray.told.care if tray.told is not None else ()):
            kind = _kind(item)
            rank[kind] = min(place, rank.get(kind, place))
    order = {tray.name: place for place, tray in enumerate(trays)}
    return sorted(
        listed,
        key=lambda one: (
            URGENCIES.index(one.item.urgency), rank[_kind(one.item)], _kind(one.item), order[one.tray.name],
        ),
    )  # fmt: skip


def _kind(item: CareItem) -> str:
    return item.key.partition(":")[0]


def season_table(trays: Sequence[SeasonTray]) -> pd.DataFrame:
    """A row for each sowing of each tray: its tray, its results, its last photo, and the columns of sowings.csv."""
    rows: list[dict[str, Cell]] = []
    columns = dict.fromkeys((*FIRST_COLUMNS, "sowing"))
    for tray in trays:
        if tray.told is None:
            continue
        for row in tray.told.rows:
            rows.append({"tray": tray.name, "results": tray.results, "last_photo": tray.told.last, **row})
            columns.update(dict.fromkeys(row))
    # As objects, so that counts beside an empty cell stay whole numbers.
    return pd.DataFrame(rows, columns=list(columns), dtype=object)
