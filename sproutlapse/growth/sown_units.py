"""The units of a sowing, seeds where their number is known and else pots, and the rows in which each came up."""

from __future__ import annotations

import numpy as np

from sproutlapse.growth.emergence import Emergence
from sproutlapse.growth.tracks import Track
from sproutlapse.tray import Judge, Sowing

LAST_PHOTOS = 8  # whose middle count is held against the seeds

Pair = tuple[Track, Emergence | None]


def sown_h(track: Track, sowing: Sowing) -> float | None:
    """The sowing in hours since the first usable frame (before it: negative), or None if no date was given."""
    if sowing.sown is None:
        return None
    return (sowing.sown.replace(tzinfo=None) - track.clock(0)).total_seconds() / 3600 + float(track.elapsed_h[0])


def seedling_emergences(track: Track, up: Emergence, judge: Judge) -> list[Emergence]:
    """The emergence of each seedling of a cell in turn; a count must hold for as many frames as a first sprout must.

    Photos that do not show the place (its pot taken out, a cover) count neither way. A count that falls again (leaves
    that cover one another, a seedling lost) takes no emergence back. What is counted together with a first sprout of
    which it is not known when it came up came up nobody knows when, either.
    """
    found = [up]
    seen = np.flatnonzero(np.isfinite(track.canopy))
    counts, n = np.nan_to_num(track.seedlings[seen], nan=0.0), judge.emerged_frames
    for at in range(int(np.searchsorted(seen, up.by_row)), len(seen) - n + 1):
        held, row = counts[at : at + n].min(), int(seen[at])
        after = up.after_row if row == up.by_row else int(seen[at - 1])
        while held > len(found):
            found.append(Emergence(by_row=row, after_row=after, known_row=int(seen[at + n - 1])))
    return found


def units_up(track: Track, first: Emergence | None, sowing: Sowing, judge: Judge) -> list[Emergence]:
    """The emergence of each unit of one pot or cell in turn: the pot, or its seeds where their number is known."""
    if first is None or sowing.seeds_per_cell is None:
        return [first] if first is not None else []
    # A cluster counts as up with its first seedling; more seedlings than seeds are counted as all.
    return seedling_emergences(track, first, judge)[:: sowing.seedlings_per_seed][: sowing.seeds_per_cell]


def units_sown(pairs: list[Pair], sowing: Sowing) -> int:
    """How many units of a sowing stand in view."""
    return len(pairs) * (sowing.seeds_per_cell or 1)


def crowded(pairs: list[Pair], sowing: Sowing, judge: Judge) -> list[str]:
    """Pots or cells that show more seedlings than their seeds can have given, in most of the last photos; none where no
    number of seeds is known.

    Two seed leaves that open look like two seedlings for a day.
    """
    if sowing.seeds_per_cell is None:
        return []
    most = sowing.seeds_per_cell * sowing.seedlings_per_seed
    return [t.plant for t, up in pairs if up is not None and _last_count(t, judge) > most]


def _last_count(track: Track, judge: Judge) -> float:
    """The middle count of the last photos that show the place; 0 where there are too few."""
    counts = track.seedlings[np.isfinite(track.canopy) & np.isfinite(track.seedlings)][-LAST_PHOTOS:]
    return float(np.median(counts)) if len(counts) >= judge.emerged_frames else 0.0
