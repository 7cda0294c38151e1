"""Care of blades: cut back where the grower asked for it, or where they fall over, tangle or reach the lamp."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from sproutlapse.care_light import SOON_DAYS
from sproutlapse.care_marks import open_since
from sproutlapse.care_scene import Scene, height_in_words, listed, names_of, since_text, tallest_of
from sproutlapse.crops import is_allium
from sproutlapse.growth.curves import last_break
from sproutlapse.growth.judge import Story
from sproutlapse.growth.trend import Forecast, forecast, in_words
from sproutlapse.results import CareItem

SCISSORS_CAUTION = "Use clean, sharp scissors. Cut leaves only, well above the point where new ones come from."
# Of a pair of 25 onions each, cut back or not, all were alike by week 8 and at harvest (a gardener's trial).
NOT_NEEDED = "Cutting is for order only: in a gardener's trial cut and uncut onions were alike at harvest."


@dataclass(frozen=True)
class Cut:
    """A plant to be cut back: to what height in mm, why, and since when."""

    story: Story
    to_mm: float
    why: str
    since: datetime
    pressing: bool = False


def trim_heights(scene: Scene, s: Story) -> tuple[float, float] | None:
    """Height at which to cut and height to cut to, or None where nobody asked for cutting this kind."""
    plant, limits = s.track.settings, scene.tray.judge
    if plant is None or s.track.habit != "grasslike" or not s.track.in_mm:
        return None
    sowing = scene.sowing(s.track)
    allium = is_allium(sowing.crop if sowing else None)
    if plant.trim_at_mm is None and not allium:
        return None
    at = plant.trim_at_mm or limits.allium_trim_at_mm
    to = plant.trim_to_mm or (limits.allium_trim_to_mm if allium else at / 2)
    return at, min(to, 0.7 * at) if plant.trim_to_mm is None else to


def trim_due(scene: Scene) -> list[CareItem]:
    """An item for the plants that are to be cut to one height for one reason."""
    due: dict[tuple[float, str], list[Cut]] = {}
    for cut in _cuts(scene):
        if scene.to_do("trim", cut.story.track.plant, cut.since):
            due.setdefault((cut.to_mm, cut.why), []).append(cut)
    items = []
    for (to, why), cuts in due.items():
        names = names_of([cut.story for cut in cuts])
        tallest = tallest_of([cut.story for cut in cuts])
        items.append(
            CareItem(
                key=f"trim:{','.join(names)}",
                urgency="today" if any(cut.pressing for cut in cuts) else "this week",
                plants=names,
                title=f"Cut back: {listed(names)}",
                reason=why,
                number=f"{tallest.plant} is {height_in_words(tallest)}",
                remedy=f"Cut the leaves back to about {to:.0f} mm.",
                caution=SCISSORS_CAUTION,
                since=since_text([cut.since for cut in cuts]),
                causes=tuple(f"trim:{name}" for name in names),
            )
        )
    return items


def _cuts(scene: Scene) -> Iterator[Cut]:
    at_lamp = {
        g.lamp.name: g.lamp.above_soil_mm - g.keep_clear_mm
        for g in scene.known_gaps()
        if g.keep_clear_mm is not None and g.lamp.above_soil_mm is not None and 0 < g.gap_mm < g.keep_clear_mm
    }
    tangled = {
        name
        for t in scene.touching
        if t.one.track.habit == t.other.track.habit == "grasslike"
        for name in (t.one.track.plant, t.other.track.plant)
    }
    for s in scene.stories:
        heights = trim_heights(scene, s)
        level = None if heights is None else _level(s)
        if heights is None or level is None:
            continue
        (at, to), (height, since) = heights, level
        asked = s.track.settings is not None and s.track.settings.trim_at_mm is not None
        flop = s.drops[-1] if s.drops and s.drops[-1].event == "flopped" else None
        lamp = scene.lamp_now(s.track)
        long = _long_since(s, at)
        if height <= to:
            continue
        if flop is not None:
            yield Cut(s, to, "They fall over.", s.track.clock(flop.row), pressing=True)
        elif asked and long is not None:
            yield Cut(s, to, f"They reached {at:.0f} mm.", long)
        elif lamp is not None and height > at_lamp.get(lamp.name, np.inf):
            yield Cut(s, to, f"They come too near the lamp “{lamp.name}”. {NOT_NEEDED}", since, pressing=True)
        elif s.track.plant in tangled and long is not None:
            yield Cut(s, to, f"They tangle with their neighbours. {NOT_NEEDED}", long)


def _level(s: Story) -> tuple[float, datetime] | None:
    """The middle of the last three heights, so that one poor photo says nothing, and when the last cut was or the plant
    came up."""
    rows = np.flatnonzero(np.isfinite(s.track.height) & (s.track.height > 0))[-3:]
    if len(rows) == 0:
        return None
    cuts = [d.row for d in s.drops if d.event == "trimmed"]
    begun = cuts[-1] if cuts else s.up.by_row if s.up else 0
    return float(np.median(s.track.height[rows])), s.track.clock(begun)


def _long_since(s: Story, at_mm: float) -> datetime | None:
    """Since when a plant is so tall, after its last cut; None while it is not.

    Leaves sink for the night: it stays so for a day, until a cut is seen.
    """
    cuts = [d.row for d in s.drops if d.event == "trimmed"]
    known = np.isfinite(s.track.height) & (s.track.height > 0)
    known[: cuts[-1] if cuts else 0] = False
    row = open_since(s.track.height >= at_mm, known, s.track.elapsed_h, clear_h=24.0)
    return None if row is None else s.track.clock(row)


def trim_soon(scene: Scene) -> list[CareItem]:
    """Notice some days ahead of a cut that was asked for, from the growth of the last days."""
    coming: dict[tuple[float, float], list[tuple[Forecast, Story]]] = {}
    for s in scene.stories:
        heights = trim_heights(scene, s)
        asked = s.track.settings is not None and s.track.settings.trim_at_mm is not None
        level = _level(s)
        if heights is None or scene.now is None or not asked or level is None or _long_since(s, heights[0]) is not None:
            continue
        when = forecast(s.track, heights[0], scene.tray.judge, first=last_break(s.drops))
        if when is None or when.likely - scene.now > timedelta(days=SOON_DAYS):
            continue
        if scene.to_do("trim soon", s.track.plant, level[1]):
            coming.setdefault(heights, []).append((when, s))
    items = []
    for (at, to), found in coming.items():
        names = names_of([s for _, s in found])
        when, first = min(found, key=lambda pair: pair[0].likely)
        items.append(
            CareItem(
                key=f"trim soon:{','.join(names)}",
                urgency="this week",
                plants=names,
                title=f"Soon to be cut back: {listed(names)}",
                reason=f"{first.track.plant} reaches {at:.0f} mm first: {in_words(when)}.",
                number=f"{first.track.plant} is {height_in_words(first.track)}",
                remedy=f"Have scissors ready; then cut the leaves back to about {to:.0f} mm.",
                caution=SCISSORS_CAUTION,
                causes=tuple(f"trim soon:{name}" for name in names),
            )
        )
    return items
