"""Sudden and slow loss of height: cut back, flopped, collapsed, wilted, told apart from leaf movement and bad frames.

A cut takes tissue away, a fall keeps it: both lose height, so the silhouette decides. Each is judged three usable
frames after it happened, from nothing later.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Floats, Rows, Track
from sproutlapse.tray import Judge

CONFIRM_FRAMES = 3  # the low frame and the two after it, so that one bad frame makes no event
SPREADS = 1.05  # times its width when it stood highest: what sinks and widens so spreads its leaves. Own proposal
STEADY = 2.0  # times the growth before: more at once is a false height
REGAINED_A_DAY = 1.5  # of what a cut took, at most, by blades that make up for it within a day
FALSE_PEAKS = 0.1  # of the photos before a fall may show a false height
AGAINST_GROWTH = 0.67  # of what must go: other blades of the pot grow on meanwhile
OTHER_VIEW = "other view"  # of a drop that is none: the camera was set up anew, so growth is read from there on
LOOK_BACK = 3  # frames before the drop whose second highest is the level it fell from: one false peak is no level


@dataclass(frozen=True)
class Drop:
    """A loss of height at `row`, known at `known_row`; levels in the track's own unit (mm or pixels)."""

    row: int
    known_row: int
    event: str
    before: float
    after: float
    over_h: float = 0.0  # of a fall that took more than one photo, how long at most

    @property
    def breaks_growth(self) -> bool:
        """Whether growth must not be read across it. Wilt recovers, so it leaves the curve whole."""
        return self.event != "wilted"


@dataclass(frozen=True)
class _Seen:
    """The frames in which a height was measured: rows of the track, hours, height, canopy, and what a cut must lose."""

    row: Rows
    t: Floats
    h: Floats
    canopy: Floats
    cut_share: float
    in_mm: bool
    grasslike: bool
    width: Floats

    def lost(self, start: int, first: int) -> tuple[float, float]:
        """Height before and after the frame `first`: the second highest from `start` on, or, of many, the highest but
        for a tenth of them."""
        return _highest(self.h[start:first]), max(self.h[first : first + CONFIRM_FRAMES].tolist())

    def canopies(self, start: int, first: int) -> tuple[float, float]:
        """As `lost`, of the silhouette."""
        after = sorted(self.canopy[first : first + CONFIRM_FRAMES].tolist())
        return _highest(self.canopy[start:first]), after[CONFIRM_FRAMES // 2]

    def stepped(self, first: int) -> tuple[float, float]:
        """As `lost`, of the one step down to `first`, for plants that grow back within a day: no loss unless the height
        falls below both frames before it and stays below the last."""
        last, earlier = float(self.h[first - 1]), float(self.h[first - 2])
        least, *others = self.h[first : first + CONFIRM_FRAMES].tolist()
        if max(least, *others) >= last or earlier <= least:
            return last, last
        hours = float(self.t[first + CONFIRM_FRAMES - 1] - self.t[first])
        if max(others) - least > REGAINED_A_DAY * hours / 24 * (last - least):
            return last, last  # one bad photo: nothing grows back so soon
        fell_from = min(last, earlier)
        return (last, least) if fell_from - least > self.cut_share * fell_from else (last, last)


def drops(track: Track, judge: Judge) -> list[Drop]:
    """Every cut, fall, collapse and recovery of one plant in the order in which they could be said.

    How much a cut must take depends on the habit: until that is known nothing is said.
    """
    if track.habit is None:
        return []
    rows = np.flatnonzero(np.isfinite(track.height) & (track.height > 0) & np.isfinite(track.canopy)).astype(np.intp)
    grasslike = track.habit == "grasslike"
    share = judge.trim_drop_share if grasslike else judge.trim_drop_share_leafy
    seen = _Seen(
        rows,
        track.elapsed_h[rows],
        track.height[rows],
        track.canopy[rows],
        share,
        track.in_mm,
        grasslike=grasslike,
        width=track.width[rows] if len(track.width) else np.zeros(0),
    )
    near = np.searchsorted(seen.t, seen.t - judge.fall_hours)
    one_view = not len(track.view) or bool((track.view == track.view[0]).all())
    low_enough = _low_enough(seen.h, near, judge)
    found: list[Drop] = []
    start, fallen = 0, None
    for known in range(CONFIRM_FRAMES + 1, len(rows)):
        first = known - CONFIRM_FRAMES + 1
        if fallen is None and one_view and not low_enough[first]:
            continue
        if (
            len(track.view)
            and (other := np.flatnonzero(track.view[rows[first - 1 : known]] != track.view[rows[known]])).size
        ):
            start = first + int(other[-1])  # nothing is compared across a change of view
            continue
        if fallen is not None and seen.t[known] - track.elapsed_h[fallen.row] > judge.wilt_hours:
            fallen = None
        low = float(seen.h[first : known + 1].min())
        if fallen is not None and low >= judge.wilt_recovers_share * fallen.before:
            found.append(Drop(fallen.row, int(rows[known]), "wilted", fallen.before, float(seen.h[known])))
            start, fallen = known, None
            continue
        # Nothing near stood high enough above to be a loss.
        since = max(start, min(int(near[first]), first - LOOK_BACK))
        highest = float(seen.h[since:first].max(initial=0.0))
        if highest - low <= min(judge.trim_least_loss, judge.trim_drop_share, judge.fall_share) * highest:
            continue
        event, before = _cut(seen, start, first, judge)
        after, over_h = float(seen.h[first]), 0.0
        if not event and fallen is None:
            event, before = _fall(seen, since, first, judge)
            if not event:
                event, before = _drooped(seen, since, first, judge)
                after = float(seen.h[known]) if event else after
            over_h = _took(seen, since, first, known, before) if event == "flopped" else 0.0
        elif not event and fallen is not None and fallen.event == "flopped":
            event, before = _deepened(seen, fallen, first, judge)
        if event:
            found.append(Drop(int(rows[first]), int(rows[known]), event, before, after, over_h))
            start = first
            fallen = None if event == "trimmed" else found[-1]
    return [replace(d, known_row=max(d.known_row, track.habit_row)) for d in found]


def _low_enough(h: Floats, near: NDArray[np.intp], judge: Judge) -> list[bool]:
    """For each frame whether it and the two after it may be a loss against any that it is compared with: for nearly all
    it is not, and they are looked at no closer."""
    share = min(judge.trim_least_loss, judge.trim_drop_share, judge.fall_share) * (1 - 1e-9)
    heights, since = h.tolist(), near.tolist()
    highest: deque[int] = deque()  # of the frames in reach, those that none after them outgrew
    out = []
    for first in range(len(heights)):
        low = min(heights[first : first + CONFIRM_FRAMES])
        while highest and highest[0] < min(since[first], first - LOOK_BACK):
            highest.popleft()
        most = heights[highest[0]] if highest else 0.0
        out.append(most - low > share * most)
        while highest and heights[highest[-1]] <= heights[first]:
            highest.pop()
        highest.append(first)
    return out


def with_views(track: Track, found: list[Drop]) -> list[Drop]:
    """A plant's drops, and before them the changes of view, as breaks of its growth."""
    seen = [Drop(int(row), int(row), OTHER_VIEW, float("nan"), float("nan")) for row in track.other_views()]
    return [*seen, *found]


def _cut(seen: _Seen, start: int, first: int, judge: Judge) -> tuple[str, float]:
    """Whether the height fell at once and tissue went with it: the event (or nothing) and the height before."""
    start = max(start, first - LOOK_BACK)
    if first - start < 2:
        return "", 0.0
    least = judge.trim_drop_mm if seen.in_mm else 0.0
    for at_once, (before, after) in ((False, seen.lost(start, first)), (True, seen.stepped(first))):
        if before - after <= max(seen.cut_share * before, least):
            continue
        step = float(seen.canopy[first - 1]), float(seen.canopy[first])
        canopy_before, canopy_after = step if at_once else seen.canopies(start, first)
        if canopy_before <= 0:
            continue
        gone = 1 - canopy_after / canopy_before
        if gone >= judge.trim_canopy_per_height * (1 - after / before):
            return "trimmed", before
    return _outgrown(seen, start, first, judge)


def _outgrown(seen: _Seen, start: int, first: int, judge: Judge) -> tuple[str, float]:
    """Whether a grass-like plant was cut that makes up for it within a day: it lost height and tissue at once, and
    stays behind the height it was growing to."""
    h, t = seen.h, seen.t
    if not seen.grasslike or first - start < 3 or (np.diff(t[first - 3 : first + 1]) <= 0).any():
        return "", 0.0  # a clock that stood still tells no rate
    rates = np.diff(h[first - 3 : first]) / np.diff(t[first - 3 : first])
    last, rate = float(h[first - 1]), float(rates.min())
    behind = last + rate * (t[first : first + CONFIRM_FRAMES] - t[first - 1]) - h[first : first + CONFIRM_FRAMES]
    expected = last + rate * float(t[first] - t[first - 1])
    least = judge.trim_drop_mm if seen.in_mm else 0.0
    if rate <= 0 or rates[-1] > STEADY * rates[0]:  # a false peak right before is no growth
        return "", 0.0
    if behind[0] <= max(seen.cut_share * expected, least) or behind.min() <= behind[0] / 2:
        return "", 0.0
    if 1 - float(h[first]) / last < judge.trim_least_loss:
        return "", 0.0
    leaf = seen.canopy
    more = float((np.diff(leaf[first - 3 : first]) / np.diff(t[first - 3 : first])).min())
    leaf_expected = float(leaf[first - 1]) + max(more, 0.0) * float(t[first] - t[first - 1])
    gone = 1 - float(leaf[first]) / leaf_expected
    if gone < AGAINST_GROWTH * judge.trim_canopy_per_height * float(behind[0]) / expected:
        return "", 0.0
    return "trimmed", last


def _fall(seen: _Seen, start: int, first: int, judge: Judge) -> tuple[str, float]:
    """Whether the height fell, at once or over hours, with the tissue still there."""
    if first - start < 2:
        return "", 0.0
    before, after = seen.lost(start, first)
    least = judge.fall_drop_mm if seen.in_mm else 0.0
    if before - after <= max(judge.fall_share * before, least):
        return "", 0.0
    canopy_before, canopy_after = seen.canopies(start, first)
    if canopy_after < judge.fall_keeps_canopy * canopy_before:
        return "", 0.0
    return ("collapsed" if _sudden_and_deep(seen, before, after, first, judge) else "flopped"), before


def _drooped(seen: _Seen, start: int, first: int, judge: Judge) -> tuple[str, float]:
    """Whether a leafy plant sank by less than a fall takes, but below where it stood at the same hours a day before.

    Leaves that fold and lift with the lamp come back to where they were; a plant that droops does not. The middle one
    of the three photos must be low enough, the first half way down, and the last two below the day before. Blades nod
    by as much.
    """
    if first - start < 2 or seen.grasslike:
        return "", 0.0
    before, last = _highest(seen.h[start:first]), seen.h[first : first + CONFIRM_FRAMES]
    lost = before - float(np.median(last))
    least = judge.fall_drop_mm if seen.in_mm else 0.0
    if lost <= max(judge.droop_share * before, least) or before - last[0] < judge.droop_share / 2 * before:
        return "", 0.0
    day_before = seen.t[first : first + CONFIRM_FRAMES] - 24
    if day_before[0] < seen.t[0]:
        return "", 0.0
    stood = np.interp(day_before[1:], seen.t, seen.h)
    if (last[1:] >= (1 - judge.droop_below_day_before) * stood).any():
        return "", 0.0
    # A leaf that opens flat or arches over under its own length reaches further to the sides; a limp one hangs.
    highest = start + int(seen.h[start:first].argmax())
    if len(seen.width) and np.median(seen.width[first : first + CONFIRM_FRAMES]) > SPREADS * float(seen.width[highest]):
        return "", 0.0
    canopy_before, canopy_after = seen.canopies(start, first)
    return ("flopped", before) if canopy_after >= judge.fall_keeps_canopy * canopy_before else ("", 0.0)


def _took(seen: _Seen, start: int, first: int, known: int, before: float) -> float:
    """Hours from the last photo in which a plant stood as before to the lowest one; 0 for a fall from one photo to the
    next."""
    stood = start + int(np.flatnonzero(seen.h[start:first] >= before)[-1])
    lowest = first + int(seen.h[first : known + 1].argmin())
    return float(seen.t[lowest] - seen.t[stood]) if stood < first - 1 or lowest > first else 0.0


def _deepened(seen: _Seen, fallen: Drop, first: int, judge: Judge) -> tuple[str, float]:
    """Whether a plant that was said to flop has gone on falling, fast and far enough to have collapsed."""
    after = float(seen.h[first : first + CONFIRM_FRAMES].max())
    return ("collapsed" if _sudden_and_deep(seen, fallen.before, after, first, judge) else ""), fallen.before


def _sudden_and_deep(seen: _Seen, before: float, after: float, first: int, judge: Judge) -> bool:
    stood = np.flatnonzero(seen.h[:first] >= judge.wilt_recovers_share * before)[-1]
    sudden = seen.t[first] - seen.t[stood] < judge.collapse_hours
    return bool(sudden and before - after > judge.collapse_share * before)


def _highest(values: Floats) -> float:
    """The second highest of few values, so that one false peak is no level; of many, the highest but for a tenth."""
    rank = max(2, round(FALSE_PEAKS * len(values)))
    few = len(values) <= 2 * LOOK_BACK
    return float(sorted(values.tolist())[-rank] if few else np.partition(values, -rank)[-rank])


def drop_events(track: Track, found: list[Drop], more: Mapping[int, str] = {}) -> list[Event]:
    """The drops as events, with their heights in words, and of those at some rows (by `known_row`) `more`."""
    unit = "mm" if track.in_mm else "pixels"
    words = {
        "trimmed": "cut back from {0:.0f} to {1:.0f} {2}",
        "flopped": "fell over, from {0:.0f} to {1:.0f} {2} tall",
        "collapsed": "collapsed, from {0:.0f} to {1:.0f} {2} tall",
        "wilted": "had wilted and stands again at {1:.0f} {2}",
    }
    sank = "sank within {3:.0f} hours, from {0:.0f} to {1:.0f} {2} tall"
    return [
        Event(
            track, d.row, d.known_row, d.event,
            (sank if d.over_h else words[d.event]).format(d.before, d.after, unit, d.over_h)
            + (more.get(d.known_row, "") if d.event == "collapsed" else ""),
        )
        for d in found
    ]  # fmt: skip
