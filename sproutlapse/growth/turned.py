"""Pots turned in place: soil and plant look otherwise at once while the height stays: no growth, no cut, no wilt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sproutlapse.growth.cuts import Drop
from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Floats, Rows, Track

# All own proposals, tried on rendered shelves and on plant models turned by known angles; no published values.
CONFIRM = 3  # measured photos that must show the other side: the first and the two after it
TALL_MM = 20.0  # smaller seedlings open and unfold as quickly as turning changes them
SOIL_FALLS, OTHER_SOIL = 0.2, 0.54  # of the likeness of its soil's pattern; and below which it is another pattern
HEIGHT_STAYS, HEIGHT_MM = 0.10, 2.5  # of the height, whichever is more
SOIL_HEIGHT, SOIL_HEIGHT_MM = 0.25, 4.0  # the same where the soil tells: growth of young ones is within it
LOOK_BACK_H = 26.0  # a day and a little: leaves move with the day
LEAST_PHOTOS = 5  # within it
GAP_H = 30.0  # over a longer break between photos nothing is told
WIDTH_LOG = 0.30  # a plant a third wider or narrower at once
TIMES_USUAL = 3.5  # of the largest step between photos of the day before
HOLDS = 0.6  # of the step must still be there in the photos that confirm it


@dataclass(frozen=True)
class Turn:
    """A pot that was turned before row `row`, known at `known_row`; by what it was told."""

    row: int
    known_row: int
    wider: float
    by_soil: bool


def turns(track: Track, drops: Sequence[Drop] = ()) -> list[Turn]:
    """When a plant's pot was turned in place, or taken out and put back otherwise.

    By its soil, whose crumbs and specks lie otherwise from one photo on; where too little soil is seen or the pot was
    turned before, by a plant that is much wider or narrower at once.

    Parameters
    ----------
    track
        The plant's rows.
    drops
        Its cuts, falls and changes of place: what they change is no turn.
    """
    if not len(track.width) or not track.in_mm:
        return []
    ok = np.isfinite(track.height) & (track.height > 0) & np.isfinite(track.width) & (track.width > 0)
    rows: Rows = np.flatnonzero(ok & np.isfinite(track.canopy) & ~track.cut_off).astype(np.intp)
    found: list[Turn] = []
    for first in _may_be(track, rows).tolist():
        last = first + CONFIRM - 1
        row, known = int(rows[first]), int(rows[last])
        near = [d for d in drops if d.known_row <= known and abs(d.row - row) <= CONFIRM]
        if near or any(abs(row - turn.row) < CONFIRM for turn in found):
            continue
        if track.elapsed_h[row] - track.elapsed_h[rows[first - 1]] > GAP_H:
            continue
        by_soil = _other_soil(track, rows, first) and _about_as_tall(track, rows, first)
        if by_soil or (_height_stays(track, rows, first) and _other_shape(track, rows, first)):
            wider = float(track.width[row] / track.width[rows[first - 1]]) - 1
            found.append(Turn(row, known, wider, by_soil))
    return found


def _may_be(track: Track, rows: Rows) -> Rows:
    """Places among `rows` at which a turn is worth a closer look: other soil, or another width than was to be expected;
    most photos of most plants show neither."""
    may = np.zeros(len(rows), np.bool_)
    if len(rows) <= CONFIRM:
        return np.flatnonzero(may).astype(np.intp)
    if len(track.soil_same):
        with np.errstate(invalid="ignore"):
            may |= track.soil_same[rows] < OTHER_SOIL
    t, wide = track.elapsed_h[rows], np.log(track.width[rows])
    rate = np.diff(wide) / np.maximum(np.diff(t), 1e-6)
    # As `_expected` has it: the middle of the last two steps, carried on.
    step = np.diff(wide)[2:] - (rate[1:-1] + rate[:-2]) / 2 * np.diff(t)[2:]
    may[3:] |= np.abs(step) >= WIDTH_LOG - 1e-9
    may[0] = False
    may[max(len(rows) - CONFIRM + 1, 0) :] = False
    return np.flatnonzero(may).astype(np.intp)


def turned_events(track: Track, found: Sequence[Turn]) -> list[Event]:
    """The turns as events, in words."""
    out = []
    for turn in found:
        seen = f"{abs(turn.wider) * 100:.0f} % {'wider' if turn.wider > 0 else 'narrower'}"
        seen = seen if abs(turn.wider) >= 0.05 else "about as wide"
        why = "its soil is seen from another side" if turn.by_soil else "it looks otherwise at once"
        detail = f"the pot was turned: {why}, {seen}, {track.height[turn.row]:.0f} mm tall as before; no growth"
        out.append(Event(track, turn.row, turn.known_row, "turned", detail))
    return out


def last_turn(found: Sequence[Turn]) -> int:
    """The row from which on a canopy may be compared, 0 if the pot was never turned."""
    return max((turn.row for turn in found), default=0)


def _other_soil(track: Track, rows: Rows, first: int) -> bool:
    """Whether the soil's pattern is another from a row on, and was its own before."""
    if not len(track.soil_same):
        return False
    same = track.soil_same
    before = same[rows[max(0, first - CONFIRM) : first]]
    after = same[rows[first : first + CONFIRM]]
    before = before[np.isfinite(before)]
    if not len(before) or not np.isfinite(after).all():
        return False
    least = float(np.median(before))
    return bool(least >= OTHER_SOIL and after.max() < OTHER_SOIL and least - float(np.median(after)) >= SOIL_FALLS)


def _about_as_tall(track: Track, rows: Rows, first: int) -> bool:
    """Whether the first photo of another soil shows a plant about as tall as before, or as it grew to be."""
    before, now = float(track.height[rows[first - 1]]), float(track.height[rows[first]])
    return abs(now - before) <= max(SOIL_HEIGHT_MM, SOIL_HEIGHT * before)


def _height_stays(track: Track, rows: Rows, first: int) -> bool:
    h, t = track.height[rows], track.elapsed_h[rows]
    if h[first - 1] < TALL_MM or first < 2:
        return False
    expected = _expected(t, h, first)
    away = h[first : first + CONFIRM] - expected
    return bool(np.abs(np.median(away)) <= max(HEIGHT_MM, HEIGHT_STAYS * h[first - 1]))


def _expected(t: Floats, values: Floats, first: int) -> Floats:
    """What the photos from `first` on would show had it gone on as before: its steps of the last three photos."""
    since = max(0, first - CONFIRM)
    steps = np.diff(values[since:first]) / np.maximum(np.diff(t[since:first]), 1e-6)
    rate = float(np.median(steps)) if len(steps) else 0.0
    after = t[first : first + CONFIRM]
    return np.asarray(values[first - 1] + rate * (after - t[first - 1]))


def _other_shape(track: Track, rows: Rows, first: int) -> bool:
    """Whether the width changed at once by far more than in the day before, and stayed so.

    Lean is no sign: a new leaf that becomes the highest point changes it as much.
    """
    t = track.elapsed_h[rows]
    since = int(np.searchsorted(t, t[first - 1] - LOOK_BACK_H))
    if first - since < LEAST_PHOTOS or t[first - 1] - t[since] < LOOK_BACK_H - GAP_H / 3:
        return False
    wide = np.log(track.width[rows])
    usual = float(np.abs(np.diff(wide[since:first])).max())
    away = wide[first : first + CONFIRM] - _expected(t, wide, first)
    step = float(away[0])
    settled = float(np.abs(np.diff(wide[first : first + CONFIRM])).max())
    if abs(step) < max(WIDTH_LOG, TIMES_USUAL * usual) or settled > abs(step) / TIMES_USUAL:
        return False
    return bool((away * np.sign(step)).min() >= HOLDS * abs(step))
