"""A plant that was there and is not: eaten, pulled out, or rotted off."""

from __future__ import annotations

import numpy as np

from sproutlapse.growth.emergence import Emergence
from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Track
from sproutlapse.tray import Judge

BEFORE = 3  # photos before, whose median says how much of it there was


def gone_events(track: Track, up: Emergence | None, judge: Judge) -> list[Event]:
    """`gone`, once nothing is seen of a plant in as many photos in a row as it takes to call it up; again after it was
    seen as often.

    It is said of plants that showed at least `gone_from_mm2`: a sprout at the edge of what can be told comes and goes.
    Photos in which its pot is taken out or covered count neither way.
    """
    if up is None or not track.in_mm:
        return []
    rows = np.flatnonzero(np.isfinite(track.canopy))
    rows = rows[rows >= up.by_row]
    canopy = track.canopy[rows].tolist()
    events: list[Event] = []
    missing, run = False, 0
    for i, area in enumerate(canopy):
        run = run + 1 if (area <= 0) != missing else 0
        if run < judge.emerged_frames:
            continue
        first = i - run + 1
        if not missing and _stood(canopy[max(first - BEFORE, 0) : first], judge):
            said = f"nothing is seen of it any more; it showed {canopy[first - 1]:.0f} mm2 in the photo before"
            known = max(int(rows[i]), up.known_row)
            events.append(Event(track, int(rows[first]), known, "gone", said))
        missing, run = not missing, 0
    return events


def _stood(before: list[float], judge: Judge) -> bool:
    return bool(before) and float(np.median(before)) >= judge.gone_from_mm2
