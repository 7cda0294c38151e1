"""Plants that stand in another's place: two pots that changed places, or another seedling put in.

No seedling grows by half and more from one photo to the next, so a sudden rise that stays is another plant. Where a
second one fell at the same photo to the height of the first, the two changed places, and the one that seems to have
lost height neither fell nor was cut.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sproutlapse.growth.cuts import CONFIRM_FRAMES, Drop
from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Floats, Rows, Track

# A rise by so much and so many times within so long, over a plant that was so tall already, and so many times what it
# grew in the photos before. Own proposals, tried on rendered shelves; no published values.
RISE_TIMES, RISE_MM, RISE_PX = 1.4, 10.0, 25.0
GREW_TIMES = 4.0
MOST_HOURS = 26.0
# Two that changed places take over each other's height and outline to within this many times.
ALIKE_TIMES, ALIKE_AREA_TIMES = 1.35, 3.0
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
    """One plant's height and outline before and after a photo."""

    track: Track
    row: int
    known_row: int
    before: float
    after: float
    area_before: float
    area_after: float


def exchanges(found: Sequence[Track]) -> dict[str, list[Exchange]]:
    """The exchanges of each plant, by name, in order of time; plants without one are left out."""
    out: dict[str, list[Exchange]] = {}
    for track in found:
        for rise in _rises(track):
            other = next((s for t in found if t is not track and (s := _other_half(t, rise)) is not None), None)
            if other is None and _same_stem(rise):
                continue
            partner = None if other is None else other.track.plant
            _put(out, rise, partner)
            if other is not None:
                _put(out, other, track.plant)
    return _with_ends(out, [track.plant for track in found])


def _with_ends(own: dict[str, list[Exchange]], names: Sequence[str]) -> dict[str, list[Exchange]]:
    """The exchanges, those marked in which at one photo several pairs changed places that mirror each other's."""
    at = {name: k for k, name in enumerate(names)}
    pairs: dict[tuple[int, int], set[tuple[int, int]]] = {}
    for name, found in own.items():
        for e in found:
            if e.other is not None:
                pairs.setdefault((e.row, e.known_row), set()).add(
                    (min(at[name], at[e.other]), max(at[name], at[e.other]))
                )
    ends = {when for when, p in pairs.items() if len(p) > 1 and all(i + j == len(names) - 1 for i, j in p)}
    return {
        name: [replace(e, ends=(e.row, e.known_row) in ends and e.other is not None) for e in found]
        for name, found in own.items()
    }


def _put(out: dict[str, list[Exchange]], step: _Step, other: str | None) -> None:
    out.setdefault(step.track.plant, []).append(Exchange(step.row, step.known_row, step.before, step.after, other))


def _seen(track: Track) -> Rows:
    ok = np.isfinite(track.height) & (track.height > 0) & np.isfinite(track.canopy) & ~track.cut_off
    return np.flatnonzero(ok).astype(np.intp)


def _rises(track: Track) -> list[_Step]:
    """Sudden rises that stay and that nothing before explains."""
    rows = _seen(track)
    if len(rows) < CONFIRM_FRAMES + 3:
        return []
    h, t = track.height[rows], track.elapsed_h[rows]
    least = RISE_MM if track.in_mm else RISE_PX
    sudden = (h[1:] >= RISE_TIMES * h[:-1]) & (h[1:] - h[:-1] >= least) & (t[1:] - t[:-1] <= MOST_HOURS)
    return [
        _step(track, rows, int(at) + 1)
        for at in np.flatnonzero(sudden & (h[:-1] >= least))
        if _unexplained(h, t, int(at) + 1)
    ]


def _unexplained(h: Floats, t: Floats, at: int) -> bool:
    """Whether a rise stays, is far beyond the growth before, and no return to where the plant had been."""
    if at < 2 or len(h) < at + CONFIRM_FRAMES:
        return False
    stays = h[at : at + CONFIRM_FRAMES].min() >= RISE_TIMES * h[at - 1]
    grew = max(float(h[at - 1] - h[at - 2]) / max(float(t[at - 1] - t[at - 2]), 1e-9), 0.0) * float(t[at] - t[at - 1])
    return bool(stays and h[at] - h[at - 1] >= GREW_TIMES * grew and h[:at].max() < BEEN_THERE * h[at])


def _step(track: Track, rows: Rows, at: int) -> _Step:
    row, last = int(rows[at]), int(rows[at - 1])
    known = int(rows[min(at + CONFIRM_FRAMES, len(rows)) - 1])
    h, c = track.height, track.canopy
    return _Step(track, row, known, float(h[last]), float(h[row]), float(c[last]), float(c[row]))


def _other_half(track: Track, rise: _Step) -> _Step | None:
    """The step of a plant that changed places with the one that rose, or None."""
    rows = _seen(track)
    at = int(np.searchsorted(rows, rise.row))
    if at == 0 or at + CONFIRM_FRAMES > len(rows) or rows[at] != rise.row:
        return None
    fell = _step(track, rows, at)
    if fell.known_row != rise.known_row or fell.after >= fell.before / RISE_TIMES:
        return None
    heights = _alike(fell.after, rise.before, ALIKE_TIMES) and _alike(rise.after, fell.before, ALIKE_TIMES)
    areas = _alike(fell.area_after, rise.area_before, ALIKE_AREA_TIMES)
    return fell if heights and areas and _alike(rise.area_after, fell.area_before, ALIKE_AREA_TIMES) else None


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
    kept = [d for d in found if not any(e.row <= d.row <= e.known_row for e in swapped)]
    kept += [Drop(e.row, e.known_row, "exchanged", e.before, e.after) for e in own]
    return sorted(kept, key=lambda d: (d.known_row, d.row))


def exchange_events(track: Track, own: Sequence[Exchange]) -> list[Event]:
    """`exchanged`, with what it stands on and how to keep names with their pots."""
    unit = "mm" if track.in_mm else "pixels"
    out = []
    for e in own:
        told = f"at once from {e.before:.0f} to {e.after:.0f} {unit}"
        if e.other is None:
            detail = f"{told}: no seedling grows so; was another one put here?"
        else:
            how = "; was the tray turned end for end? Check the labels" if e.ends else ""
            detail = f"{told}, as if it had changed places with {e.other}{how}; small marks on the pots keep names"
        out.append(Event(track, e.row, e.known_row, "exchanged", detail))
    return out
