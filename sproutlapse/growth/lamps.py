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


def lamp_events(found: list[Track], tray: Tray) -> list[Event]:
    """`lamp too near`, once the gap to keep was not kept in `lamp_near_frames` usable frames; again only after as many
    clear ones."""
    if not found or not any(lamp.above_soil_mm for lamp in tray.lamps):
        return []
    lamps = [_lamp_by_row(t, tray) if t.in_mm else [] for t in found]
    events: list[Event] = []
    for name in dict.fromkeys(lamp.name for lamp in tray.lamps):
        events += _too_near(found, lamps, name, tray.judge.lamp_near_frames)
    return events


def _lamp_by_row(track: Track, tray: Tray) -> list[Lamp | None]:
    """The lamp above a plant in each of its rows; asked for once for each of the times at which it hung otherwise."""
    since = [lamp.since.replace(tzinfo=None) for lamp in tray.lamps if lamp.since is not None]
    if not since:
        return [track.lamp(tray, 0)] * len(track.time)
    start = track.clock(0)
    hours = np.array([(s - start).total_seconds() / 3600 for s in since])
    hung = (track.elapsed_h - track.elapsed_h[0])[:, None] >= hours[None, :] - 1e-9
    _, firsts, which = np.unique(hung, axis=0, return_index=True, return_inverse=True)
    by_time = [track.lamp(tray, int(row)) for row in firsts]
    return [by_time[i] for i in which.ravel().tolist()]


def _too_near(found: list[Track], lamps: list[list[Lamp | None]], name: str, frames: int) -> list[Event]:
    """The events of one lamp."""
    count = len(found[0].time)
    gap = np.full((len(found), count), np.inf)
    for own, track, by_row in zip(gap, found, lamps, strict=True):
        if not by_row:
            continue
        above = np.array([(x.above_soil_mm or np.inf) if x and x.name == name else np.inf for x in by_row[:count]])
        with np.errstate(invalid="ignore"):
            own[: len(above)] = np.where(np.isfinite(track.height[:count]), above - track.height[:count], np.inf)
    tallest = gap.argmin(axis=0).tolist()
    events: list[Event] = []
    near, run = False, list[Gap]()
    for row, (who, mm) in enumerate(zip(tallest, gap.min(axis=0).tolist(), strict=True)):
        lamp = lamps[who][row] if np.isfinite(mm) else None
        keep = keep_clear_mm(lamp) if lamp else None
        if lamp is None or keep is None:
            continue
        if (mm < keep) == near:
            run = []
            continue
        run.append(Gap(lamp, found[who], row, mm, keep))
        if len(run) < frames:
            continue
        near = not near
        if near:
            # Plant and gap are those of the photo whose time the event bears, not of the one that settled it.
            events.append(Event(run[0].track, run[0].row, row, "lamp too near", _near_in_words(run[0])))
        run = []
    return events


def _near_in_words(gap: Gap) -> str:
    if gap.gap_mm <= 0:
        hangs = f"{gap.lamp.above_soil_mm:.0f} mm above the soil"
        return f"measured taller than the lamp {gap.lamp.name} is said to hang, {hangs}"
    return f"{gap.gap_mm:.0f} mm below the lamp {gap.lamp.name}, {gap.keep_clear_mm:.0f} mm are to be kept clear"
