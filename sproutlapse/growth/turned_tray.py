"""A tray seen from above that was turned end for end: every cell is at once what the one across the middle was. Without
marks nobody can know it for sure, so it is asked about and no name is changed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sproutlapse.growth.tracks import Floats, Rows, Track

# All own proposals, tried on a rendered tray turned by a recipe; no published values.
CONFIRM = 2  # photos that must show it
LEAST_CELLS, LEAST_GROWN = 6, 4  # cells, and those that show leaf before; of fewer chance makes a pattern
LEAST_MM2, LEAST_PX = 8.0, 60.0  # of leaf; what is below says "empty" only
APART_LOG = 0.30  # middle misfit of the cells to themselves: less is growth
FITS_LOG = 0.30  # and to the cells across the middle at most
BETTER = 0.4  # of the misfit to themselves at most
GAP_H = 30.0  # over a longer break between photos nothing is told


@dataclass(frozen=True)
class TrayTurn:
    """A tray that may have been turned before `row`, known at `known_row`; `across` gives each cell's partner."""

    row: int
    known_row: int
    across: tuple[int, ...]


def tray_turns(tracks: Sequence[Track]) -> list[TrayTurn]:
    """When a tray seen from above may have been turned end for end, in the order of time.

    Parameters
    ----------
    tracks
        All cells, rows of the same photos.
    """
    if len(tracks) < LEAST_CELLS or any(np.isfinite(track.height).any() for track in tracks):
        return []
    across = _across(tracks)
    if across is None:
        return []
    leaf = np.log(np.stack([track.canopy for track in tracks]) + (LEAST_MM2 if tracks[0].in_mm else LEAST_PX))
    hours = tracks[0].elapsed_h
    steps = np.abs(np.diff(leaf, axis=1))
    out: list[TrayTurn] = []
    # Cheap way out for nearly every photo: most cells look as they did.
    with np.errstate(invalid="ignore"):
        sudden = np.flatnonzero((steps > APART_LOG).sum(axis=0) >= LEAST_CELLS / 2) + 1
    for row in sudden.tolist():
        if row + CONFIRM > leaf.shape[1] or hours[row] - hours[row - 1] > GAP_H:
            continue
        if out and row - out[-1].row < CONFIRM:
            continue
        # Against two photos before, so that one odd photo is no turn and no turn back.
        pairs = [(was, now) for was in (row - 1, max(row - 2, 0)) for now in range(row, row + CONFIRM)]
        if all(_turned(leaf[:, was], leaf[:, now], across, tracks[0].in_mm) for was, now in pairs):
            out.append(TrayTurn(row, row + CONFIRM - 1, tuple(int(k) for k in across)))
    return out


def _across(tracks: Sequence[Track]) -> Rows | None:
    """For each cell the one that lies across the middle of the tray; None if the cells make no such pattern."""
    if any(track.settings is None for track in tracks):
        return None
    boxes = np.array([track.settings.box_px for track in tracks if track.settings is not None], np.float64)
    middles = (boxes[:, :2] + boxes[:, 2:]) / 2
    centre = (middles.min(axis=0) + middles.max(axis=0)) / 2
    off = np.linalg.norm((2 * centre - middles)[:, None] - middles[None], axis=-1)
    partner = off.argmin(axis=1)
    near = off.min(axis=1) < 0.3 * float(np.median(boxes[:, 2] - boxes[:, 0]))
    whole = near.all() and len(set(partner.tolist())) == len(tracks)
    return partner.astype(np.intp) if whole else None


def _turned(before: Floats, after: Floats, across: NDArray[np.intp], in_mm: bool) -> bool:
    """Whether cells are far less like themselves than like those across the middle, growth shared by all taken out."""
    known = np.isfinite(before) & np.isfinite(after) & np.isfinite(after[across])
    grown = before > np.log(2 * (LEAST_MM2 if in_mm else LEAST_PX))
    if int(known.sum()) < LEAST_CELLS or int((known & grown).sum()) < LEAST_GROWN:
        return False
    to_self, to_other = (_misfit(now[known] - before[known]) for now in (after, after[across]))
    return to_self >= APART_LOG and to_other <= min(FITS_LOG, BETTER * to_self)


def _misfit(away: Floats) -> float:
    return float(np.median(np.abs(away - np.median(away))))
