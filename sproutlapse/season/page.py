"""The page of a season, in one file: what to do over all trays, how each stands, the same sowing side by side."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

from sproutlapse.crops import crop_name
from sproutlapse.report.templates import environment, style
from sproutlapse.report.told import cautions_told
from sproutlapse.report.words import clock, counted, dated, moment
from sproutlapse.season.kept import SowingSeen, TrayTold
from sproutlapse.season.trays import SILENT_DAYS, URGENCIES, SeasonTray, ToDo, behind, newest_of, to_do

MOST_NAMED: Final = 6
OPEN_ITEMS: Final = 8  # of what can wait for some days; the rest is folded


@dataclass(frozen=True)
class Season:
    """All that the page tells.

    Attributes
    ----------
    name
        Of the folder that was searched.
    again
        The command that looks again.
    trays
        In natural order of their names.
    untold, bare, closed
        As of `frames.trays.Found`.
    """

    name: str
    again: str
    trays: tuple[SeasonTray, ...]
    untold: tuple[tuple[str, int], ...] = ()
    bare: tuple[str, ...] = ()
    closed: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Row:
    """One tray in the table of trays."""

    tray: SeasonTray
    photos: str
    last: str
    silent: str
    up: str
    stretching: str
    leggy: bool
    trim: str
    lamp: str


@dataclass(frozen=True)
class SideBySide:
    """One sowing that stands in several trays, and the command that holds these against each other."""

    title: str
    rows: tuple[tuple[SeasonTray, SowingSeen], ...]
    command: str


def season_page(season: Season) -> str:
    """The page's HTML; the same season gives the same page."""
    made = environment("sproutlapse.season")
    return made.get_template("season.html").render(_context(season), css=style(made))


def _context(season: Season) -> Mapping[str, Any]:
    listed = to_do(season.trays)
    told = [tray.told for tray in season.trays if tray.told is not None]
    return {
        "season": season,
        "summary": summary(season),
        "last": max((t.last for t in told if t.last), key=moment, default=""),
        "dated": dated,
        "groups": [(urgency, [one for one in listed if one.item.urgency == urgency]) for urgency in URGENCIES],
        "open_items": OPEN_ITEMS,
        "failed": [tray for tray in season.trays if tray.failed is not None],
        "cautions": cautions_told([one.item for one in listed]),
        "rows": table_of(season.trays),
        "pairs": (pairs := side_by_side(season.trays)),
        "together": _compare([row for pair in pairs for row in pair.rows], by="") if len(pairs) > 1 else "",
        "done": done_command,
        "first_words": first_words,
        "clock": clock,
        "counted": counted,
    }


def summary(season: Season) -> str:
    """`10 trays, 480 photos; 43 of 50 pots or cells with a plant.`"""
    told = [tray.told for tray in season.trays if tray.told is not None]
    known = [(t.up, t.places) for t in told if t.up is not None]
    shown = [tray for tray in season.trays if tray.told is not None]
    photos = counted(sum(tray.photos for tray in shown), "photo")
    without = len(season.trays) - len(shown)
    said = f"{counted(len(season.trays), 'tray')}, {photos}" + (
        f" of the {len(shown)} that are done" if without else ""
    )
    if known:
        said += f"; {sum(up for up, _ in known)} of {sum(of for _, of in known)} pots or cells with a plant"
    return said + "."


def table_of(trays: Sequence[SeasonTray]) -> list[Row]:
    """A row for each tray, those that could not be done included."""
    newest = newest_of(trays)
    return [_row(tray, newest) for tray in trays]


def _row(tray: SeasonTray, newest: datetime | None) -> Row:
    told = tray.told
    if told is None:
        return Row(tray, str(tray.photos), "", "", "", "", False, "", "")
    left = told.photos - told.used
    return Row(
        tray=tray,
        photos=f"{tray.photos}" + (f", {left} left out" if left else ""),
        last=dated(told.last) if told.last else "none could be measured",
        silent=_silent(tray, newest),
        up=f"{told.up} of {told.places}" if told.up is not None else f"not known yet, of {told.places}",
        stretching=_stretching(told),
        leggy=bool(told.leggy),
        trim=_some(told.trim),
        lamp="; ".join(told.near_lamp),
    )


def _silent(tray: SeasonTray, newest: datetime | None) -> str:
    """That a tray has had no photo for long, while others have."""
    days = behind(tray, newest) / timedelta(days=1)
    if days < SILENT_DAYS:
        return ""
    older = f"{counted(round(days), 'day')} older than the newest photo of all"
    return f"{older}: does its camera run, or is it of another season?"


def _stretching(told: TrayTold) -> str:
    if told.above:
        return "not told from above"
    parts = [("leggy", told.leggy), ("stretching", told.stretching)]
    return "; ".join(f"{word}: {_some(names)}" for word, names in parts if names)


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return ", ".join(names[:MOST_NAMED]) + more


def side_by_side(trays: Sequence[SeasonTray]) -> list[SideBySide]:
    """The sowings that stand in two trays or more, by name and crop."""
    found: dict[tuple[str, str], list[tuple[SeasonTray, SowingSeen]]] = {}
    for tray in trays:
        for sowing in tray.told.sowings if tray.told is not None else ():
            crop = crop_name(sowing.crop) or sowing.crop
            found.setdefault((_plain(sowing.name), _plain(crop)), []).append((tray, sowing))
    return [
        SideBySide(rows[0][1].name, tuple(rows), _compare(rows)) for rows in found.values() if _several(rows)
    ]  # fmt: skip


def _several(rows: Sequence[tuple[SeasonTray, SowingSeen]]) -> bool:
    return len({tray.name for tray, _ in rows}) > 1


def _plain(name: str) -> str:
    return " ".join(name.casefold().split())


def _compare(rows: Sequence[tuple[SeasonTray, SowingSeen]], *, by: str = "tray") -> str:
    results = dict.fromkeys(tray.results for tray, _ in rows)
    crop = next((sowing.crop for _, sowing in rows if sowing.crop), "") if by else ""
    words = ["sproutlapse compare", *map(typed, results)]
    return " ".join([*words, *(["--by", by] if by else []), *(["--crop", typed(crop)] if crop else [])])


def first_words(remedy: str) -> tuple[str, str]:
    """The first sentence of a remedy, and the rest of it."""
    found = re.match(r"(.*?[.!?])\s+(?=\S)(.*)", remedy, flags=re.DOTALL)
    return (found[1], found[2]) if found else (remedy, "")


def done_command(one: ToDo) -> str:
    """What is typed when something on the list is done."""
    return f"sproutlapse done {typed(one.tray.results)} {one.item.id}"


def typed(word: str) -> str:
    """A path or name as it is typed, in quotes where it needs them."""
    return word if re.fullmatch(r"[\w./:\\+@,-]+", word) and not word.startswith("-") else f'"{word}"'
