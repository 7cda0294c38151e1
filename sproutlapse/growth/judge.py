"""The measurements table in; plants, sowings and events out: the one door to the judging of a tray over time."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from sproutlapse.growth.covers import cover_events
from sproutlapse.growth.curves import growth_per_day, last_break, recent_rows, relative_growth_rate
from sproutlapse.growth.cuts import Drop, drop_events, drops
from sproutlapse.growth.emergence import Emergence, emerged_event, emergence
from sproutlapse.growth.events import Event, events_table
from sproutlapse.growth.exchanged import Exchange, exchanged_events, exchanges
from sproutlapse.growth.handled import handled_events
from sproutlapse.growth.lamps import lamp_events
from sproutlapse.growth.sowings import SOWING_COLUMNS, overdue_events, sowing_events, sowings_table
from sproutlapse.growth.stretch import Spell, grade, leggy_events, leggy_spells
from sproutlapse.growth.tracks import Track, tracks
from sproutlapse.growth.turned import Turn, last_turn, turned_events, turns
from sproutlapse.growth.watering import watered_events
from sproutlapse.tray import Judge, Tray

PLANT_COLUMNS = [
    "plant", "sowing", "habit", "emerged_after", "emerged_by", "grade", "leggy", "leggy_since", "trims",
    "final_height_mm", "growth_mm_per_day", "rgr_per_day", "growth_since",
]  # fmt: skip


@dataclass(frozen=True)
class Judgement:
    """The three tables of judgement, with the columns of plants.csv, sowings.csv and events.csv.

    Times are texts as in the measurements, empty texts where unknown; numbers are NaN where not measurable.
    """

    plants: pd.DataFrame
    sowings: pd.DataFrame
    events: pd.DataFrame


@dataclass(frozen=True)
class Story:
    """All that is known of one plant over time."""

    track: Track
    up: Emergence | None
    drops: list[Drop]
    spells: list[Spell]
    turns: list[Turn] = field(default_factory=list)
    exchanged: int = 0  # the row from which on another plant may stand here


def stories(measurements: pd.DataFrame, tray: Tray) -> list[Story]:
    """Each plant's story, in tray order; plants without a row are left out."""
    return _stories(tracks(measurements, tray), tray)[0]


def _stories(of: list[Track], tray: Tray) -> tuple[list[Story], list[Exchange]]:
    """Each plant's story, and which pots may have changed places."""
    found = exchanges(of)
    out = []
    for k, t in enumerate(of):
        taken = [one.row for one in found if k in (one.one, one.other)]
        # Where another plant may stand, its being shorter is no cut and no fall.
        lost = [d for d in drops(t, tray.judge) if not any(abs(d.row - row) <= 1 for row in taken)]
        spells = leggy_spells(t, tray.judge)
        out.append(Story(t, emergence(t, tray.judge), lost, spells, turns(t, lost, taken), max(taken, default=0)))
    return out, found


def judge(measurements: pd.DataFrame, tray: Tray, *, now: datetime | None = None) -> Judgement:
    """Judge a tray from its measurements over time.

    Parameters
    ----------
    measurements
        The columns of measurements.csv and `elapsed_h`; rows of usable frames in frame order, then tray order.
    tray
        What stands in view and the thresholds.
    now
        The moment for which a sowing's verdict is given, in the camera's wall clock; the last frame if not given.
        Events depend on frames alone.
    """
    told, found = _stories(tracks(measurements, tray), tray)
    if now is None:
        now = last_frame_clock(measurements)
    events: list[Event] = []
    for s in told:
        events += emerged_event(s.track, s.up)
        events += leggy_events(s.track, s.spells)
        events += drop_events(s.track, s.drops)
        events += handled_events(s.track) + turned_events(s.track, s.turns)
    events += exchanged_events([s.track for s in told], found)
    pairs = [(s.track, s.up) for s in told]
    events += sowing_events(pairs, tray) + overdue_events(pairs, tray) + lamp_events([s.track for s in told], tray)
    events += cover_events([s.track for s in told]) + watered_events([s.track for s in told])
    named = {s.track.plant for s in told}
    plants = [_plant_row(s, tray.judge) for s in told]
    plants += [_empty_row(p.name, p.sowing, p.habit or "") for p in tray.plants if p.name not in named]
    return Judgement(
        plants=pd.DataFrame(plants, columns=PLANT_COLUMNS).astype({"leggy": bool, "trims": int}),
        sowings=pd.DataFrame(sowings_table(pairs, tray, now), columns=SOWING_COLUMNS),
        events=events_table(events),
    )


def last_frame_clock(measurements: pd.DataFrame) -> datetime | None:
    """The wall clock of the last usable frame, clock shifts corrected; None for an empty table."""
    if measurements.empty:
        return None
    first, last = measurements.iloc[0], measurements.iloc[-1]
    start = datetime.fromisoformat(str(first["time"])).replace(tzinfo=None)
    return start + timedelta(hours=float(last["elapsed_h"]) - float(first["elapsed_h"]))


def _plant_row(s: Story, limits: Judge) -> dict[str, object]:
    t, first = s.track, max(last_break(s.drops), s.exchanged)
    growth = growth_per_day(t, limits, first=first)
    # A turned plant shows another side: its height goes on, its canopy begins anew.
    same_side = max(first, last_turn(s.turns))
    covers = recent_rows(t, t.canopy, limits, first=same_side)
    heights = t.height[np.isfinite(t.height) & (t.height > 0)] if t.in_mm else np.empty(0)
    current = s.spells[-1] if s.spells and s.spells[-1].until is None else None
    up = s.up
    row = _empty_row(t.plant, t.settings.sowing if t.settings else None, t.habit or "")
    row.update(
        grade=grade(t, s.spells, limits),
        leggy=current is not None,
        leggy_since=t.time[current.since] if current else "",
        trims=sum(d.event == "trimmed" for d in s.drops),
    )
    if up is None:
        return row
    row.update(
        emerged_after=t.time[up.after_row] if up.after_row is not None else "",
        emerged_by=t.time[up.by_row],
        final_height_mm=float(heights[-1]) if len(heights) else np.nan,
        growth_mm_per_day=growth.per_day if growth else np.nan,
        rgr_per_day=relative_growth_rate(t, limits, first=same_side),
        growth_since=t.time[growth.since] if growth else t.time[covers[0]] if len(covers) else "",
    )
    return row


def _empty_row(plant: str, sowing: str | None, habit: str) -> dict[str, object]:
    return {
        "plant": plant, "sowing": sowing or "", "habit": habit, "emerged_after": "", "emerged_by": "", "grade": "",
        "leggy": False, "leggy_since": "", "trims": 0, "final_height_mm": np.nan, "growth_mm_per_day": np.nan,
        "rgr_per_day": np.nan, "growth_since": "",
    }  # fmt: skip
