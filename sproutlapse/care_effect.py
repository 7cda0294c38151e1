"""What came of what was done: growth before and after, held against plants that were left as they were.

An effect is claimed only where at least two treated and two untreated plants of the same sowings differ by more than
chance would make; everything else is told as "since then".
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import hypot, isnan, sqrt
from statistics import fmean, variance

import numpy as np
from scipy.special import stdtrit

from sproutlapse.care_scene import Scene, listed
from sproutlapse.figures import rounded
from sproutlapse.growth.curves import Rate, growth_per_day, last_break
from sproutlapse.growth.judge import Story
from sproutlapse.growth.tracks import wall_clock
from sproutlapse.results import DiaryEntry

# Kinds of items whose remedy is meant to slow a plant down.
OF_PLANTS, OF_LAMPS = ("leggy", "stretching", "room"), ("lamp", "lamp far")
LEAST_EACH = 2
LEAST_DAYS = 2.0
MOST_TOLD, FOR_DAYS = 3, 14  # acts told, the latest first, and for how long each
MOST_NAMED = 5
CHANCE = 0.05
WITHIN_H = 12.0  # what was said to be done, and the lamp's `since` in tray.toml, are one act if so near


@dataclass(frozen=True)
class Act:
    """Something that was done at a time, in words that follow "Since", and for which plants."""

    when: datetime
    words: str
    plants: frozenset[str]


@dataclass(frozen=True)
class Change:
    """A plant's growth in mm a day before and after, and the standard deviation of the difference."""

    plant: str
    before: float
    after: float
    sd: float


def effects(scene: Scene, diary: Sequence[DiaryEntry]) -> tuple[str, ...]:
    """A sentence for each of the last acts before and after which growth was measured, latest first."""
    acts = _acts(scene, diary)
    said = []
    fresh = [act for act in acts if scene.now is not None and scene.now - act.when <= timedelta(days=FOR_DAYS)]
    for act in sorted(fresh, key=lambda one: one.when, reverse=True):
        told = _told(scene, act, [other for other in acts if other is not act])
        if told:
            said.append(told)
    return tuple(said[:MOST_TOLD])


def _acts(scene: Scene, diary: Sequence[DiaryEntry]) -> list[Act]:
    found: list[Act] = []
    for lamp in scene.tray.lamps:
        others = [one for one in scene.tray.lamps if one.name == lamp.name and one is not lamp]
        if lamp.since is None or not others:
            continue
        under = frozenset(p.name for p in scene.tray.plants if p.lamp == lamp.name)
        found.append(Act(lamp.since.replace(tzinfo=None), f"the lamp “{lamp.name}” was changed", under))
    by_item: dict[tuple[str, str], set[str]] = {}
    for entry in diary:
        kind, _, about = entry.about.partition(":")
        if entry.kind == "done" and kind in OF_PLANTS:
            by_item.setdefault((entry.time, entry.text), set()).add(about)
        elif entry.kind == "done" and kind in OF_LAMPS:
            by_item.setdefault((entry.time, entry.text), set()).update(
                p.name for p in scene.tray.plants if p.lamp == about
            )
    for (time, text), plants in by_item.items():
        when = wall_clock(time)
        if not any(abs((when - act.when).total_seconds()) <= WITHIN_H * 3600 and plants <= act.plants for act in found):
            words = text.replace("“", "").replace("”", "")
            found.append(Act(when, f"“{words}” was done", frozenset(plants)))
    return found


def _told(scene: Scene, act: Act, others: Sequence[Act]) -> str:
    sowings = {s.track.settings.sowing for s in scene.stories if s.track.settings and s.track.plant in act.plants}
    treated = list(_changes(scene, act, (s for s in scene.here() if s.track.plant in act.plants)))
    if not treated:
        return ""
    touched = act.plants.union(*(other.plants for other in others))
    beside = [
        s
        for s in scene.here()
        if s.track.plant not in touched and s.track.settings and s.track.settings.sowing in sowings
    ]
    left = list(_changes(scene, act, beside))
    day = f"{act.when.day} {act.when:%B}"
    went = f"growth of {_who(treated)} went from {_from_to(treated)} mm a day"
    if len(treated) < LEAST_EACH or len(left) < LEAST_EACH:
        few = "too few plants" if len(treated) < LEAST_EACH else "too few were left as they were"
        return f"Since then ({act.words}, {day}) {went}; {few} to tell what did it."
    held = f"that of {_who(left)}, left as they were, from {_from_to(left)}"
    if _more_than_chance(treated, left):
        return f"Since {act.words} on {day}, {went}, {held}: more than chance would make."
    return f"Since then ({act.words}, {day}) {went}, {held}: chance may make such a difference."


def _changes(scene: Scene, act: Act, found: Iterable[Story]) -> Iterable[Change]:
    """Growth of each plant before and after, where neither a cut nor a fall lies between."""
    judge = scene.tray.judge
    for s in found:
        track = s.track
        start = track.clock(0)
        at = int(np.searchsorted(track.elapsed_h - track.elapsed_h[0], (act.when - start).total_seconds() / 3600))
        first = last_break(s.drops)
        if not 0 < at < len(track.time) or first > at:
            continue
        before = growth_per_day(track, judge, first=first, until=at)
        after = growth_per_day(track, judge, first=at)
        if before is None or after is None:
            continue
        hours = track.elapsed_h
        long = min(hours[at] - hours[before.since], hours[-1] - hours[after.since]) / 24
        if long >= LEAST_DAYS:
            yield Change(track.plant, before.per_day, after.per_day, hypot(_sd(before), _sd(after)))


def _sd(rate: Rate) -> float:
    return 0.0 if isnan(rate.sd) else rate.sd


def _who(changes: Sequence[Change]) -> str:
    names = tuple(change.plant for change in changes)
    return listed(names) if len(names) <= MOST_NAMED else f"{len(names)} plants"


def _from_to(changes: Sequence[Change]) -> str:
    before, after = fmean(c.before for c in changes), fmean(c.after for c in changes)
    return f"{rounded(before, 1)} to {rounded(after, 1)}"


def _more_than_chance(treated: Sequence[Change], left: Sequence[Change]) -> bool:
    """Whether the changes differ at 5 %, two-sided, by Welch's test, no surer than the measuring is."""
    parts, free, middle = [], [], []
    for group in (treated, left):
        values = [c.after - c.before for c in group]
        measured = fmean(c.sd**2 for c in group)
        parts.append(max(variance(values), measured) / len(values))
        free.append(len(values) - 1)
        middle.append(fmean(values))
    spread = sum(parts)
    if spread <= 0:
        return middle[0] != middle[1]
    df = spread**2 / sum(part**2 / f for part, f in zip(parts, free, strict=True))
    return abs(middle[0] - middle[1]) / sqrt(spread) > float(stdtrit(df, 1 - CHANCE / 2))
