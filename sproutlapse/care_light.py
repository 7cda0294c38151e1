"""Care of lamps: too near, soon too near, and not yet at the distance that suits their kind."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

import numpy as np

from sproutlapse.care_lamp_height import LAMP_CAUTION, contradiction, measure_again
from sproutlapse.care_marks import open_since
from sproutlapse.care_scene import (
    Scene,
    last_height,
    last_seen,
    since_text,
)
from sproutlapse.figures import amount
from sproutlapse.growth.curves import growth_per_day, last_break
from sproutlapse.growth.lamps import Gap
from sproutlapse.growth.lamps_ahead import first_to_reach, gap_in
from sproutlapse.growth.tracks import Track
from sproutlapse.growth.trend import in_words
from sproutlapse.results import CareItem

SOON_DAYS = 4
AHEAD_DAYS = 2  # for which the gap is told in numbers
# A lamp is raised so far that it need not be touched again for so long. Own proposal.
ROOM_DAYS = 4
LEAST_GROWTH_MM = 0.5  # a day; less is said as none
MOST_NAMED = 8


def _gap_in_words(gap: Gap) -> str:
    if gap.at_most:
        return f"The gap is at most {gap.gap_mm:.0f} mm"
    return f"The gap is {amount(gap.gap_mm, 'mm', float(gap.track.height_sd[gap.row]))}"


def lamp_too_near(scene: Scene) -> list[CareItem]:
    """An item for each lamp whose gap is not kept, until three photos in a row show that it is."""
    items = []
    for gap in scene.gaps():
        since = _too_near_since(gap, scene)
        if gap.keep_clear_mm is None:
            continue
        if since is not None and gap.gap_mm <= 0:
            items.append(contradiction(scene, gap, since))
        elif (moved := _moved(scene, gap, since)) is not None:
            items.append(measure_again(scene, gap, moved))
        elif since is not None:
            items.append(_raise(scene, gap, gap.keep_clear_mm, since))
    return items


def _moved(scene: Scene, gap: Gap, since: datetime | None) -> datetime | None:
    """When a lamp was said to be moved, so that its gap is not known; None where it is, or is known to be too small."""
    name = gap.lamp.name
    if since is not None and not scene.to_do("lamp", name, since):
        return scene.marks[f"lamp:{name}"]
    moved = scene.moved(gap.lamp)
    # One that was lowered since hangs no higher than where it was too near.
    lowered = moved is not None and moved > scene.marks.get(f"lamp:{name}", datetime.min)
    return None if since is not None and lowered else moved


def _raise(scene: Scene, gap: Gap, keep_mm: float, since: datetime) -> CareItem:
    up_to, room = _raised_to(gap, scene)
    about = "at least" if gap.at_most else "about"
    return CareItem(
        key=f"lamp:{gap.lamp.name}",
        urgency="now" if gap.gap_mm < keep_mm / 2 else "today",
        plants=(gap.track.plant,),
        title=f"Too near the lamp “{gap.lamp.name}”: {gap.track.plant}",
        reason=f"The tallest plant under the lamp decides; {keep_mm:.0f} mm are to be kept clear."
        f"{_under_it(gap, scene)}",
        number=_gap_in_words(gap),
        remedy=f"{_one_tall(scene, gap, keep_mm)} the lamp's lower edge to {about} {up_to} mm above the soil{room}.",
        caution=LAMP_CAUTION,
        since=since_text([since]),
        causes=(f"lamp:{gap.lamp.name}",),
    )


def _one_tall(scene: Scene, gap: Gap, keep_mm: float) -> str:
    """What comes before the lamp is raised for all, where only one plant is too tall for it."""
    others = [s.track for s in scene.stories if s.track.plant != gap.track.plant and shares_lamp(s.track, gap, scene)]
    if not others or gap.at_most or any(_gap_of(track, gap) < keep_mm for track in others):
        return "Raise"
    block = math.floor((last_height(gap.track) - max(last_height(track) for track in others)) / 5) * 5
    stand = f" stand the others on a block of {block} mm, so that they keep their light, and" if block >= 5 else ""
    return (
        f"Only {gap.track.plant} is too near: move it to the edge or under another lamp before you raise the lamp for"
        f" all. If it has to stay,{stand} raise"
    )


def _too_near_since(gap: Gap, scene: Scene) -> datetime | None:
    """Since when the gap under a lamp has not been kept, as the lamp hangs now; None if it is kept."""
    if gap.keep_clear_mm is None or gap.lamp.above_soil_mm is None:
        return None
    under = [s.track for s in scene.stories if shares_lamp(s.track, gap, scene)]
    hung = gap.lamp.since.replace(tzinfo=None) if gap.lamp.since else None
    track = gap.track
    tops = np.full(len(track.time), np.nan)
    for one in under:
        if len(one.time) == len(tops):
            tops = np.fmax(tops, np.where(one.height > 0, one.height, np.nan))
    known = np.isfinite(tops)
    if hung is not None:
        known &= np.array([track.clock(row) >= hung for row in range(len(track.time))])
    row = open_since(gap.lamp.above_soil_mm - tops < gap.keep_clear_mm, known, track.elapsed_h)
    if row is not None:
        return track.clock(row)
    return track.clock(gap.row) if gap.gap_mm < gap.keep_clear_mm else None


def _raised_to(gap: Gap, scene: Scene) -> tuple[int, str]:
    """Height in mm above the soil to raise a lamp to, with room for some days of growth where the growth is known, and
    the words for that room."""
    fastest, needed = 0.0, 0.0
    for s in scene.stories:
        if not shares_lamp(s.track, gap, scene):
            continue
        rate = growth_per_day(s.track, scene.tray.judge, first=last_break(s.drops))
        per_day = max(rate.per_day, 0.0) if rate is not None else 0.0
        if last_height(s.track) + ROOM_DAYS * per_day > needed:
            fastest, needed = per_day, last_height(s.track) + ROOM_DAYS * per_day
    up_to = math.ceil((needed + (gap.keep_clear_mm or 0)) / 5) * 5
    if fastest < LEAST_GROWTH_MM:
        return up_to, ""
    return up_to, f", which leaves room for {ROOM_DAYS} days at {fastest:.0f} mm a day"


def _under_it(gap: Gap, scene: Scene) -> str:
    """Who stands under the lamp, with the heights last measured."""
    under = [s.track for s in scene.stories if shares_lamp(s.track, gap, scene)]
    if len(under) < 2:
        return ""
    under = sorted(under, key=last_height, reverse=True)
    told = [f"{track.plant} ({last_height(track):.0f} mm)" for track in under[:MOST_NAMED]]
    more = f" and {len(under) - MOST_NAMED} more" if len(under) > MOST_NAMED else ""
    return f" Under it stand {', '.join(told)}{more}."


def shares_lamp(track: Track, gap: Gap, scene: Scene) -> bool:
    """Whether a plant that something was measured of stands under a gap's lamp now."""
    lamp = scene.lamp_now(track)
    return lamp is not None and lamp.name == gap.lamp.name and last_seen(track) is not None


def _gap_of(track: Track, gap: Gap) -> float:
    return float((gap.lamp.above_soil_mm or math.inf) - last_height(track))


def _gap_soon(under: list[tuple[Track, int]], above_soil_mm: float, scene: Scene) -> str:
    soon = gap_in(under, above_soil_mm, AHEAD_DAYS, scene.tray.judge)
    if soon is None:
        return ""
    least = max(soon.least_mm, 0.0)
    return (
        f"; in {AHEAD_DAYS} days likely {max(soon.likely_mm, 0.0):.0f} mm, between {least:.0f} and {soon.most_mm:.0f}"
    )


def lamp_soon(scene: Scene) -> list[CareItem]:
    items = []
    for gap in scene.known_gaps():
        if gap.keep_clear_mm is None or gap.lamp.above_soil_mm is None or gap.gap_mm < gap.keep_clear_mm:
            continue
        under = [(s.track, last_break(s.drops)) for s in scene.stories if shares_lamp(s.track, gap, scene)]
        ahead = first_to_reach(under, gap.lamp.above_soil_mm - gap.keep_clear_mm, scene.tray.judge)
        if ahead is None or scene.now is None or ahead.when.likely - scene.now > timedelta(days=SOON_DAYS):
            continue
        hung = gap.lamp.since.replace(tzinfo=None) if gap.lamp.since else ahead.track.clock(0)
        if _too_near_since(gap, scene) is not None or not scene.to_do("lamp soon", gap.lamp.name, hung):
            continue
        first = ahead.track.plant
        now = "" if first == gap.track.plant else f" {gap.track.plant} is the tallest now, but {first} grows faster."
        items.append(
            CareItem(
                key=f"lamp soon:{gap.lamp.name}",
                urgency="this week",
                plants=(first,),
                title=f"Soon too near the lamp “{gap.lamp.name}”: {first}",
                reason=f"It reaches the {gap.keep_clear_mm:.0f} mm to be kept clear {in_words(ahead.when)}.{now}",
                number=_gap_in_words(gap) + _gap_soon(under, gap.lamp.above_soil_mm, scene),
                remedy="Have room to raise the lamp, or another place for this plant.",
                caution=LAMP_CAUTION,
                since=since_text([hung]),
                causes=(f"lamp soon:{gap.lamp.name}",),
            )
        )
    return items
