"""The gap between the tallest canopy under each lamp and the lamp."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Track
from sproutlapse.tray import Lamp, Tray

# Published distances from lamp to seedling (handbook 2.5): cool white tubes 2 to 3 in, 5 to 8 cm (Utah State Ext.);
# LED fixtures 8 to 12 in, 20 to 30 cm (Iowa State Ext.). The nearer end of the panel's and the farther of the tube's is
# taken as the gap to keep. Nothing is said for other kinds.
KEEP_CLEAR_MM = {"tube": 75.0, "panel": 200.0}
TOO_NEAR_FRAMES = 3


@dataclass(frozen=True)
class Gap:
    """The gap under one lamp: the tallest plant decides.

    `at_most` where a plant under the lamp may stand higher than what was measured of it.
    """

    lamp: Lamp
    track: Track
    row: int
    gap_mm: float
    keep_clear_mm: float | None
    at_most: bool = False


def keep_clear_mm(lamp: Lamp) -> float | None:
    """The gap to keep between canopy and lamp in mm: as given, else by kind, else None."""
    return lamp.keep_clear_mm or KEEP_CLEAR_MM.get(lamp.kind or "")


def gaps(found: list[Track], tray: Tray, row: int) -> list[Gap]:
    """The gap under each lamp in one usable frame, in tray order of the lamps; lamps of unknown height are left out."""
    tallest: dict[str, Gap] = {}
    for track in found:
        if row >= len(track.time):
            continue
        height = track.height[row]
        if not track.in_mm or not np.isfinite(height):
            continue
        lamp = track.lamp(tray, row)
        if lamp is None or lamp.above_soil_mm is None:
            continue
        gap = float(lamp.above_soil_mm - height)
        if lamp.name not in tallest or gap < tallest[lamp.name].gap_mm:
            tallest[lamp.name] = Gap(lamp, track, row, gap, keep_clear_mm(lamp))
    return [tallest[name] for name in dict.fromkeys(lamp.name for lamp in tray.lamps) if name in tallest]


def lamp_events(found: list[Track], tray: Tray) -> list[Event]:
    """`lamp too near`, once the gap to keep was not kept in three usable frames; again only after three clear ones."""
    if not found or not any(lamp.above_soil_mm for lamp in tray.lamps):
        return []
    events: list[Event] = []
    limits = [lamp.above_soil_mm - (keep_clear_mm(lamp) or 0) for lamp in tray.lamps if lamp.above_soil_mm]
    tallest = np.max([np.nan_to_num(t.height) for t in found if len(t.time) == len(found[0].time)], axis=0)
    near: dict[str, bool] = {}
    run: dict[str, list[Gap]] = {}
    for row in range(len(found[0].time)):
        # Cheap way out for nearly every frame: nothing is near any lamp, and nothing was.
        if tallest[row] < min(limits) and not any(near.values()) and not any(run.values()):
            continue
        for gap in gaps(found, tray, row):
            if gap.keep_clear_mm is None:
                continue
            name = gap.lamp.name
            if (gap.gap_mm < gap.keep_clear_mm) == near.get(name, False):
                run[name] = []
                continue
            run.setdefault(name, []).append(gap)
            if len(run[name]) < TOO_NEAR_FRAMES:
                continue
            near[name] = not near.get(name, False)
            if near[name]:
                # Plant and gap are those of the photo whose time the event bears, not of the one that settled it.
                first = run[name][0]
                events.append(Event(first.track, first.row, row, "lamp too near", _near_in_words(first)))
            run[name] = []
    return events


def _near_in_words(gap: Gap) -> str:
    if gap.gap_mm <= 0:
        hangs = f"{gap.lamp.above_soil_mm:.0f} mm above the soil"
        return f"measured taller than the lamp {gap.lamp.name} is said to hang, {hangs}"
    return f"{gap.gap_mm:.0f} mm below the lamp {gap.lamp.name}, {gap.keep_clear_mm:.0f} mm are to be kept clear"
