"""Care of light: cover off, lamps too near."""

from __future__ import annotations

import math
from datetime import timedelta

from sproutlapse.care_scene import (
    Scene,
    by_sowing,
    height_in_words,
    last_height,
    last_seen,
    listed,
    names_of,
)
from sproutlapse.figures import amount
from sproutlapse.growth.curves import growth_per_day, last_break
from sproutlapse.growth.judge import Story
from sproutlapse.growth.lamps import Gap
from sproutlapse.growth.lamps_ahead import first_to_reach, gap_in
from sproutlapse.growth.tracks import Track
from sproutlapse.growth.trend import in_words
from sproutlapse.results import CareItem

LAMP_CAUTION = (
    "Switch the lamp off and pull its plug before you move it, and let a hot lamp cool. Keep plugs and sockets"
    " above and away from water, with a loop in the cord for drips. See that hooks carry the lamp's weight. Do"
    " not look into bright lamps. Local rules and a qualified electrician go before anything said here."
)
# An item that no picture can close ends after this long. Own proposal.
LIGHT_ITEM_DAYS = 3
SOON_DAYS = 4
AHEAD_DAYS = 2  # for which the gap is told in numbers
# A lamp is raised so far that it need not be touched again for so long. Own proposal.
ROOM_DAYS = 4
LEAST_GROWTH_MM = 0.5  # a day; less is said as none
MOST_NAMED = 8


def under_the_light(scene: Scene) -> list[CareItem]:
    def fresh(s: Story) -> bool:
        if s.up is None or s.up.after_row is None or scene.now is None:
            return False
        sowing = scene.sowing(s.track)
        # Only of a sowing that the grower wrote down is it known that it was covered for sprouting, as sowings are.
        waiting = sowing is not None and sowing.under_light is not True
        return waiting and scene.now - s.track.clock(s.up.known_row) <= timedelta(days=LIGHT_ITEM_DAYS)

    items = []
    for name, found in by_sowing(scene, [s for s in scene.stories if fresh(s)]).items():
        waits = {s.track.plant: scene.now - s.track.clock(s.up.by_row) for s in found if s.up and scene.now}
        names = names_of(found)
        items.append(
            CareItem(
                key=f"light:{name}",
                urgency="now",
                plants=names,
                title=f"Cover off, under the light now: {name}",
                reason=f"{listed(names)} came up. Every hour in the dark from here on makes a longer stem, for good.",
                number=_up_for(waits),
                remedy="Take the cover off and put them under the lamp, 14 to 16 hours a day. If they stand there"
                f' already, write the line under_light = true into tray.toml, below [[sowing]] and name = "{name}".',
                caution="Move the pots, not the lamp. Keep lamps, plugs and cords away from the wet cover; let a"
                " hot lamp cool before you reach past it. Do not look into bright lamps.",
            )
        )
    return items


def _up_for(waits: dict[str, timedelta]) -> str:
    """How long each plant has been up, longest first, those of the same hour together."""
    by_hours: dict[int, list[str]] = {}
    for plant, wait in waits.items():
        by_hours.setdefault(round(max(wait.total_seconds() / 3600, 0)), []).append(plant)
    told = [f"{listed(tuple(by_hours[h]))} up for {h} hour{'' if h == 1 else 's'}" for h in sorted(by_hours)[::-1]]
    return "; ".join(told)


def _gap_in_words(gap: Gap) -> str:
    if gap.at_most:
        return f"The gap is at most {gap.gap_mm:.0f} mm"
    return f"The gap is {amount(gap.gap_mm, 'mm', float(gap.track.height_sd[gap.row]))}"


def lamp_too_near(scene: Scene) -> list[CareItem]:
    items = []
    for gap in scene.gaps():
        if gap.keep_clear_mm is None or gap.gap_mm >= gap.keep_clear_mm:
            continue
        if gap.gap_mm <= 0:
            items.append(_contradiction(gap))
            continue
        others = [s for s in scene.stories if s.track.plant != gap.track.plant and shares_lamp(s.track, gap, scene)]
        alone = bool(others) and all(_gap_of(s.track, gap) >= gap.keep_clear_mm for s in others) and not gap.at_most
        up_to, room = _raised_to(gap, scene)
        first = (
            f"Only {gap.track.plant} is too near: move it to the edge or under another lamp, or stand the others"
            " on a block, before you raise the lamp for all. Else raise"
            if alone
            else "Raise"
        )
        about = "at least" if gap.at_most else "about"
        items.append(
            CareItem(
                key=f"lamp:{gap.lamp.name}",
                urgency="now" if gap.gap_mm < gap.keep_clear_mm / 2 else "today",
                plants=(gap.track.plant,),
                title=f"Too near the lamp “{gap.lamp.name}”: {gap.track.plant}",
                reason=f"The tallest plant under the lamp decides; {gap.keep_clear_mm:.0f} mm are to be kept clear."
                f"{_under_it(gap, scene)}",
                number=_gap_in_words(gap),
                remedy=f"{first} the lamp's lower edge to {about} {up_to} mm above the soil{room}.",
                caution=LAMP_CAUTION,
            )
        )
    return items


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


def _contradiction(gap: Gap) -> CareItem:
    """The numbers cannot both be right: a plant taller than its lamp hangs. No distance is advised on then."""
    said = f"{gap.lamp.above_soil_mm:.0f} mm"
    return CareItem(
        key=f"lamp height:{gap.lamp.name}",
        urgency="today",
        plants=(gap.track.plant,),
        title=f"Measure how high the lamp “{gap.lamp.name}” hangs",
        reason=f"The numbers contradict each other: {gap.track.plant} is measured taller than the lamp is said to hang"
        f" ({said} above the soil).",
        number=f"{gap.track.plant} is {height_in_words(gap.track)}, the lamp at {said}",
        remedy="Measure from the soil of that pot to the lamp's lower edge and write it into above_soil_mm; if the lamp"
        " was moved, add a [[lamp]] of the same name with `since`. If that is right, check marker_mm with a ruler on"
        " the print. Should leaves touch the lamp, raise it first.",
        caution=LAMP_CAUTION,
    )


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
    for gap in scene.gaps():
        if gap.keep_clear_mm is None or gap.lamp.above_soil_mm is None or gap.gap_mm < gap.keep_clear_mm:
            continue
        under = [(s.track, last_break(s.drops)) for s in scene.stories if shares_lamp(s.track, gap, scene)]
        ahead = first_to_reach(under, gap.lamp.above_soil_mm - gap.keep_clear_mm, scene.tray.judge)
        if ahead is None or scene.now is None or ahead.when.likely - scene.now > timedelta(days=SOON_DAYS):
            continue
        first = ahead.track.plant
        now = "" if first == gap.track.plant else f" {gap.track.plant} is the tallest now, but {first} grows faster."
        items.append(
            CareItem(
                key=f"lamp soon:{gap.lamp.name}",
                urgency="this week",
                plants=(first,),
                title=f"Soon too near the lamp {gap.lamp.name}: {first}",
                reason=f"It reaches the {gap.keep_clear_mm:.0f} mm to be kept clear {in_words(ahead.when)}.{now}",
                number=_gap_in_words(gap) + _gap_soon(under, gap.lamp.above_soil_mm, scene),
                remedy="Have room to raise the lamp, or another place for this plant.",
                caution=LAMP_CAUTION,
            )
        )
    return items
