"""What came of each sowing: how many came up, how fast and how evenly, and what that means in plain words.

The unit is the seed where the tray says how many were sown in a cell, else the pot.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime

import numpy as np

from sproutlapse.crops_window import expected, overdue_after, sow_again_by, window
from sproutlapse.growth.covers import covered_now, told_enough
from sproutlapse.growth.emergence import midpoint_days
from sproutlapse.growth.events import Event
from sproutlapse.growth.sowing_times import FIGURES, sowing_figures
from sproutlapse.growth.sown_units import Pair, crowded, sown_h, units_sown, units_up
from sproutlapse.growth.stalled import QUIET_DAYS, TOLD_FROM, More, in_words, more_now
from sproutlapse.tray import Judge, Sowing, Tray

SOWING_COLUMNS = [
    "sowing", "crop", "plants", "seeds", "emerged", "emerged_share", "first_days", "median_days", "spread_days",
    "median_height_mm", "verdict", *FIGURES,
]  # fmt: skip

# Last in sowings.csv: when to expect sprouts, how likely more are, until when to sow again.
SOWING_CALENDAR = ["expect_from_days", "expect_to_days", "more_chance", "sow_again_by"]

MOST_NAMED = 6
UNDER_COVER = "not known yet what is up: a cover hides it"


@dataclass(frozen=True)
class Count:
    """How many units of a sowing came up, of how many, and on which days after sowing (NaN where not known)."""

    up: int
    of: int
    days: tuple[float, ...]


def counted(pairs: list[Pair], sowing: Sowing, judge: Judge) -> Count:
    """How many units of a sowing came up and when."""
    up, days = 0, []
    for track, first in pairs:
        sown = sown_h(track, sowing)
        units = units_up(track, first, sowing, judge)
        up += len(units)
        days += [math.nan if sown is None else midpoint_days(track, u, sown) for u in units]
    return Count(up, units_sown(pairs, sowing), tuple(days))


def sowings_table(pairs: list[Pair], tray: Tray, now: datetime | None) -> list[dict[str, object]]:
    """A row for each sowing of the tray, in its order."""
    return [_row(sowing, _own(pairs, sowing), tray, now) for sowing in tray.sowings]


def _own(pairs: list[Pair], sowing: Sowing) -> list[Pair]:
    return [(t, u) for t, u in pairs if t.settings is not None and t.settings.sowing == sowing.name]


def _row(sowing: Sowing, pairs: list[Pair], tray: Tray, now: datetime | None) -> dict[str, object]:
    count, more = counted(pairs, sowing, tray.judge), more_now(pairs, sowing, tray.judge)
    photos = max((len(track.time) for track, _ in pairs), default=0)
    days = np.asarray(count.days, dtype=np.float64)
    # A date of sowing after the first sprout is a slip of the pen: no days are read from it.
    usable = len(days) > 0 and bool(np.isfinite(days).all() and (days > 0).all())
    return {
        "sowing": sowing.name,
        "crop": sowing.crop or "",
        "plants": sum(p.sowing == sowing.name for p in tray.plants),
        "seeds": count.of if sowing.seeds_per_cell is not None else np.nan,
        "emerged": count.up,
        "emerged_share": count.up / count.of if count.of else np.nan,
        "first_days": float(days.min()) if usable else np.nan,
        "median_days": float(np.median(days)) if usable else np.nan,
        "spread_days": float(days.max() - days.min()) if usable else np.nan,
        "median_height_mm": _median_height(pairs),
        "verdict": UNDER_COVER
        if not count.up and covered_now([track for track, _ in pairs])
        else _with_more(verdict(sowing, count, tray, now, photos), more, sowing) + _too_many(pairs, sowing, tray.judge),
        **sowing_figures(pairs, sowing, tray.judge),
        **_calendar(sowing, more, tray.season.plant_out),
    }


def _calendar(sowing: Sowing, more: More | None, plant_out: date | None) -> dict[str, object]:
    days, again = window(sowing), sow_again_by(sowing, plant_out)
    figures = (math.nan, math.nan) if days is None else (days.fewest, days.most)
    chance = math.nan if more is None else more.chance
    return dict(zip(SOWING_CALENDAR, (*figures, chance, "" if again is None else again.isoformat()), strict=True))


def _with_more(said: str, more: More | None, sowing: Sowing) -> str:
    """The verdict of a sowing that is partly up with how likely more are, once that is worth telling."""
    if more is None or more.quiet_days < QUIET_DAYS or more.chance > TOLD_FROM:
        return said
    unit = "seed" if sowing.seeds_per_cell is not None else "pot"
    if said.startswith("coming up"):
        return in_words(more, unit) if more.unlikely else f"coming up: {in_words(more, unit)}"
    return f"{said}; more is unlikely" if "overdue" in said and more.unlikely else said


def _too_many(pairs: list[Pair], sowing: Sowing, judge: Judge) -> str:
    """What is to be looked at where more seedlings stand than seeds were sown; the seeds are counted as all up."""
    names = crowded(pairs, sowing, judge)
    if not names:
        return ""
    named = ", ".join(names[:MOST_NAMED]) + (f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else "")
    return f"; more seedlings than seeds in {named}: check seeds_per_cell and seedlings_per_seed, or look for weeds"


def _median_height(pairs: list[Pair]) -> float:
    last = []
    for track, up in pairs:
        seen = track.height[np.isfinite(track.height) & (track.height > 0)] if track.in_mm else np.empty(0)
        if up is not None and len(seen):
            last.append(float(seen[-1]))
    return float(np.median(last)) if last else math.nan


def sowing_events(pairs: list[Pair], tray: Tray) -> list[Event]:
    """`first up`, `half up` (of those sown) and `done` of each sowing, as soon as they could be said.

    Nothing is said of what stood in the first usable photo already: when it came up is not known. What was up when a
    cover came off, or its pot came back, is up by that photo.
    """
    events: list[Event] = []
    for sowing in tray.sowings:
        own = _own(pairs, sowing)
        of = units_sown(own, sowing)
        if of == 0:  # no plant names it
            continue
        units = [(unit, track) for track, up in own for unit in units_up(track, up, sowing, tray.judge)]
        units.sort(key=lambda pair: (pair[0].known_row, pair[0].by_row, pair[1].order))
        unit_word = "seed" if sowing.seeds_per_cell is not None else "pot"
        words = "" if sowing.under_light else "; under the light now"
        for event, count, more in (("first up", 1, words), ("half up", -(-of // 2), ""), ("done", of, "")):
            if len(units) < count or (event == "half up" and count == 1) or (event == "done" and of == 1):
                continue
            unit, track = units[count - 1]
            if unit.after_row is None and unit.by_row == 0:
                continue
            # Several may have come up in one photo.
            up = sum(u.by_row <= unit.by_row and u.known_row <= unit.known_row for u, _ in units)
            detail = f"{sowing.name}: {up} of {of} {unit_word}{'' if of == 1 else 's'} up{more}"
            events.append(Event(track, unit.by_row, unit.known_row, event, detail, of_sowing=True))
    return events


def verdict(sowing: Sowing, count: Count, tray: Tray, now: datetime | None, photos: int) -> str:
    """What a sowing's count means now, in plain words; careful where no date, no table or too few `photos` help."""
    unit = ("seed" if sowing.seeds_per_cell is not None else "pot") + ("" if count.of == 1 else "s")
    so_far = f"{count.up} of {count.of} {unit} up"
    days = _days_since(sowing, now)
    limit = overdue_after(sowing, times=tray.judge.overdue_times)
    if count.of == 0:
        said = "no plant of this sowing in view"
    elif photos < tray.judge.emerged_frames:
        said = f"not known yet what is up: it takes {tray.judge.emerged_frames} photos to tell, {photos} so far"
    elif any(d <= 0 for d in count.days) or (days is not None and days < 0):
        said = f"{so_far}; the date given as sown lies too late for these photos: check it"
    elif count.up == count.of:
        said = f"all up: {so_far}"
    elif days is not None and limit is not None and days >= limit:
        said = _overdue(sowing, count, days, tray, now)
    elif count.up:
        said = f"coming up: {so_far}"
    else:
        said = "nothing up yet" + (f", {expected(sowing, times=tray.judge.overdue_times)}" if limit is not None else "")
    return said


def _overdue(sowing: Sowing, count: Count, days: float, tray: Tray, now: datetime | None) -> str:
    usual, plant_out = expected(sowing, times=tray.judge.overdue_times), tray.season.plant_out
    if count.up:
        unit = ("seed" if sowing.seeds_per_cell is not None else "pot") + ("" if count.of == 1 else "s")
        rest = count.of - count.up
        others = "the other is overdue" if rest == 1 else f"the other {rest} are overdue"
        return f"{count.up} of {count.of} {unit} up {days:.0f} days after sowing; {others}: {usual}"
    late = f"overdue: nothing up {days:.0f} days after sowing, {usual}"
    again = sow_again_by(sowing, plant_out)
    if plant_out is None or again is None or now is None:
        return late
    if again < now.date():
        return f"{late}; too late to sow again for planting out on {plant_out.isoformat()}"
    return f"{late}; sow again by {again.isoformat()} to plant out on {plant_out.isoformat()}"


def _days_since(sowing: Sowing, now: datetime | None) -> float | None:
    if sowing.sown is None or now is None:
        return None
    return (now.replace(tzinfo=None) - sowing.sown.replace(tzinfo=None)).total_seconds() / 86400


def overdue_events(pairs: list[Pair], tray: Tray) -> list[Event]:
    """`overdue` for each pot with nothing up at twice the table's days, from what could be said at that frame."""
    events: list[Event] = []
    for sowing in tray.sowings:
        limit = overdue_after(sowing, times=tray.judge.overdue_times)
        for track, up in _own(pairs, sowing):
            sown = sown_h(track, sowing)
            if limit is None or sown is None:
                continue
            # Before so many frames not even a plant that stood in the first could be said to be up.
            n = tray.judge.emerged_frames
            row = told_enough(track, max(int(np.searchsorted(track.elapsed_h, sown + 24 * limit)), n - 1), n)
            if row is None or (up is not None and up.known_row <= row):
                continue
            days = (track.elapsed_h[row] - sown) / 24
            usual = expected(sowing, times=tray.judge.overdue_times)
            events.append(Event(track, row, row, "overdue", f"nothing up {days:.0f} days after sowing, {usual}"))
    return events
