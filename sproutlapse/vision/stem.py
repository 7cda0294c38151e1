"""The bare stem: from the foot up to the lowest leaf's attachment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.colour import Floats, Mask

WIDER = 1.8  # times the stem's own width: a leaf or its stalk is attached
WIDER_PX = 2.5  # and at least so many pixels wider
TALL_MM = 15.0  # a plant this tall carries no leaf so near the soil
RIM_MM, RIM_WIDER = 5.0, 4.0  # so near the soil it must be as much wider
STEADY_ROWS = 2  # rows in a row that must be wider
SWELLING, JOINT_MM = 1.2, 1.5  # times the stem's width, within so far below, the joint begins
LEAST_ROWS = 3  # of stem, to know its width


@dataclass(frozen=True)
class Stem:
    """`height_px` of the lowest attachment above the foot and `width_px` of the stem, in the photo's own pixels."""

    height_px: float
    width_px: float


def row_runs(row: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last column of each run of tissue in a row."""
    return rows_runs(row[None])[0]


def rows_runs(own: Mask) -> list[list[tuple[int, int]]]:
    """First and last column of each run of tissue in each row."""
    padded = np.zeros((own.shape[0], own.shape[1] + 2), bool)
    padded[:, 1:-1] = own
    rows, columns = np.nonzero(padded[:, 1:] != padded[:, :-1])
    out: list[list[tuple[int, int]]] = [[] for _ in range(len(own))]
    for row, first, after in zip(rows[::2].tolist(), columns[::2].tolist(), columns[1::2].tolist(), strict=True):
        out[row].append((first, after - 1))
    return out


def bare_stem(own: Mask, cover: Floats, foot_x: float, foot_y: float, *, mm_per_px: float) -> Stem | None:
    """The bare stem of one plant.

    From the foot the run of tissue that continues the stem is followed upwards, row by row. Where it becomes much wider
    than the stem so far, or meets a second run, a leaf or its stalk is attached.

    Parameters
    ----------
    own, cover
        (height, width) window of the plant: mask and covered shares.
    foot_x, foot_y
        The foot in the window's pixels.

    Returns
    -------
    Stem or None
        None if no stem can be followed.
    """
    start = min(int(np.floor(foot_y)), own.shape[0] - 1)
    path = _follow(own, cover, foot_x, start, max(4, round(5.0 / mm_per_px)))
    if len(path) < LEAST_ROWS:
        return None
    rows = np.array([p[0] for p in path])
    widths = np.array([p[1] for p in path])
    usual = float(np.median(widths[: max(LEAST_ROWS, min(len(widths), round(8.0 / mm_per_px)))]))
    usual = min(usual, 4.0 / mm_per_px)
    wide = widths > max(WIDER * usual, usual + WIDER_PX)
    # At the pot's rim a crumb or the rim's own edge may widen the stem a little; a leaf there widens it much.
    clear = foot_y - rows > RIM_MM / mm_per_px
    tall = foot_y - float(rows[-1]) > TALL_MM / mm_per_px
    wide &= clear | ((widths > RIM_WIDER * usual) & (not tall))
    for k in range(len(wide)):
        steady = wide[k : k + STEADY_ROWS]
        if steady.all() and len(steady) == min(STEADY_ROWS, len(wide) - k):
            joint = _down_to_joint(widths, k, usual, round(JOINT_MM / mm_per_px))
            below = widths[:joint]
            return Stem(foot_y - float(rows[joint]) + 0.5, float(np.median(below)) if joint else usual)
    return Stem(foot_y - float(rows[-1]) + 0.5, float(np.median(widths)))


def _down_to_joint(widths: NDArray[np.float64], k: int, usual: float, most: int) -> int:
    """Row at which a rising stalk leaves the stem: a little below the one where the two are plainly wide together."""
    joint = k
    while joint > 0 and k - joint < most and widths[joint - 1] > SWELLING * usual:
        joint -= 1
    return joint


def _follow(own: Mask, cover: Floats, foot_x: float, start: int, gap: int) -> list[tuple[int, float]]:
    """Row and covered width of the run that continues the stem, from the foot upwards until it ends."""
    path: list[tuple[int, float]] = []
    here: tuple[float, float] | None = None
    missed = 0
    all_runs = rows_runs(own[: start + 1])
    for row in range(start, -1, -1):
        runs = all_runs[row]
        if here is None:
            near = min(runs, key=lambda r: abs((r[0] + r[1]) / 2 - foot_x), default=None)
            joined = [] if near is None else [near]
        else:
            joined = [r for r in runs if r[0] <= here[1] + 1 + missed and r[1] >= here[0] - 1 - missed]
        if not joined:
            missed += 1
            if missed > gap:
                break
            continue
        missed = 0
        left, right = min(r[0] for r in joined), max(r[1] for r in joined)
        path.append(
            (row, float(cover[row, max(0, left - 1) : right + 2].sum()) if len(joined) == 1 else right - left + 1.0)
        )
        if len(joined) > 1:
            continue
        here = (left, right)
    return path


def stems_at(own: Mask, foot_y: float, above_px: float) -> int:
    """How many separate stems cross a line a little above the soil; the most of three rows."""
    counts = [
        len(row_runs(own[row]))
        for row in (round(foot_y - above_px * f) for f in (0.7, 1.0, 1.3))
        if 0 <= row < own.shape[0]
    ]
    return max(counts, default=0)
