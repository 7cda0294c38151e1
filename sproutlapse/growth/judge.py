"""The measurements table in; plants, sowings and events out: the one door to the judging of a tray over time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from sproutlapse.growth.colour import Fade, fade_events, fades
from sproutlapse.growth.covers import cover_events
from sproutlapse.growth.curves import growth_per_day, last_break, recent_rows, relative_growth_rate
from sproutlapse.growth.cuts import OTHER_VIEW, Drop, drop_events, drops, with_views
from sproutlapse.growth.emergence import Emergence, emerged_event, emergence
from sproutlapse.growth.events import Event, events_table
from sproutlapse.growth.exchanged import Exchange, exchange_events, exchanges, with_exchanges
from sproutlapse.growth.gone import gone_events
from sproutlapse.growth.grades import middle_stems, verdict
from sproutlapse.growth.handled import handled_events, tray_events
from sproutlapse.growth.intervals import Figure, of_plant
from sproutlapse.growth.kinds import tall_by_nature
from sproutlapse.growth.lamps import lamp_events
from sproutlapse.growth.lengthening import Lengthening, lengthening_events, lengthenings, not_leggy_yet
from sproutlapse.growth.patches import told_of_neighbours
from sproutlapse.growth.sowing_times import LATER_FIGURES
from sproutlapse.growth.sowings import SOWING_CALENDAR, SOWING_COLUMNS, overdue_events, sowing_events, sowings_table
from sproutlapse.growth.stalled import stalled_events
from sproutlapse.growth.standing import PLANT_STANDING, SOWING_STANDING, Grown, standings
from sproutlapse.growth.stretch import Spell, leggy_events, leggy_spells, with_kept_stem
from sproutlapse.growth.tracks import Track, tracks
from sproutlapse.growth.turned import Turn, last_turn, turned_events, turns
from sproutlapse.growth.watering import watered_events
from sproutlapse.tray import Judge, Tray

PLANT_COLUMNS = [
    "plant", "sowing", "habit", "emerged_after", "emerged_by", "grade", "leggy", "leggy_since", "trims",
    "final_height_mm", "growth_mm_per_day", "rgr_per_day", "growth_since", "grade_why", "regrowth_mm_per_day",
    "growth_sd_mm_per_day",
    "first_seen_mm", *PLANT_STANDING,
]  # fmt: skip


@dataclass(frozen=True)
class Judgement:
    """The three tables of judgement, with the columns of plants.csv, sowings.csv and events.csv.

    Times are texts as in the measurements, empty texts where unknown; numbers are NaN where not measurable. `told` are
    the stories that they were made from, so that none is told twice.
    """

    plants: pd.DataFrame
    sowings: pd.DataFrame
    events: pd.DataFrame
    told: list[Story]


@dataclass(frozen=True)
class Story:
    """All that is known of one plant over time.

    `longer` are the times in which its bare stem lengthened again, `kind` how a kind grows that is tall by nature, and
    `steady` is the track without misread stems.
    """

    track: Track
    up: Emergence | None
    drops: list[Drop]
    spells: list[Spell]
    longer: list[Lengthening] = field(default_factory=list)
    kind: str = ""
    steady: Track | None = None
    swaps: list[Exchange] = field(default_factory=list)
    fades: list[Fade] = field(default_factory=list)
    turns: list[Turn] = field(default_factory=list)


def stories(measurements: pd.DataFrame, tray: Tray) -> list[Story]:
    """Each plant's story, in tray order; plants without a row are left out."""
    own = tracks(measurements, tray)
    told = _with_swaps([_story(track, tray) for track in own], tray.judge)
    faded = fades(own, [s.drops for s in told], tray.judge)
    return [replace(s, fades=f, turns=turns(s.track, s.drops)) for s, f in zip(told, faded, strict=True)]


def _with_swaps(told: list[Story], limits: Judge) -> list[Story]:
    """The stories with what is known of plants that changed places; a fall that was none is taken out."""
    swaps = exchanges([s.track for s in told], limits)
    own = [swaps.get(s.track.plant, []) for s in told]
    return [replace(s, drops=with_exchanges(s.drops, e), swaps=e) if e else s for s, e in zip(told, own, strict=True)]


def _story(track: Track, tray: Tray) -> Story:
    sowing = tray.sowing_of(track.settings) if track.settings else None
    kind = tall_by_nature(track.habit, sowing.crop if sowing else None)
    found = with_views(track, drops(track, tray.judge))
    steady = with_kept_stem(track, [d.known_row for d in found if d.breaks_growth])
    longer = lengthenings(track, tray.judge, kind)
    spells = leggy_spells(steady, tray.judge, kind, again=longer[0].known if longer else None)
    return Story(track, emergence(track, tray.judge), found, spells, not_leggy_yet(longer, spells), kind, steady)


def judge(
    measurements: pd.DataFrame,
    tray: Tray,
    *,
    now: datetime | None = None,
    scale_sd: float = 0.0,
    later_sd: Sequence[float] = (),
) -> Judgement:
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
    scale_sd
        Standard deviation of the scale as a share, one error for the whole tray.
    later_sd
        The same in further views of a camera that was set up anew.
    """
    told = stories(measurements, tray)
    if now is None:
        now = last_frame_clock(measurements)
    events: list[Event] = []
    beside = told_of_neighbours([(s.track, s.drops) for s in told], tray)
    for s in told:
        events += emerged_event(s.track, s.up)
        events += leggy_events(s.steady or s.track, s.spells)
        events += lengthening_events(s.track, s.longer)
        own = [d for d in s.drops if d.event not in ("exchanged", OTHER_VIEW)]
        events += drop_events(s.track, own, beside.get(s.track.plant, {}))
        events += gone_events(s.track, s.up, tray.judge)
        events += exchange_events(s.track, s.swaps)
        events += turned_events(s.track, s.turns)
        events += [] if tray.view.from_ == "above" else handled_events(s.track)
        events += fade_events(s.track, s.fades)
    pairs = [(s.track, s.up) for s in told]
    events += sowing_events(pairs, tray) + overdue_events(pairs, tray) + lamp_events([s.track for s in told], tray)
    events += stalled_events(pairs, tray)
    events += tray_events([s.track for s in told]) if tray.view.from_ == "above" else []
    events += cover_events([s.track for s in told]) + watered_events([s.track for s in told])
    named = {s.track.plant for s in told}
    middle = middle_stems([s.steady or s.track for s in told], tray)
    shares = [scale_sd, *later_sd]
    plants = [_plant_row(s, tray.judge, middle, shares[s.track.last_view(len(later_sd))]) for s in told]
    stand = standings(
        [Grown(s.track, s.up, s.drops, str(row["grade"])) for s, row in zip(told, plants, strict=True)], tray, scale_sd
    )
    plants = [_unless_gone(row | stand.plants[str(row["plant"])]) for row in plants]
    plants += [_empty_row(p.name, p.sowing, p.habit or "") for p in tray.plants if p.name not in named]
    sowings = [row | stand.sowings[str(row["sowing"])] for row in sowings_table(pairs, tray, now)]
    return Judgement(
        plants=pd.DataFrame(plants, columns=PLANT_COLUMNS).astype({"leggy": bool, "trims": int, "usable": "boolean"}),
        sowings=pd.DataFrame(
            sowings, columns=[*SOWING_COLUMNS, *SOWING_STANDING, *SOWING_CALENDAR, *LATER_FIGURES]
        ).astype({"usable": "Int64"}),
        events=events_table(events),
        told=told,
    )


def last_frame_clock(measurements: pd.DataFrame) -> datetime | None:
    """The wall clock of the last usable frame, clock shifts corrected; None for an empty table."""
    if measurements.empty:
        return None
    first, last = measurements.iloc[0], measurements.iloc[-1]
    start = datetime.fromisoformat(str(first["time"])).replace(tzinfo=None)
    return start + timedelta(hours=float(last["elapsed_h"]) - float(first["elapsed_h"]))


def _plant_row(s: Story, limits: Judge, middle_stem_mm: dict[str, float], scale_sd: float) -> dict[str, object]:
    t, first = s.track, last_break(s.drops)
    growth = growth_per_day(t, limits, first=first)
    # A turned plant shows another side: its height goes on, its canopy begins anew.
    same_side = max(first, last_turn(s.turns))
    covers = recent_rows(t, t.canopy, limits, first=same_side)
    heights = t.height[np.isfinite(t.height) & (t.height > 0)] if t.in_mm else np.empty(0)
    current = s.spells[-1] if s.spells and s.spells[-1].until is None else None
    up = s.up
    row = _empty_row(t.plant, t.settings.sowing if t.settings else None, t.habit or "")
    told = verdict(
        s.steady or t, s.spells, s.longer, limits, kind=s.kind, per_day_mm=growth.per_day if growth else np.nan,
        middle_stem_mm=middle_stem_mm.get(t.plant, np.nan),
    )  # fmt: skip
    row.update(
        grade=told.grade,
        grade_why=told.why if s.up else "",
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
        growth_sd_mm_per_day=of_plant(Figure(growth.per_day, growth.sd), scale_sd).sd if growth else np.nan,
        rgr_per_day=relative_growth_rate(t, limits, first=same_side),
        regrowth_mm_per_day=_regrowth(s, limits),
        growth_since=t.time[growth.since] if growth else t.time[covers[0]] if len(covers) else "",
        first_seen_mm=float(t.height[up.by_row]) if t.in_mm else np.nan,
    )
    return row


def _regrowth(s: Story, limits: Judge) -> float:
    """Growth in mm a day in the first `growth_days` after the last cut; NaN without one."""
    cuts = [d.row for d in s.drops if d.event == "trimmed"]
    if not cuts:
        return float("nan")
    hours = s.track.elapsed_h
    until = int(np.searchsorted(hours, hours[cuts[-1]] + 24 * limits.growth_days + limits.same_hour_h, side="right"))
    rate = growth_per_day(s.track, limits, first=cuts[-1], until=until)
    return rate.per_day if rate else float("nan")


def _unless_gone(row: dict[str, object]) -> dict[str, object]:
    """The row without a verdict and a growth of today, where the plant is gone."""
    if row["unusable_because"] != "gone":
        return row
    nothing: dict[str, object] = dict.fromkeys(("growth_mm_per_day", "growth_sd_mm_per_day", "rgr_per_day"), np.nan)
    return {**row, **nothing, "grade": "", "grade_why": "", "growth_since": "", "leggy": False, "leggy_since": ""}


def _empty_row(plant: str, sowing: str | None, habit: str) -> dict[str, object]:
    return {
        "plant": plant, "sowing": sowing or "", "habit": habit, "emerged_after": "", "emerged_by": "", "grade": "",
        "leggy": False, "leggy_since": "", "trims": 0, "final_height_mm": np.nan, "growth_mm_per_day": np.nan,
        "rgr_per_day": np.nan, "growth_since": "", "grade_why": "", "regrowth_mm_per_day": np.nan,
        "growth_sd_mm_per_day": np.nan,
        "first_seen_mm": np.nan, "standing": "", "unusable_because": "",
    }  # fmt: skip
