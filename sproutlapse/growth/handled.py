"""Pots that were handled: put back beside their place, taken out of the picture, or set back into it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Floats, Track

# A pot put back nearer to its place than this stands where it did: well above what a photo tells of its place (a fifth
# of a pixel) and what swelling soil does. Own proposals, tried on rendered shelves; no published values.
MOVED_MM, MOVED_PX = 1.0, 3.0
BACK = "the pot was put back"


def handled_events(track: Track) -> list[Event]:
    """When a plant's pot was moved, taken out or put back.

    Each is said at the photo that shows it: where a pot stands now is known at once, and is measured from there.
    """
    if len(track.pot) < 2:
        return []
    there = np.asarray(np.isfinite(track.pot).all(axis=1))
    out: list[Event] = []
    for before, row in pairwise(range(len(track.pot))):
        if there[before] and not there[row]:
            out.append(Event(track, row, row, "moved", "the pot is not in its place; the plant is not measured"))
        elif there[row]:
            known = np.flatnonzero(there[:row])
            if not len(known):
                continue
            way = track.pot[row] - track.pot[known[-1]]
            off = float(np.hypot(*way)) >= (MOVED_MM if track.in_mm else MOVED_PX)
            if off or not there[before]:
                detail = f"{BACK}: {_where(way, track.in_mm)}" if off else f"{BACK} in its place"
                out.append(Event(track, row, row, "moved", detail))
    return out


def _where(way: Floats, in_mm: bool) -> str:
    """A shift in words: so far to the left or right, and lower or higher in the picture."""
    unit = "mm" if in_mm else "pixels"
    parts = [
        f"{abs(value):.1f} {unit} {after if value > 0 else before}"
        for value, before, after in ((way[0], "to the left", "to the right"), (way[1], "higher", "lower"))
        if abs(value) >= 0.5
    ]
    return ", ".join(parts)
