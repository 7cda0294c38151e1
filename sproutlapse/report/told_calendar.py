"""The come-up calendar: for each sowing when to expect sprouts, how it stands, and what to do about it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from sproutlapse.crops_window import (
    needs_words,
    overdue_after,
    own_words,
    span,
    unknown_words,
    waits_for_cold,
    warmth_words,
    weeks_from_memory,
    window,
)
from sproutlapse.growth.more_to_come import UNLIKELY
from sproutlapse.report.facts import start_of, used_frames
from sproutlapse.report.words import as_float, counted, day, missing
from sproutlapse.results import Results
from sproutlapse.tray import Sowing

# Common practice, no source: nothing up after a few weeks is worth a second look, not yet the bin.
SECOND_LOOK = "Worth a second look, not yet the bin: is the soil moist and warm, is there a sprout under the surface?"

NOT_KNOWN = "not known"


@dataclass(frozen=True)
class CalendarRow:
    """One sowing as the page shows it."""

    sowing: str
    expected: str
    now: str
    to_do: str


def calendar(results: Results) -> list[CalendarRow]:
    """A row per sowing of which plants stand in view, in the tray's order."""
    rows = {str(row["sowing"]): row for _, row in results.sowings.iterrows()}
    start, frames = start_of(results), used_frames(results)
    now = None if start is None or not frames else start + timedelta(hours=frames[-1].elapsed_h)
    return [
        _row(sowing, rows[sowing.name], results, now)
        for sowing in results.tray.sowings
        if sowing.name in rows and as_float(rows[sowing.name]["plants"])
    ]


def _row(sowing: Sowing, row: pd.Series, results: Results, now: datetime | None) -> CalendarRow:
    return CalendarRow(
        sowing.name, _expected(sowing, row, results), _now(sowing, row, now), _to_do(sowing, row, results, now)
    )


def _expected(sowing: Sowing, row: pd.Series, results: Results) -> str:
    """`9 Mar to 16 Mar (8 to 15 days); overdue from 31 Mar`; once something is up, without the second part."""
    days = window(sowing)
    if days is None:
        return "after its cold spell" if waits_for_cold(sowing) else NOT_KNOWN
    text = (own_words(sowing) or span(days.fewest, days.most)) + (", from memory" if days.from_memory else "")
    if sowing.sown is None:
        return f"{text} after sowing"
    first, last = (sowing.sown + timedelta(days=d) for d in (days.fewest, days.most))
    dates = f"about {day(first)}" if first.date() == last.date() else f"{day(first)} to {day(last)}"
    limit = overdue_after(sowing, times=results.tray.judge.overdue_times)
    late = (
        ""
        if limit is None or as_float(row["emerged"])
        else f"; overdue from {day(sowing.sown + timedelta(days=limit))}"
    )
    return f"{dates} ({text}){late}"


def _now(sowing: Sowing, row: pd.Series, now: datetime | None) -> str:
    """`day 9: 3 of 12 seeds up`."""
    of = as_float(row["seeds"]) or as_float(row["plants"]) or 0.0
    up = as_float(row["emerged"]) or 0.0
    unit = "pot" if as_float(row["seeds"]) is None else "seed"
    said = f"{up:.0f} of {counted(int(of), unit)} up" if up else "nothing up yet"
    if str(row["verdict"]).startswith("not known yet"):
        said = "not known yet"
    if sowing.sown is None or now is None:
        return said
    return f"day {(now - sowing.sown.replace(tzinfo=None)).total_seconds() / 86400:.0f}: {said}"


def _to_do(sowing: Sowing, row: pd.Series, results: Results, now: datetime | None) -> str:
    """The one or two things to do: before anything is up what its seed needs, later until when to sow again."""
    verdict, up = str(row["verdict"]), as_float(row["emerged"]) or 0.0
    if "check it" in verdict:
        return "The date given as sown lies too late: check it."
    if verdict.startswith("all up"):
        return ""
    chance = as_float(row.get("more_chance"))
    if verdict.startswith("overdue") or (up and chance is not None and chance <= UNLIKELY):
        head = "More is unlikely." if up else SECOND_LOOK
        return " ".join(
            part for part in (head, "" if up else warmth_words(sowing), _again(sowing, row, results, now)) if part
        )
    if up:
        return ""
    parts = (warmth_words(sowing), unknown_words(sowing), needs_words(sowing))
    return " ".join(part for part in parts if part)


def _again(sowing: Sowing, row: pd.Series, results: Results, now: datetime | None) -> str:
    if missing(row.get("sow_again_by")) or now is None or results.tray.season.plant_out is None:
        return ""
    by, out = (
        datetime.fromisoformat(str(row["sow_again_by"])),
        datetime.combine(results.tray.season.plant_out, now.time()),
    )
    if by.date() < now.date():
        return f"Too late to sow again for planting out on {day(out)}: buy plants or sow a faster crop."
    source = " (weeks to grow from memory)" if weeks_from_memory(sowing) else ""
    return f"Sow again by {day(by)} to plant out on {day(out)}{source}."
