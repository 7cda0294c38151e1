"""Lamps whose height is not known: moved with nothing written down, or said to hang below the plants.

That a lamp was seen to is believed for a while only: once the plants have grown on, or after some days, it is asked for
again, as urgently as the height in tray.toml makes it.
"""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from sproutlapse.care_marks import open_since
from sproutlapse.care_scene import Scene, day_text, height_in_words, since_text
from sproutlapse.growth.lamps import Gap
from sproutlapse.growth.tracks import Track
from sproutlapse.results import CareItem, Urgency

LAMP_CAUTION = (
    "Switch the lamp off and pull its plug before you move it, and let a hot lamp cool. Keep plugs and sockets"
    " above and away from water, with a loop in the cord for drips. See that hooks carry the lamp's weight. Do"
    " not look into bright lamps. Local rules and a qualified electrician go before anything said here."
)
# What was said of a lamp is believed until the plant has grown on by so much, or so long. Own proposals.
GROWN_ON_MM = 20.0
BELIEVED = timedelta(days=3)


def asked_again(track: Track, said: datetime, now: datetime | None) -> datetime | None:
    """Since when what was said of a lamp is no longer believed of the plant that is tallest under it, else None."""
    after = np.array([track.clock(row) > said for row in range(len(track.time))])
    known = np.isfinite(track.height) & (track.height > 0)
    before = np.flatnonzero(known & ~after)
    start = float(track.height[before[-1]]) if len(before) else 0.0
    # Three photos in a row, so that one poor height does not ask.
    row = open_since(track.height >= start + GROWN_ON_MM, known & after, track.elapsed_h)
    ends = [] if row is None else [track.clock(row)]
    ends += [said + BELIEVED] if now is not None and now >= said + BELIEVED else []
    return min(ends, default=None)


def measure_again(scene: Scene, gap: Gap, moved: datetime) -> CareItem:
    """The lamp was said to be moved, but not to what height: its gap is not known until that is written down."""
    name, key = gap.lamp.name, f"lamp height:{gap.lamp.name}"
    again = asked_again(gap.track, max(moved, scene.marks.get(key, moved)), scene.now)
    keep = gap.keep_clear_mm or 0.0
    near = gap.gap_mm < keep
    # What was "now" becomes no less than "today", and is "now" again once the word for it is old.
    urgency: Urgency = (
        ("now" if again else "today") if gap.gap_mm < keep / 2 else "today" if near and again else "this week"
    )
    more = " That was a while ago, or the plant has grown on since." if again else ""
    look = (
        f"Look now that {keep:.0f} mm are left between lamp and leaves, and raise it if not. Then measure"
        if near and again
        else "Measure"
    )
    return CareItem(
        key=key,
        urgency=urgency,
        plants=(gap.track.plant,),
        title=f"Write down how high the lamp “{name}” hangs now",
        reason=f"You said on {day_text(moved)} that it was moved; tray.toml names no height since then"
        f" ({gap.lamp.above_soil_mm:.0f} mm above the soil before), so its gap is not known.{more}",
        number=f"{gap.track.plant} is {height_in_words(gap.track)}",
        remedy=f'{look} from the soil to its lower edge and add a further [[lamp]] with name = "{name}", `since` and'
        " above_soil_mm to tray.toml. Until then look yourself that no leaf comes near it.",
        caution=LAMP_CAUTION if near and again else "Do not look into bright lamps.",
        since=since_text([again or moved]),
    )


def contradiction(scene: Scene, gap: Gap, near_since: datetime) -> CareItem:
    """The numbers cannot both be right: a plant taller than its lamp hangs. No distance is advised on then."""
    said, key = f"{gap.lamp.above_soil_mm:.0f} mm", f"lamp below:{gap.lamp.name}"
    mark = scene.marks.get(key)
    again = asked_again(gap.track, mark, scene.now) if mark else None
    return CareItem(
        key=key,
        urgency="now",  # as it was before the plant grew so far
        plants=(gap.track.plant,),
        title=f"Measure how high the lamp “{gap.lamp.name}” hangs",
        reason=f"The numbers contradict each other: {gap.track.plant} is measured taller than the lamp is said to hang"
        f" ({said} above the soil).",
        number=f"{gap.track.plant} is {height_in_words(gap.track)}, the lamp at {said}",
        remedy="Look now: should leaves touch the lamp, raise it first. Measure from the soil of that pot to the lamp's"
        " lower edge and write it into above_soil_mm; if the lamp"
        " was moved, add a [[lamp]] of the same name with `since`. If that is right, check marker_mm with a ruler on"
        " the print.",
        caution=LAMP_CAUTION,
        since=since_text([again or _above_since(gap, near_since)]),
    )


def _above_since(gap: Gap, near_since: datetime) -> datetime:
    """The first photo, from when the gap was no longer kept, in which the plant stands above the lamp as written."""
    track, above = gap.track, gap.lamp.above_soil_mm or 0.0
    clocks = (track.clock(int(row)) for row in np.flatnonzero(track.height >= above))
    return next((when for when in clocks if when >= near_since), near_since)
