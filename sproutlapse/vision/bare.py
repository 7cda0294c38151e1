"""The bare stage behind plants that stand in the very first photos: board and soil as they would look without them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.colour import Floats, Mask, to_lab

TINTED = 7.0  # CIELAB chroma apart from the board or soil: a leaf, not a label or a shadow
GREENER = 5.0  # a* below that of the surface behind
MORE_CHROMA = 8.0  # over that of the soil, where it is not greener (reddish leaves)
DARKER = 10.0  # L below the board's
LEAST_PX = 12  # smaller patches are specks of perlite or ink
UNSURE = 3.0  # extra CIELAB distance where the stage was never seen bare


@dataclass(frozen=True)
class BareStage:
    """The stage without plants: its light, how much less sure it is (CIELAB), and which plants stood there already."""

    light: Floats
    tolerance: Floats
    occupied: tuple[bool, ...]
    notes: tuple[str, ...]


def bare_stage(middle: Floats, lights: Sequence[Floats], tray: Tray) -> BareStage:
    """The stage bare of plants, from the median of the first photos.

    Where tissue stands already, the board is continued from around it, and soil gets the cell's usual colour.

    Parameters
    ----------
    middle
        (height, width, 3) linear light, median of the first photos.
    lights
        The photos it was made from, same light and geometry.
    tray
        What stands in view.
    """
    height, width = middle.shape[:2]
    lab = to_lab(middle)
    if tray.view.from_ == "above":
        model, stands = _soil_model(middle, lab, tray)
    else:
        model, stands = _board_model(middle, lab, tray)
    tolerance = np.zeros((height, width), np.float32)
    light = middle
    if stands.any():
        wide = cv2.dilate(stands.astype(np.uint8), np.ones((7, 7), np.uint8)).astype(bool)
        light = np.where(wide[..., None], model, middle).astype(np.float32)
        tolerance[wide] = UNSURE
    tolerance += _unrest(middle, lights)
    occupied = tuple(_stands_in(plant, stands) for plant in tray.plants)
    notes: tuple[str, ...] = ()
    if any(occupied):
        names = ", ".join(p.name for p, there in zip(tray.plants, occupied, strict=True) if there)
        notes = (f"Plants stood in the first photos already ({names}): they are told from the board by colour, and "
                 "when they came up is not known.",)
    return BareStage(light, tolerance, occupied, notes)


def _unrest(middle: Floats, lights: Sequence[Floats]) -> Floats:
    """CIELAB distance by which still places differ among the first photos, beyond the usual noise."""
    if len(lights) < 3:
        return np.zeros(middle.shape[:2], np.float32)
    grey = np.sqrt(np.clip(middle.mean(axis=-1), 0, 1))
    spread = np.median(np.stack([np.abs(np.sqrt(np.clip(x.mean(axis=-1), 0, 1)) - grey) for x in lights]), axis=0)
    rough = cv2.blur(spread.astype(np.float32), (5, 5)) * 100.0
    return np.asarray(np.clip(rough - 2.0, 0.0, 6.0), dtype=np.float32)


def _board_model(middle: Floats, lab: Floats, tray: Tray) -> tuple[Floats, Mask]:
    """Side view: a smooth board fitted above the soil lines, and where tissue already stands before it."""
    height, width = middle.shape[:2]
    lines = [plant.soil_y_px for plant in tray.plants if plant.soil_y_px is not None]
    floor = int(max(lines, default=height - 1)) + 1
    board = smooth_board(middle[:floor])
    model = middle.copy()
    board_lab = to_lab(board)
    away = lab[:floor, :, 1:] - board_lab[..., 1:] * np.clip((lab[:floor, :, :1] + 16) / (board_lab[..., :1] + 16), 0, 1.2)
    tint = np.linalg.norm(away, axis=-1)
    seen = (tint > TINTED) & (lab[:floor, :, 0] < board_lab[..., 0] + 4)
    stands = np.zeros((height, width), bool)
    candidates = cv2.morphologyEx(seen.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    count, label = cv2.connectedComponents(candidates, connectivity=8)
    for plant in tray.plants:
        rim = soil_top(lab, plant)
        for k in _rooted(plant, label, floor, width):
            if 0 < k < count and int((label[: max(0, rim - 1)] == k).sum()) >= LEAST_PX:
                stands[:floor] |= label == k
        if plant.soil_y_px is not None:
            _bare_soil_strip(model, middle, stands, plant, width)
    # What is bright behind the plants is board; the dark strip of soil below keeps its own model.
    bright = board_lab[..., 0] > 30
    upper = np.zeros((height, width), bool)
    for plant in tray.plants:
        if plant.soil_y_px is None:
            continue
        left, right = max(0, int(plant.box_px[0])), min(width, int(plant.box_px[2]) + 1)
        rim = soil_top(lab, plant)
        upper[: max(0, rim), left:right] = True
    upper[:floor] &= bright
    model[:floor][upper[:floor]] = board[upper[:floor]]
    return model, stands


def soil_top(lab: Floats, plant: Plant) -> int:
    """First row of the pot's dark soil in a plant's strip: where most of the row turns dark."""
    soil = int(plant.soil_y_px or 0)
    left, right = int(max(0, plant.box_px[0])), int(plant.box_px[2]) + 1
    mid = (left + right) // 2
    half = max(4, (right - left) // 6)
    rows = lab[max(0, soil - 40) : soil + 1, mid - half : mid + half, 0]
    dark = (rows < 0.6 * float(np.median(lab[: max(1, soil - 40), left:right, 0]))).mean(axis=1) > 0.6
    return soil - int(np.argmin(dark[::-1])) + 1 if not dark.all() and dark[-1] else soil


def _rooted(plant: Plant, label: NDArray[np.int32], floor: int, width: int) -> set[int]:
    """Patches that touch the soil in a plant's strip."""
    if plant.soil_y_px is None:
        return set()
    left, right = max(0, int(plant.box_px[0])), min(width, int(plant.box_px[2]) + 1)
    soil = int(plant.soil_y_px)
    strip = label[max(0, soil - 14) : min(floor, soil + 1), left:right]
    return set(np.unique(strip).tolist()) - {0}


def _bare_soil_strip(model: Floats, middle: Floats, stands: Mask, plant: Plant, width: int) -> None:
    """Give the soil behind a standing stem the usual colour of its row in that pot."""
    soil = int(plant.soil_y_px or 0)
    left, right = max(0, int(plant.box_px[0])), min(width, int(plant.box_px[2]) + 1)
    for row in range(max(0, soil - 14), min(model.shape[0], soil + 2)):
        there = stands[row, left:right]
        if there.any() and not there.all():
            model[row, left:right][there] = np.median(middle[row, left:right][~there], axis=0)


def smooth_board(light: Floats) -> Floats:
    """The plain board alone: a smooth surface fitted to the brightest even part of the picture, without what stands
    before it.

    Parameters
    ----------
    light
        (height, width, 3) linear light above the soil lines.

    Returns
    -------
    ndarray
        (height, width, 3) float32: the board's light everywhere.
    """
    height, width = light.shape[:2]
    small = cv2.resize(light, (min(width, 160), max(8, round(height * min(width, 160) / width))), interpolation=cv2.INTER_AREA)
    rows, columns = np.mgrid[: small.shape[0], : small.shape[1]].astype(np.float64)
    base = _terms(columns / small.shape[1] * 2 - 1, rows / small.shape[0] * 2 - 1)
    log = np.log(np.maximum(small.reshape(-1, 3), 1e-4)).astype(np.float64)
    grey = log.mean(axis=1)
    keep = grey > np.log(0.45) + np.percentile(grey, 85)
    fit = np.zeros((base.shape[1], 3))
    for limit in (0.25, 0.12, 0.08, 0.06, 0.05):
        fit, *_rest = np.linalg.lstsq(base[keep], log[keep], rcond=None)
        keep = np.abs(log - base @ fit).max(axis=1) < limit
        if keep.sum() < 5 * base.shape[1]:
            keep = grey > np.log(0.45) + np.percentile(grey, 85)
            break
    grid = np.exp(base @ fit).reshape(small.shape).astype(np.float32)
    return np.asarray(cv2.resize(grid, (width, height), interpolation=cv2.INTER_CUBIC), dtype=np.float32)


def _terms(x: NDArray[np.float64], y: NDArray[np.float64]) -> NDArray[np.float64]:
    """Columns of a polynomial of third degree in two directions."""
    x, y = x.ravel(), y.ravel()
    return np.column_stack([x**i * y**j for i in range(4) for j in range(4 - i)])


def _soil_model(middle: Floats, lab: Floats, tray: Tray) -> tuple[Floats, Mask]:
    """From above: each cell's usual soil colour, and where tissue already stands on it."""
    height, width = middle.shape[:2]
    model, stands = middle.copy(), np.zeros((height, width), bool)
    for plant in tray.plants:
        left, top, right, bottom = (int(round(v)) for v in plant.box_px)
        rows, columns = slice(max(0, top), min(height, bottom + 1)), slice(max(0, left), min(width, right + 1))
        cell, cell_lab = middle[rows, columns], lab[rows, columns]
        if cell.size == 0:
            continue
        soil = cell_lab[..., 0] < np.percentile(cell_lab[..., 0], 45) + 3
        colour = np.median(cell_lab[soil], axis=0)
        chroma = np.hypot(cell_lab[..., 1], cell_lab[..., 2])
        greener = cell_lab[..., 1] < min(colour[1], 2.0) - GREENER
        redder = (chroma > np.hypot(colour[1], colour[2]) + MORE_CHROMA) & (cell_lab[..., 0] > colour[0] + 6)
        there = cv2.morphologyEx((greener | redder).astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
        count, label, stats, _ = cv2.connectedComponentsWithStats(there, connectivity=8)
        large = np.flatnonzero(stats[:, cv2.CC_STAT_AREA] >= LEAST_PX)
        found = np.isin(label, large[large > 0])
        if found.any():
            stands[rows, columns] |= found
            model[rows, columns] = np.median(cell[soil], axis=0)
    return model, stands


def _stands_in(plant: Plant, stands: Mask) -> bool:
    left, top, right, bottom = (max(0, int(round(v))) for v in plant.box_px)
    return int(stands[top : bottom + 1, left : right + 1].sum()) >= LEAST_PX
