"""Sowings of which some are up and no more come: the chance of more, and the event when that became unlikely."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sproutlapse.crops_window import waits_for_cold, window
from sproutlapse.growth.emergence import Emergence
from sproutlapse.growth.events import Event
from sproutlapse.growth.more_to_come import UNLIKELY, chance_of_more, chance_words
from sproutlapse.growth.sown_units import Pair, sown_h, units_sown, units_up
from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.tray import Judge, Sowing, Tray

# A sowing is looked at once a day; before a whole day without a new sprout nothing is said. Own proposals.
QUIET_DAYS = 1.0
# From this chance down it is told how likely more are. Own proposal.
TOLD_FROM = 0.5


@dataclass(frozen=True)
class More:
    """How likely it is that more come up: `up` of `of` are up, the last `quiet_days` ago."""

    chance: float
    up: int
    of: int
    quiet_days: float

    @property
    def unlikely(self) -> bool:
        """Whether more are unlikely."""
        return self.chance <= UNLIKELY


@dataclass(frozen=True)
class _Place:
    """One pot or cell over time: days after sowing of its rows, its units, rows that show it, units sown in it."""

    track: Track
    days: Floats
    units: list[Emergence]
    seen: Floats
    sown: int


def _places(pairs: list[Pair], sowing: Sowing, judge: Judge) -> list[_Place]:
    """The places of a sowing; none where nothing can be said: no date, a date after the first sprout, a cold spell, or
    seedlings that stood in the first photo already, so that nobody knows how long ago the last came up."""
    found = []
    for track, first in pairs:
        sown = sown_h(track, sowing)
        if sown is None or waits_for_cold(sowing):
            return []
        days = (track.elapsed_h - sown) / 24
        units = units_up(track, first, sowing, judge)
        if any(days[u.by_row] <= 0 or (u.after_row is None and u.by_row == 0) for u in units):
            return []
        seen = np.isfinite(track.canopy).astype(np.float64)
        found.append(_Place(track, days, units, seen, units_sown([(track, first)], sowing)))
    return found


def _at(places: list[_Place], row: int, sowing: Sowing, judge: Judge) -> More | None:
    """What could be said at a row, from the photos up to it; None before the first is up, and once all are."""
    after: list[float] = []
    by: list[float] = []
    for place in places:
        r = min(row, len(place.days) - 1)
        known = [u for u in place.units if u.known_row <= r]
        after += [0.0 if u.after_row is None else max(float(place.days[u.after_row]), 0.0) for u in known]
        by += [float(place.days[u.by_row]) for u in known]
        missing = max(place.sown - len(known), 0)
        # What shows in the last photos may be up and could not be said yet.
        rows = np.flatnonzero(place.seen[: r + 1])
        last = float(place.days[rows[-judge.emerged_frames]]) if len(rows) >= judge.emerged_frames else 0.0
        after += [max(last, 0.0)] * missing
        by += [np.inf] * missing
    a, b = np.asarray(after), np.asarray(by)
    up = np.isfinite(b)
    if not up.any() or up.all():
        return None
    day = max(float(place.days[min(row, len(place.days) - 1)]) for place in places)
    usual = window(sowing)
    chance = chance_of_more(a, b, usual=None if usual is None else (usual.fewest, usual.most))
    return More(chance, int(up.sum()), len(b), day - float(b[up].max()))


def more_now(pairs: list[Pair], sowing: Sowing, judge: Judge) -> More | None:
    """How likely more of a sowing are by its last photo; None where that is not asked or cannot be told."""
    places = _places(pairs, sowing, judge)
    if not places:
        return None
    return _at(places, max(len(place.days) for place in places) - 1, sowing, judge)


def in_words(more: More, unit: str) -> str:
    """`3 of 12 seeds up, the last 9 days ago: more is unlikely (about 4 in 100)`."""
    ago = f"{more.quiet_days:.0f} day{'' if round(more.quiet_days) == 1 else 's'} ago"
    head = f"{more.up} of {more.of} {unit}{'' if more.of == 1 else 's'} up, the last {ago}"
    if more.unlikely:
        return f"{head}: more is unlikely ({chance_words(more.chance)})"
    return f"{head}: that more come is {chance_words(more.chance)}"


def stalled_events(pairs: list[Pair], tray: Tray) -> list[Event]:
    """`few more` of each sowing from the first photo of a day in which more were unlikely; once for each number up."""
    events: list[Event] = []
    for sowing in tray.sowings:
        own = [(t, u) for t, u in pairs if t.settings is not None and t.settings.sowing == sowing.name]
        places = _places(own, sowing, tray.judge)
        if not places or not any(place.units for place in places):
            continue
        unit = "seed" if sowing.seeds_per_cell is not None else "pot"
        track, days = places[0].track, places[0].days
        told: set[int] = set()
        for row in np.flatnonzero(np.diff(np.floor(days), prepend=-np.inf) > 0):
            more = _at(places, int(row), sowing, tray.judge)
            if more is None or more.up in told or more.quiet_days < QUIET_DAYS or not more.unlikely:
                continue
            told.add(more.up)
            detail = f"{sowing.name}: {in_words(more, unit)}"
            events.append(Event(track, int(row), int(row), "few more", detail, of_sowing=True))
    return events
