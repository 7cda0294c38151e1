"""The bare stage behind plants that stand in the very first photos: board and soil as they would look without them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.colour import Floats, Mask, to_lab

TINTED = 5.0  # CIELAB chroma apart from the board: a leaf or a stem, not a label or a shadow
BLUE_HUES = (200.0, 315.0)  # CIELAB hue angle, degrees: ink, and a white label before a cream board; never a leaf
DARKER = 7.0  # L below the board's: tissue, if it hangs together with some that is tinted
TINTED_SHARE = 0.12  # of a patch: a label's writing makes up less
NOT_BOARD = 12.0  # CIELAB distance from the board: a pot or its soil
MOSTLY = 0.6  # of a row of the strip
ROOT_PX = 8  # a patch that comes this near to the rim stands in the pot
GREENER = 5.0  # a* below that of the surface behind
PERLITE_L = 75.0  # L above: white specks, whatever tint a burnt highlight gives them
MORE_CHROMA = 8.0  # over that of the soil, where it is not greener (reddish leaves)
LEAST_CELL_SHARE = 0.0015  # of a cell seen from above; a smaller patch there may be anything
LEAST_PX = 12  # smaller patches are specks of perlite or ink
CAME_UP, GROUND_L = 10.0, 45.0  # CIELAB distance within the first photos, and L of dark ground
BESIDE_PX = 12  # as far beside a stem the pot's rim and soil are like those behind it
COMES_NEAR = 12.0  # CIELAB distance from the model within which a photo shows the stage and not a plant
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
    if tray.view.from_ == "above":
        model, stands = _soil_model(middle, to_lab(middle), tray)
    else:
        model, stands = _board_model(middle, lights, tray)
    tolerance = _unrest(middle, lights)
    light = _before_they_came(middle, lights)
    if stands.any():
        wide = _spread(stands, tray)
        own, unseen = _barest(model[wide], [x[wide] for x in lights])
        light = light.copy()
        light[wide] = own
        tolerance[wide] = np.where(unseen, UNSURE, tolerance[wide])
    occupied = tuple(_stands_in(plant, stands) for plant in tray.plants)
    notes: tuple[str, ...] = ()
    if any(occupied):
        names = ", ".join(p.name for p, there in zip(tray.plants, occupied, strict=True) if there)
        notes = (
            f"In some of the first photos plants stood already ({names}): they are told from the board by colour, and "
            "when they came up is not known.",
        )
    return BareStage(light, tolerance, occupied, notes)


def _barest(model: Floats, lights: Sequence[Floats]) -> tuple[Floats, NDArray[np.bool_]]:
    """For each of n places the photo that comes nearest to the stage's model, where one comes near: it was bare then.

    Returns
    -------
    light
        (n, 3) linear light.
    unseen
        (n,) where no photo comes near, so that the model stands in.
    """
    target = to_lab(model[None])[0]
    stack = np.stack([*lights, model])
    away = np.stack([np.linalg.norm(to_lab(x[None])[0] - target, axis=-1) for x in lights])
    best = away.argmin(axis=0)
    unseen = away.min(axis=0) > COMES_NEAR
    best = np.where(unseen, len(lights), best)
    return np.asarray(stack[best, np.arange(len(best))], dtype=np.float32), np.asarray(unseen)


def _before_they_came(middle: Floats, lights: Sequence[Floats]) -> Floats:
    """The median of the first photos, but the very first ones where dark ground turned brighter since.

    Something came up within these photos there.
    """
    if len(lights) < 4:
        return middle
    first = np.asarray((lights[0] + lights[1]) / 2, dtype=np.float32)
    lab, earlier = to_lab(middle), to_lab(first)
    changed = np.linalg.norm(lab - earlier, axis=-1) > CAME_UP
    ground = (earlier[..., 0] < GROUND_L) & (lab[..., 0] > earlier[..., 0])
    came = cv2.dilate((changed & ground).astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    return np.where(came[..., None], first, middle).astype(np.float32)


def _spread(stands: Mask, tray: Tray) -> Mask:
    """Where tissue stands and its blurred rim; narrower below the rims, where soil must keep its own crumbs."""
    wide = cv2.dilate(stands.astype(np.uint8), np.ones((11, 11), np.uint8)).astype(bool)
    narrow = cv2.dilate(stands.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    if tray.view.from_ == "above":
        return narrow
    lines = [plant.soil_y_px for plant in tray.plants if plant.soil_y_px is not None]
    low = max(0, int(min(lines, default=0)) - 30)
    wide[low:] = cv2.dilate(stands[low:].astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    for plant in tray.plants:
        if plant.soil_y_px is None:
            continue
        rows = slice(max(0, int(plant.soil_y_px) - 12), None)
        columns = slice(max(0, int(plant.box_px[0])), int(plant.box_px[2]) + 1)
        wide[rows, columns] = narrow[rows, columns]
    return wide


def _unrest(middle: Floats, lights: Sequence[Floats]) -> Floats:
    """CIELAB distance by which still places differ among the first photos, beyond the usual noise."""
    if len(lights) < 3:
        return np.zeros(middle.shape[:2], np.float32)
    grey = np.sqrt(np.clip(middle.mean(axis=-1), 0, 1))
    spread = np.median(np.stack([np.abs(np.sqrt(np.clip(x.mean(axis=-1), 0, 1)) - grey) for x in lights]), axis=0)
    rough = cv2.blur(spread.astype(np.float32), (5, 5)) * 100.0
    return np.asarray(np.clip(rough - 2.0, 0.0, 6.0), dtype=np.float32)


def _board_model(middle: Floats, lights: Sequence[Floats], tray: Tray) -> tuple[Floats, Mask]:
    """Side view: a smooth board fitted above the soil lines, and where tissue stands in any of the first photos."""
    height, width = middle.shape[:2]
    lines = [plant.soil_y_px for plant in tray.plants if plant.soil_y_px is not None]
    floor = min(height, int(max(lines, default=height - 1)) + 3)
    board = smooth_board(middle[:floor])
    board_lab = to_lab(board)
    usual, seen = _tinted(to_lab(middle[:floor]), board_lab)
    tinted = usual.copy()
    for light in lights:
        tint, dim = _tinted(to_lab(light[:floor]), board_lab)
        tinted |= tint
        seen |= dim
    seen = cv2.morphologyEx(seen.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)).astype(bool)
    covered = np.linalg.norm(to_lab(middle[:floor]) - board_lab, axis=-1) > NOT_BOARD
    stands = np.zeros((height, width), bool)
    model = middle.copy()
    for plant in tray.plants:
        if plant.soil_y_px is None:
            continue
        left, right = max(0, int(plant.box_px[0])), min(width, int(plant.box_px[2]) + 1)
        rim = pot_top(covered, plant)
        model[: max(0, rim - 3), left:right] = board[: max(0, rim - 3), left:right]
        _mark_rooted(stands, seen, tinted, rim, (left, right))
        _bare_soil(
            model, middle, stands, usual & stands[:floor], rim=rim, soil=int(plant.soil_y_px), strip=(left, right)
        )
    return model, stands


def _tinted(lab: Floats, board: Floats) -> tuple[Mask, Mask]:
    """Where a picture plainly shows tissue before the board, and where it may: tinted or, close by, darker.

    A label or a shadow has the board's tint; a leaf has not, though its darkest parts may come near it.
    """
    shade = np.clip((lab[..., :1] + 16) / (board[..., :1] + 16), 0, 1.2)
    away = lab[..., 1:] - board[..., 1:] * shade
    hue = np.degrees(np.arctan2(away[..., 1], away[..., 0])) % 360
    leafy = (hue < BLUE_HUES[0]) | (hue > BLUE_HUES[1])
    tinted = (np.linalg.norm(away, axis=-1) > TINTED) & leafy & (lab[..., 0] < board[..., 0] + 4)
    near = cv2.dilate(tinted.astype(np.uint8), np.ones((9, 9), np.uint8)).astype(bool)
    return np.asarray(tinted), np.asarray(tinted | (near & (lab[..., 0] < board[..., 0] - DARKER)))


def pot_top(covered: Mask, plant: Plant) -> int:
    """First row of the pot in a plant's strip: below it most of the middle third of the strip is not board."""
    soil = min(int(plant.soil_y_px or 0), covered.shape[0] - 1)
    left, right = int(max(0, plant.box_px[0])), int(plant.box_px[2]) + 1
    third = max(4, (right - left) // 6)
    middle = (left + right) // 2
    full = covered[: soil + 1, max(0, middle - third) : middle + third].mean(axis=1) > MOSTLY
    open_rows = np.flatnonzero(~full)
    return int(open_rows[-1]) + 1 if len(open_rows) else 0


def _mark_rooted(stands: Mask, seen: Mask, tinted: Mask, rim: int, strip: tuple[int, int]) -> None:
    """Mark the patches that rise from the rim of the pot in this strip and have a good share of tinted pixels."""
    above = seen[: max(0, rim - 1)]
    _, label, stats, _ = cv2.connectedComponentsWithStats(above.astype(np.uint8), connectivity=8)
    near = label[max(0, rim - 1 - ROOT_PX) : rim - 1, strip[0] : strip[1]]
    for k in set(np.unique(near).tolist()) - {0}:
        area = int(stats[k, cv2.CC_STAT_AREA])
        if area >= LEAST_PX and int(tinted[: len(above)][label == k].sum()) >= TINTED_SHARE * area:
            stands[: len(above)] |= label == k


def _bare_soil(
    model: Floats, middle: Floats, stands: Mask, usual: Mask, *, rim: int, soil: int, strip: tuple[int, int]
) -> None:
    """Continue a standing stem from the rim down to the soil line, and give the soil behind it its row's usual colour.

    Only the stem as most photos show it (`usual`) is continued: leaves that hung before the pot now and then hide no
    soil for long, and soil that was seen keeps its own crumbs and perlite.
    """
    foot = np.asarray(usual[max(0, rim - 6) : rim - 3, strip[0] : strip[1]].any(axis=0), dtype=bool)
    if not foot.any():
        return
    foot = np.asarray(cv2.dilate(foot.astype(np.uint8)[None, :], np.ones((1, 3), np.uint8))).reshape(-1) > 0
    columns = np.flatnonzero(foot)
    near = np.zeros_like(foot)
    near[max(0, columns[0] - BESIDE_PX) : columns[-1] + BESIDE_PX + 1] = True
    near &= ~foot  # a rim is curved: only what lies right beside the stem is like what it hides
    for row in range(max(0, rim - 3), min(len(stands), soil + 2)):
        stands[row, strip[0] : strip[1]] |= foot
        if near.any():
            model[row, strip[0] : strip[1]][foot] = np.median(middle[row, strip[0] : strip[1]][near], axis=0)


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
    small = cv2.resize(
        light, (min(width, 160), max(8, round(height * min(width, 160) / width))), interpolation=cv2.INTER_AREA
    )
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
        left, top, right, bottom = (round(v) for v in plant.box_px)
        rows, columns = slice(max(0, top), min(height, bottom + 1)), slice(max(0, left), min(width, right + 1))
        cell, cell_lab = middle[rows, columns], lab[rows, columns]
        if cell.size == 0:
            continue
        soil = cell_lab[..., 0] < np.percentile(cell_lab[..., 0], 45) + 3
        colour = np.median(cell_lab[soil], axis=0)
        chroma = np.hypot(cell_lab[..., 1], cell_lab[..., 2])
        greener = cell_lab[..., 1] < min(colour[1], 2.0) - GREENER
        redder = (chroma > np.hypot(colour[1], colour[2]) + MORE_CHROMA) & (cell_lab[..., 0] > colour[0] + 6)
        leafy = (greener | redder) & (cell_lab[..., 0] < PERLITE_L)
        there = cv2.morphologyEx(leafy.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
        _, label, stats, _ = cv2.connectedComponentsWithStats(there, connectivity=8)
        large = np.flatnonzero(
            stats[:, cv2.CC_STAT_AREA] >= max(LEAST_PX, LEAST_CELL_SHARE * cell.shape[0] * cell.shape[1])
        )
        found = np.isin(label, large[large > 0])
        if found.any():
            stands[rows, columns] |= found
            model[rows, columns] = np.median(cell[soil], axis=0)
    return model, stands


def _stands_in(plant: Plant, stands: Mask) -> bool:
    left, top, right, bottom = (max(0, round(v)) for v in plant.box_px)
    return int(stands[top : bottom + 1, left : right + 1].sum()) >= LEAST_PX
