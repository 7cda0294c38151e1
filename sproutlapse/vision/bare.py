"""The bare stage behind plants that stand in the very first photos: board and soil as they would look without them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.backdrop import boardless_in_words
from sproutlapse.vision.colour import Floats, Mask, colour_distance, median_of, to_lab
from sproutlapse.vision.standing import LEAST_PX, Standing, least_tint, standing, tints
from sproutlapse.vision.tissue import BOARD_SHADE, SOIL_SHADE

GREENER = 5.0  # a* below that of the surface behind
PERLITE_L = 75.0  # L above: white specks, whatever tint a burnt highlight gives them
MORE_CHROMA = 8.0  # over that of the soil, where it is not greener (reddish leaves)
LEAST_CELL_SHARE = 0.0015  # of a cell seen from above; a smaller patch there may be anything
CAME_UP = 10.0  # CIELAB distance from the very first photo: something came up, or a leaf moved there
DARK_L = 45.0  # darker surfaces count as soil or pot
BESIDE_PX = 12  # as far beside a stem the pot's rim and soil are like those behind it
COMES_NEAR = 12.0  # CIELAB distance from the model within which a photo shows the stage and not a plant
UNSURE = 3.0  # extra CIELAB distance where the stage was never seen bare


@dataclass(frozen=True)
class BareStage:
    """The stage without plants: its light, how much less sure it is (CIELAB), labels, and which plants stood there."""

    light: Floats
    tolerance: Floats
    labels: Mask
    occupied: tuple[bool, ...]
    notes: tuple[str, ...]


def bare_stage(middle: Floats, lights: Sequence[Floats], tray: Tray, known: Sequence[bool] = ()) -> BareStage:
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
    known
        For each plant whether it is known to stand there; empty if nothing is.
    """
    notes: tuple[str, ...] = ()
    if tray.view.from_ == "above":
        model, stands = _soil_model(lights[0], to_lab(lights[0]), tray)
        labels = np.zeros_like(stands)
    else:
        model, there = _board_model(middle, lights, tray, known)
        stands, labels, notes = there.stands, there.labels, boardless_in_words(there.boardless, tray)
    tolerance = _unrest(middle, lights)
    light = _before_they_came(middle, lights)
    if stands.any():
        wide = _spread(stands, tray)
        own, unseen = _barest(model[wide], [x[wide] for x in lights])
        light = light.copy()
        light[wide] = own
        tolerance[wide] = np.where(unseen, UNSURE, tolerance[wide])
    occupied = tuple(_stands_in(plant, stands) for plant in tray.plants)
    if any(occupied):
        names = ", ".join(p.name for p, there in zip(tray.plants, occupied, strict=True) if there)
        notes += (
            f"In the first photo plants stood already ({names}): they are told from the board by colour, and "
            "when they came up is not known.",
        )
    return BareStage(light, tolerance, labels, occupied, notes)


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
    """The median of the first photos, but the very first of them where something came up or moved there since.

    Where a place changed, its stage is the mean of the photos up to the change.
    """
    if len(lights) < 3:
        return middle
    first = to_lab(lights[0])
    dark = first[..., 0] < DARK_L
    limits = [np.where(dark, *both).astype(np.float32) for both in zip(SOIL_SHADE, BOARD_SHADE, strict=True)]
    total, count = lights[0].astype(np.float32), np.ones(middle.shape[:2], np.float32)
    still = np.ones(middle.shape[:2], bool)
    for light in lights[1:]:
        away = cv2.GaussianBlur(colour_distance(to_lab(light), first, limits[0], limits[1]), (0, 0), 0.7)
        changed = cv2.dilate((away > CAME_UP).astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
        still &= ~changed
        total += np.where(still[..., None], light, 0.0)
        count += still
    return np.where(still[..., None], middle, total / count[..., None]).astype(np.float32)


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
    spread = median_of([np.abs(np.sqrt(np.clip(x.mean(axis=-1), 0, 1)) - grey) for x in lights])
    rough = cv2.blur(spread, (5, 5)) * 100.0
    return np.asarray(np.clip(rough - 2.0, 0.0, 6.0), dtype=np.float32)


def _board_model(
    middle: Floats, lights: Sequence[Floats], tray: Tray, known: Sequence[bool]
) -> tuple[Floats, Standing]:
    """Side view: a smooth board fitted above the soil lines, and what stood before it in the first photo."""
    first = lights[0]
    height, width = first.shape[:2]
    lines = [plant.soil_y_px for plant in tray.plants if plant.soil_y_px is not None]
    floor = min(height, int(max(lines, default=height - 1)) + 3)
    board = smooth_board(first[:floor])
    there = standing(lights, board, tray, known)
    usual = middle[:floor]
    usual_lab = to_lab(usual)
    board_lab = to_lab(board)
    stems = there.stands[:floor] & tints(usual_lab, board_lab, least_tint(board_lab, tray, known))[0]
    model = first.copy()
    leafy = _leafier(to_lab(first[:floor]), usual_lab)
    for k, rim in there.rims.items():
        plant = tray.plants[k]
        left, right = max(0, int(plant.box_px[0])), min(width, int(plant.box_px[2]) + 1)
        above = slice(0, max(0, rim - 3)), slice(left, right)
        model[above] = np.where(there.boardless[above][..., None], model[above], board[above])
        hung = _hung(leafy, there.stands, rim, (left, right))
        there.stands[:floor] |= hung
        model[:floor][hung] = usual[hung]
        _bare_soil(model, first, there.stands, stems, rim=rim, soil=int(plant.soil_y_px or 0), strip=(left, right))
    return model, there


def _leafier(lab: Floats, usual: Floats) -> Mask:
    """Where a photo plainly shows leaf and most do not."""
    chroma = np.hypot(lab[..., 1], lab[..., 2]) - np.hypot(usual[..., 1], usual[..., 2])
    greener = lab[..., 1] < usual[..., 1] - GREENER
    return np.asarray((greener | (chroma > MORE_CHROMA)) & (np.linalg.norm(lab - usual, axis=-1) > CAME_UP))


def _hung(leafy: Mask, stands: Mask, rim: int, strip: tuple[int, int]) -> Mask:
    """The part of a standing plant's leaves that hung before its pot in the first photo and has left since."""
    height = len(leafy)
    near = cv2.dilate(stands[:height].astype(np.uint8), np.ones((2 * BESIDE_PX + 1, 2 * BESIDE_PX + 1), np.uint8))
    out = np.zeros_like(leafy)
    rows, columns = slice(max(0, rim - 3), height), slice(*strip)
    out[rows, columns] = leafy[rows, columns] & near[rows, columns].astype(bool)
    return np.asarray(cv2.morphologyEx(out.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)).astype(bool))


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
