"""When plants came up: between which two photos, and the statistics of a sowing.

The statistics take the times T (days) of the counts and the new emergences n at each, as handbook chapter 3 writes
them. They return NaN where a figure is not defined, never a made-up one. It is emergence that a camera sees, so
nothing here is called germination.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sproutlapse.growth.covers import came_up_covered
from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.tray import Judge

# Photos that make the bare stage (as `vision.reference` does).
STAGE_PHOTOS = 7


@dataclass(frozen=True)
class Emergence:
    """One plant's emergence, known to lie after `after_row` and not after `by_row`.

    `after_row` is the last row in which it was seen not to be up; None for a plant that was up when it was first seen.
    `known_row` is the row from which on it could be said.
    """

    by_row: int
    after_row: int | None
    known_row: int


def emergence(track: Track, judge: Judge) -> Emergence | None:
    """Between which two usable frames a plant came up, or None while it is not known to be up."""
    up = np.flatnonzero(track.canopy > 0)
    if len(up) == 0:
        return None
    by = int(up[0])
    # Rows that tell nothing (its pot is taken out, or hidden by a cover) count neither way.
    seen = np.flatnonzero(np.isfinite(track.canopy))
    since, before = seen[seen >= by], seen[seen < by]
    if len(since) < judge.emerged_frames:
        return None
    fresh = len(before) < STAGE_PHOTOS and bool(len(before) and track.covered[: before[0]].any())
    # A sprout too small to be told stands in the bare stage itself, where that was made after an uncovering.
    after = int(before[-1]) if len(before) and not fresh else None
    return Emergence(by_row=by, after_row=after, known_row=int(since[judge.emerged_frames - 1]))


def emerged_event(track: Track, up: Emergence | None) -> list[Event]:
    """The `emerged` event; none for a plant that stood in the first usable frame.

    One that came up behind a cover is said to be up by the uncovering, and one whose pot was away by its coming back:
    the hour is not known.
    """
    if up is None or up.by_row == 0:
        return []
    if up.after_row is None and not came_up_covered(track, up.by_row):
        bare = bool(np.isfinite(track.canopy[: up.by_row]).any())
        detail = (
            "by now: it may have stood there, too small to be told, when the cover was taken off"
            if bare
            else "by now: it was up when its place was first seen, since when is not known"
        )
        return [Event(track, up.by_row, up.known_row, "emerged", detail)]
    if came_up_covered(track, up.by_row):
        detail = "by the uncovering: it came up under the cover, when is not known"
        return [Event(track, up.by_row, up.known_row, "emerged", detail)]
    seen = track.height[up.by_row]
    detail = f"first seen at {seen:.0f} mm" if track.in_mm and np.isfinite(seen) else "first seen"
    return [Event(track, up.by_row, up.known_row, "emerged", detail)]


def midpoint_days(track: Track, up: Emergence, sown_h: float) -> float:
    """Days from sowing to the middle of the interval in which the plant came up.

    `sown_h` is the sowing in hours since the first usable frame; an interval that began before it begins with it. NaN
    where the plant was up in the first usable frame, since nothing then says how long it had been.
    """
    if up.after_row is None:
        return math.nan
    return float(max(track.elapsed_h[up.after_row] - sown_h, 0.0) + track.elapsed_h[up.by_row] - sown_h) / 48


def _clean(times: ArrayLike, new: ArrayLike) -> tuple[Floats, Floats]:
    """Times and new emergences without empty counts; a count that fell (a seedling lost) is no new emergence."""
    t, n = np.asarray(times, dtype=np.float64), np.asarray(new, dtype=np.float64)
    if t.shape != n.shape or t.ndim != 1:
        raise ValueError(f"times and new emergences must be two lists of one length, got {t.shape} and {n.shape}")
    keep = n > 0
    return t[keep], n[keep]


def mean_emergence_time(times: ArrayLike, new: ArrayLike) -> float:
    """Mean emergence time in days, sum(n T) / n (Ranal & Santana 2006); NaN if none came up."""
    t, n = _clean(times, new)
    return float((n * t).sum() / n.sum()) if len(n) else math.nan


def time_variance(times: ArrayLike, new: ArrayLike) -> float:
    """Variance of the emergence time in days squared, with n - 1; NaN below two seedlings."""
    t, n = _clean(times, new)
    if n.sum() < 2:
        return math.nan
    return float((n * (t - mean_emergence_time(t, n)) ** 2).sum() / (n.sum() - 1))


def maguire_rate(times: ArrayLike, new: ArrayLike) -> float:
    """Speed of emergence per day, sum(n / T) (Maguire 1962); 0 if none came up, NaN for a count at or before sowing."""
    t, n = _clean(times, new)
    if (t <= 0).any():
        return math.nan
    return float((n / t).sum())


def synchrony(times: ArrayLike, new: ArrayLike) -> float:
    """Share of pairs that came up at one count, 0 to 1 (Ranal & Santana 2006, Z); NaN below two seedlings."""
    _, n = _clean(times, new)
    pairs = n.sum() * (n.sum() - 1) / 2
    return float((n * (n - 1) / 2).sum() / pairs) if pairs > 0 else math.nan


def uncertainty_bits(times: ArrayLike, new: ArrayLike) -> float:
    """Spread over the counts in bits, -sum(f log2 f) (Labouriau, U); NaN if none came up."""
    _, n = _clean(times, new)
    if len(n) == 0:
        return math.nan
    f = n / n.sum()
    return float(abs((f * np.log2(f)).sum()))


def time_to(share_count: float, times: ArrayLike, new: ArrayLike, *, start: float | None = None) -> float:
    """Days until `share_count` seedlings were up, straight between two counts.

    The interval is the first whose end count reaches the target. Before the first emergence the line starts at the
    last earlier count in `times`; where there is none, at `start`, or one count's spacing earlier (a day if there is
    but one count). NaN if that many never came up.
    """
    t, n = np.asarray(times, dtype=np.float64), np.maximum(np.asarray(new, dtype=np.float64), 0)
    if n.sum() <= 0 or n.sum() < share_count:
        return math.nan
    total = np.cumsum(n)
    k = int(np.argmax(total >= share_count))
    if k > 0:
        t0, c0 = float(t[k - 1]), float(total[k - 1])
    else:
        spacing = float(t[1] - t[0]) if len(t) > 1 else 1.0
        t0, c0 = (float(t[0]) - spacing if start is None else start), 0.0
    return t0 + (share_count - c0) * (float(t[k]) - t0) / (float(total[k]) - c0)


def t50(times: ArrayLike, new: ArrayLike, *, form: str = "coolbear", start: float | None = None) -> float:
    """Days until half of those that came up were up, not half of those sown.

    Parameters
    ----------
    form
        "coolbear" aims at (n + 1) / 2 (Coolbear et al. 1984), "farooq" at n / 2 (Farooq et al. 2005).
    start
        Time of the last count with nothing up, if it is not among `times`.
    """
    _, n = _clean(times, new)
    if len(n) == 0:
        return math.nan
    target = {"coolbear": (n.sum() + 1) / 2, "farooq": n.sum() / 2}[form]
    return time_to(float(target), times, new, start=start)


def spread_10_90(times: ArrayLike, new: ArrayLike, *, start: float | None = None) -> float:
    """Days from a tenth to nine tenths of those that came up; NaN if none came up."""
    _, n = _clean(times, new)
    total = float(n.sum())
    return time_to(0.9 * total, times, new, start=start) - time_to(0.1 * total, times, new, start=start)
