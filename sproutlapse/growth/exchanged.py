"""Plants that stand in another's place: two pots that changed places, or another seedling put in.

Pairs are found in `changed_places`: the one that seems to have lost height neither fell nor was cut. No seedling grows
by half and more from one photo to the next, so a sudden rise of one alone that stays is another plant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sproutlapse.growth.changed_places import pairs_that_changed
from sproutlapse.growth.cuts import CONFIRM_FRAMES, OTHER_VIEW, Drop
from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Floats, Rows, Track
from sproutlapse.tray import Judge

# Without a scale a rise is at least so many pixels; it comes within so many hours, and is so many times what the plant
# grew in the photos before. Own proposals, tried on rendered shelves; no published values. How far it rises: `Judge`.
RISE_PX = 25.0
GREW_TIMES = 4.0
MOST_HOURS = 13.0
# With a bare stem as long as before, to within this many times, it is the same plant and a leaf was seen otherwise.
SAME_STEM_TIMES = 1.3
# A plant that stood up again has been nearly as tall before.
BEEN_THERE = 0.85


@dataclass(frozen=True)
class Exchange:
    """From `row` on another plant stands in this one's place, known at `known_row`; `other` if it came from there, and
    `ends` if all plants changed places as in a tray turned end for end."""

    row: int
    known_row: int
    before: float
    after: float
    other: str | None = None
    ends: bool = False


@dataclass(frozen=True)
class _Step:
    """One plant's height before and after a photo."""

    track: Track
    row: int
    known_row: int
    before: float
    after: float


def exchanges(found: Sequence[Track], judge: Judge) -> dict[str, list[Exchange]]:
    """The exchanges of each plant, by name, in order of time; plants without one are left out."""
    out: dict[str, list[Exchange]] = {}
    for pair in pairs_that_changed(found):
        for track, other in ((found[pair.one], found[pair.other]), (found[pair.other], found[pair.one])):
            before, after = float(track.height[pair.row - 1]), float(track.height[pair.row])
            one = Exchange(pair.row, pair.known_row, before, after, other.plant, pair.ends)
            out.setdefault(track.plant, []).append(one)
    for track in found:
        for rise in _rises(track, judge):
            if any(abs(e.row - rise.row) <= 1 for e in out.get(track.plant, [])) or _same_stem(rise):
                continue
            out.setdefault(track.plant, []).append(Exchange(rise.row, rise.known_row, rise.before, rise.after))
    return {name: sorted(own, key=lambda e: e.row) for name, own in out.items()}


def _seen(track: Track) -> Rows:
    ok = np.isfinite(track.height) & (track.height > 0) & np.isfinite(track.canopy) & ~track.cut_off
    return np.flatnonzero(ok).astype(np.intp)


def _rises(track: Track, judge: Judge) -> list[_Step]:
    """Sudden rises that stay and that nothing before explains."""
    rows = _seen(track)
    h, t = track.height[rows], track.elapsed_h[rows]
    least = judge.exchange_rise_mm if track.in_mm else RISE_PX
    sudden = (h[1:] >= judge.exchange_rise_times * h[:-1]) & (h[1:] - h[:-1] >= least) & (t[1:] - t[:-1] <= MOST_HOURS)
    return [
        _step(track, rows, int(at) + 1)
        for at in np.flatnonzero(sudden & (h[:-1] >= least))
        if track.one_view(int(rows[at]), int(rows[at + 1]))
        and _unexplained(h, t, int(at) + 1, judge.exchange_rise_times)
    ]


def _unexplained(h: Floats, t: Floats, at: int, times: float) -> bool:
    """Whether a rise stays, is far beyond the growth before, and no return to where the plant had been."""
    if at < 2 or len(h) < at + CONFIRM_FRAMES:
        return False
    # One photo in which it was measured too short is no level to rise from.
    level = float(np.sort(h[max(0, at - 3) : at])[-2])
    stays = h[at : at + CONFIRM_FRAMES].min() >= times * level
    grew = max(float(h[at - 1] - h[at - 2]) / max(float(t[at - 1] - t[at - 2]), 1e-9), 0.0) * float(t[at] - t[at - 1])
    return bool(stays and h[at] - level >= GREW_TIMES * grew and h[:at].max() < BEEN_THERE * h[at])


def _step(track: Track, rows: Rows, at: int) -> _Step:
    row, last = int(rows[at]), int(rows[at - 1])
    known = int(rows[min(at + CONFIRM_FRAMES, len(rows)) - 1])
    return _Step(track, row, known, float(track.height[last]), float(track.height[row]))


def _same_stem(rise: _Step) -> bool:
    stem = rise.track.stem_mm
    before, after = stem[: rise.row][np.isfinite(stem[: rise.row])], stem[rise.row : rise.known_row + 1]
    after = after[np.isfinite(after)]
    if not len(before) or not len(after) or before[-1] <= 0:
        return False
    return bool(_alike(float(np.median(before[-CONFIRM_FRAMES:])), float(np.median(after)), SAME_STEM_TIMES))


def _alike(a: float, b: float, times: float) -> bool:
    return max(a, b) <= times * min(a, b)


def with_exchanges(found: Sequence[Drop], own: Sequence[Exchange]) -> list[Drop]:
    """A plant's drops, of which those that were an exchange are none, and the exchanges as breaks of its growth."""
    swapped = [e for e in own if e.other is not None]
    kept = [d for d in found if not any(e.row <= d.row <= e.known_row <= d.known_row for e in swapped)]
    kept += [Drop(e.row, e.known_row, "exchanged", e.before, e.after) for e in own]
    return sorted(kept, key=lambda d: (d.event != OTHER_VIEW, d.known_row, d.row))


def exchange_events(track: Track, own: Sequence[Exchange]) -> list[Event]:
    """`exchanged`, with what it stands on and how to keep names with their pots."""
    unit = "mm" if track.in_mm else "pixels"
    out = []
    for e in own:
        told = f"at once from {e.before:.0f} to {e.after:.0f} {unit}"
        if e.other is None:
            detail = f"{told}: no seedling grows so; was another one put here, or was it measured short before?"
        else:
            how = "; was the tray turned end for end? Check the labels" if e.ends else ""
            detail = f"{told}, as if it had changed places with {e.other}{how}; small marks on the pots keep names"
        out.append(Event(track, e.row, e.known_row, "exchanged", detail))
    return out
