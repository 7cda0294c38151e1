"""The three grades of a plant that can stretch, each with the sentence that explains it and its numbers."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sproutlapse.growth.kinds import NO_JUDGEMENT
from sproutlapse.growth.lengthening import Lengthening
from sproutlapse.growth.stretch import Band, Spell, band, judgeable, stem_share
from sproutlapse.growth.tracks import Track
from sproutlapse.tray import Judge, Tray


@dataclass(frozen=True)
class Verdict:
    """A grade ("sturdy", "stretching", "leggy" or "" where none is given) and the sentence that explains it."""

    grade: str
    why: str


@dataclass(frozen=True)
class Figures:
    """What a verdict stands on: medians over the last day that could be judged; NaN where not measured.

    `peers` is the bare stem over the middle of those of its sowing; NaN where there are too few of them.
    """

    ratio: float
    share: float
    stem_mm: float
    per_day_mm: float
    peers: float = float("nan")

    def told(self) -> str:
        """The figures in words, with their units."""
        parts = [f"height to leaf {self.ratio:.1f}"]
        if np.isfinite(self.share):
            parts.append(f"bare stem {self.stem_mm:.0f} mm, {100 * self.share:.0f} % of the height")
        if np.isfinite(self.peers):
            parts.append(f"{self.peers:.1f} times the middle of its sowing")
        if np.isfinite(self.per_day_mm):
            parts.append(f"growing {self.per_day_mm:.1f} mm a day")
        return ", ".join(parts)


def last_day(track: Track, judge: Judge) -> tuple[float, float, float] | None:
    """Median height-to-leaf over the best views of the last day that could be judged; share of the bare stem and bare
    stem over all of that day.

    The best views are the half of the photos that show most leaf: leaves that fold, or that point at the lens, make a
    plant look leggier than it is and never less. None if no row can be judged. A day's median does not follow the
    leaves up and down, nor one bad photo.
    """
    rows = np.flatnonzero(judgeable(track, judge))
    if len(rows) == 0:
        return None
    day = rows[track.elapsed_h[rows] > track.elapsed_h[rows[-1]] - 24]
    leaf = track.height[day] / track.ratio[day]
    ratio = float(np.median(track.ratio[day][leaf >= np.median(leaf)]))
    share, stem = stem_share(track)[day], track.stem_mm[day]
    seen = np.isfinite(share)
    if not seen.any():
        return ratio, np.nan, np.nan
    return ratio, float(np.median(share[seen])), float(np.median(stem[seen]))


def verdict(
    track: Track,
    spells: list[Spell],
    longer: list[Lengthening],
    judge: Judge,
    *,
    kind: str = "",
    per_day_mm: float = float("nan"),
    middle_stem_mm: float = float("nan"),
) -> Verdict:
    """sturdy, stretching or leggy at the end of the track, and why; no grade where it is not judged.

    Stretching is said once a plant could be judged for as long as a leggy one is watched: one that has just reached
    the height from which on it is judged has shown too little, and gets no word of either kind.

    Parameters
    ----------
    spells, longer
        When it was leggy, and when its bare stem lengthened anew.
    kind
        How a kind grows that is tall by nature, "" for others.
    per_day_mm
        Growth in mm a day, NaN where not known.
    middle_stem_mm
        Median bare stem of its sowing; NaN where too few of it were judged.
    """
    limits = band(track.habit, judge)
    day = last_day(track, judge)
    if kind:
        return Verdict("", f"{NO_JUDGEMENT} ({kind})")
    if limits is None or day is None:
        return Verdict("", "")
    ratio, share, stem = day
    peers = stem / middle_stem_mm if middle_stem_mm > 0 else np.nan
    figures = Figures(ratio, share, stem, per_day_mm, peers)
    said = figures.told()
    if spells and spells[-1].until is None:
        return Verdict("leggy", f"too tall for the leaf it shows, on a long bare stem: {said}")
    if longer and longer[-1].until is None:
        return Verdict("stretching", f"its bare stem lengthens again: {said}")
    if not _near(figures, limits, judge):
        return Verdict("sturdy", f"its height fits its leaf and stem: {said}")
    rows = np.flatnonzero(judgeable(track, judge))
    watched = track.elapsed_h[rows[-1]] - track.elapsed_h[rows[0]]
    long_enough = watched >= judge.leggy_hours and len(rows) >= judge.leggy_frames
    return Verdict("stretching", f"nearly too tall for the leaf it shows: {said}") if long_enough else Verdict("", "")


def _near(day: Figures, limits: Band, judge: Judge) -> bool:
    """Whether a plant's day is near the band; without a stem in mm only the ratio speaks."""
    if not np.isfinite(day.share):
        return day.ratio >= limits.ratio
    long = day.stem_mm >= limits.near_stem_mm or day.peers >= judge.stretching_of_sowing
    return bool(day.ratio >= limits.near_ratio and day.share >= limits.stem_share and long)


def middle_stems(found: list[Track], tray: Tray) -> dict[str, float]:
    """By plant the median bare stem in mm of its own sowing; none where fewer than `sowing_peers` could be judged.

    A mixed tray is no measure of a plant, nor are a few.
    """
    stems: dict[str, dict[str, float]] = {}
    for track in found:
        day = last_day(track, tray.judge)
        if day is not None and np.isfinite(day[2]) and track.settings and track.settings.sowing:
            stems.setdefault(track.settings.sowing, {})[track.plant] = day[2]
    return {
        plant: float(np.median(list(own.values())))
        for own in stems.values()
        if len(own) >= tray.judge.sowing_peers
        for plant in own
    }
