"""Pots that were handled: put back beside their place, taken out of the picture, or set back into it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Floats, Track

# A pot put back nearer to its place than this stands where it did: well above what a photo tells of its place (a fifth
# of a pixel) and what swelling soil does. Own proposals, tried on rendered shelves; no published values.
MOVED_MM, MOVED_PX = 1.0, 3.0
BACK = "the pot was put back"
# Cells seen from above are one tray: this share of them moved in the same photo. Turned end for end they change places
# by as much, against each other, as the tray is long; lifted and put back by some millimetres.
ONE_TRAY, END_FOR_END_MM, END_FOR_END_PX = 0.8, 40.0, 120.0


def handled_events(track: Track) -> list[Event]:
    """When a plant's pot was moved, taken out or put back.

    Each is said at the photo that shows it: where a pot stands now is known at once, and is measured from there.
    """
    if len(track.pot) < 2:
        return []
    there = [bool(seen) for seen in np.isfinite(track.pot).sum(axis=1) == track.pot.shape[1]]
    pots = track.pot.tolist()
    out: list[Event] = []
    last = 0 if there[0] else None
    for before, row in pairwise(range(len(track.pot))):
        known, last = last, row if there[row] else last
        if there[before] and not there[row]:
            out.append(Event(track, row, row, "moved", "the pot is not in its place; the plant is not measured"))
        elif there[row] and known is not None:
            if there[before] and pots[row] == pots[before]:
                continue
            way = track.pot[row] - track.pot[known]
            off = float(np.hypot(*way)) >= (MOVED_MM if track.in_mm else MOVED_PX)
            if off or not there[before]:
                detail = f"{BACK}: {_where(way, track.in_mm)}" if off else f"{BACK} in its place"
                out.append(Event(track, row, row, "moved", detail))
    return out


def tray_events(found: Sequence[Track]) -> list[Event]:
    """As `handled_events` for the cells of a tray seen from above, where all that moved at once is one event.

    Parameters
    ----------
    found
        All cells in tray order.
    """
    own = [event for track in found for event in handled_events(track)]
    rows = sorted({event.row for event in own if event.detail.startswith(f"{BACK}:")})
    out: list[Event] = []
    for row in rows:
        here = [event for event in own if event.row == row and event.detail.startswith(f"{BACK}:")]
        if len(found) < 2 or len(here) < ONE_TRAY * len(found):
            continue
        ways = np.array([e.track.pot[row] - e.track.pot[row - 1] for e in here])
        far = END_FOR_END_MM if found[0].in_mm else END_FOR_END_PX
        ends = bool(np.isfinite(ways).all()) and float(np.ptp(ways, axis=0).max()) > far
        middle = np.nanmedian(ways, axis=0)
        where = _where(middle, found[0].in_mm)
        detail = (
            "the tray was turned end for end; each cell keeps its name, by its soil and the tray's rim"
            if ends
            else f"the tray was put back{': ' if where else ', turned a little'}{where}"
        )
        out.append(Event(found[0], row, row, "moved", detail, of_sowing=True))
        own = [event for event in own if event not in here]
    return own + out


def _where(way: Floats, in_mm: bool) -> str:
    """A shift in words: so far to the left or right, and lower or higher in the picture."""
    unit = "mm" if in_mm else "pixels"
    parts = [
        f"{abs(value):.1f} {unit} {after if value > 0 else before}"
        for value, before, after in ((way[0], "to the left", "to the right"), (way[1], "higher", "lower"))
        if abs(value) >= 0.5
    ]
    return ", ".join(parts)
