"""Soil whose crumbs and specks lie otherwise than on the bare stage, as after a pot was turned or its soil was stirred:
told by its pattern, and then looked at by the colours that soil has there, not pixel by pixel.

A label in such a pot was turned along: the board is seen where it stood, and it stands elsewhere.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from sproutlapse.tray import Plant
from sproutlapse.vision.bare import smooth_board
from sproutlapse.vision.colour import Floats, Mask, colour_distance, grey_of, to_lab
from sproutlapse.vision.soil import crumb_light
from sproutlapse.vision.tissue import BOARD_SHADE, FAINT, FAINT_ON_BOARD, SOIL_SHADE

# All found on rendered shelves with pots that were turned and pots that were not; no published values.
LEAST_PX = 150  # of bare soil in view: fewer do not tell a pattern
LEAF_TINT = 20.0  # of a* and b* off the bare stage's: a leaf
# Correlation of the crumbs and specks with those of the bare stage: 0.28 to 0.46 in pots that were turned, 0.63 to 0.99
# in others, watered, grown over or photographed at half the size.
OWN_PATTERN = 0.54
SOIL_TINT = 14.0  # of a* and b* about the middle one: the colours of soil and its specks, without the pot's rim
RELIEF_PX = 3  # so much lower or higher soil may meet the rim after its pot was turned
RIM_SHARE = 0.10  # of a pot's strip: so far above and below its soil line its rim and soil may be seen
COLOURS = 24  # of soil, from its darkest to its brightest
UNSURE = 3.0  # CIELAB distance allowed more where the pattern is not known
RIM_PX = 5  # about a label: its blurred edge
LABEL_SHADE = (0.80, 1.10)  # cube roots of how a label may be lit when it faces elsewhere
LABEL_SHARE = 0.1  # of a label's area is found again: the rest looks like the board behind it

Box = tuple[float, float, float, float]


def soil_and_rim(plant: Plant) -> Box:
    """Where a pot's soil and the rim before it may be seen, from the side."""
    left, _, right, _ = plant.box_px
    soil, wide = plant.soil_y_px or 0.0, right - left
    return left, soil - RIM_SHARE * wide, right, soil + RIM_SHARE * wide


def above_soil(plant: Plant) -> Box:
    """A plant's strip down to its soil line."""
    left, top, right, _ = plant.box_px
    return left, top, right, plant.soil_y_px or 0.0


def soil_pattern(light: Floats, bare: tuple[Floats, Floats], labels: Mask, box: Box) -> float | None:
    """How well the soil's crumbs and specks lie where they do on the bare stage: a correlation, about 1 for the same
    soil and well below for another; None where too little soil is seen.

    Parameters
    ----------
    light
        (height, width, 3) light of the photo, in the stage's light.
    bare
        Light (height, width, 3) of the bare stage and its CIELAB values, same geometry.
    labels
        (height, width) labels on the stage.
    box
        Left, top, right and bottom of the pot's soil.
    """
    stage, stage_lab = bare
    part = rows, columns = box_part(box, stage.shape)
    if min(rows.stop - rows.start, columns.stop - columns.start) < 3:
        return None
    tint = np.linalg.norm(to_lab(light[part])[..., 1:] - stage_lab[part][..., 1:], axis=-1)
    free = cv2.erode((tint < LEAF_TINT).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    free &= ~labels[part]
    if int(free.sum()) < LEAST_PX:
        return None
    here, there = (_without_rows(crumb_light(grey_of(one[part])), free)[free] for one in (light, stage))
    spread = float(here.std() * there.std())
    if spread <= 0:
        return None
    return round(float(((here - here.mean()) * (there - there.mean())).mean()) / spread, 3)


def _without_rows(grey: Floats, free: Mask) -> Floats:
    """Each row less its mean, the brightest and darkest hundredth cut off: a pot's rim is no pattern."""
    low, high = np.percentile(grey[free], [1, 99])
    cut = np.clip(grey, low, high)
    mean = (cut * free).sum(axis=1) / np.maximum(free.sum(axis=1), 1)
    return np.asarray(cut - mean[:, None], dtype=np.float32)


def with_soil_colours(
    lab: Floats, stage: Floats, stage_lab: Floats, labels: Mask, box: Box
) -> tuple[tuple[slice, slice], Floats, Mask]:
    """The bare stage of soil whose pattern is not known: at each pixel the soil colour nearest to what is seen there.

    Parameters
    ----------
    lab
        (height, width, 3) CIELAB of the photo.
    stage, stage_lab
        (height, width, 3) light and CIELAB of the bare stage.
    labels
        (height, width) labels on the stage.
    box
        Left, top, right and bottom of the pot's soil and rim.

    Returns
    -------
    part, light, changed
        Rows and columns, the new light there, and where it is another.
    """
    part = box_part(box, stage.shape)
    own, own_lab, seen = stage[part], stage_lab[part], lab[part]
    free = ~labels[part]
    none = np.zeros(free.shape, bool)
    if int(free.sum()) < LEAST_PX:
        return part, own, none
    middle = np.median(own_lab[free][:, 1:], axis=0)
    soil = free & (np.linalg.norm(own_lab[..., 1:] - middle, axis=-1) < SOIL_TINT)
    order = np.argsort(own_lab[soil][:, 0], kind="stable")
    if len(order) < COLOURS:
        return part, own, none
    picks = own[soil][order[np.linspace(0, len(order) - 1, COLOURS).round().astype(int)]]
    pick_lab = to_lab(picks[None])[0]
    limits = [np.full(free.shape, value, np.float32) for value in SOIL_SHADE]
    # Soil is not flat: with the pot its hollows and heaps were turned, so that it meets the rim lower or higher.
    places = [np.clip(np.arange(len(own)) + step, 0, len(own) - 1) for step in range(-RELIEF_PX, RELIEF_PX + 1) if step]
    others = [(own[rows], own_lab[rows]) for rows in places]
    others += [
        (np.broadcast_to(x, own.shape), np.broadcast_to(y, own.shape)) for x, y in zip(picks, pick_lab, strict=True)
    ]
    least = np.minimum(np.float32(FAINT), colour_distance(seen, own_lab, *limits))
    out, near = own.copy(), none
    for light, other_lab in others:
        away = colour_distance(seen, np.asarray(other_lab, dtype=np.float32), *limits)
        better = free & (away < least)
        out[better], near = light[better], near | better
        least = np.where(better, away, least)
    return part, out, near


def with_label_moved(
    seen: tuple[Floats, Floats], stage: Floats, own: tuple[Floats, Mask], labels: Mask, place: Box
) -> tuple[Floats, Mask] | None:
    """The bare stage with a pot's label where it stands in the photo, and the labels then; None if the pot has none or
    it stands where it did.

    Parameters
    ----------
    seen
        Light (height, width, 3) of the photo and its CIELAB values.
    stage
        (height, width, 3) light of the bare stage, same geometry and light.
    own
        CIELAB of the bare stage and (height, width) labels on it, each pot moved along to where it stands.
    labels
        (height, width) places where the stage shows a label, those of pots that went away too.
    place
        Left, top, right and bottom of its strip down to the soil.
    """
    light, lab = seen
    own_lab, own_labels = own
    strip = box_part(place, stage.shape)
    mine, old = np.zeros_like(labels), np.zeros_like(labels)
    mine[strip] = own_labels[strip]
    old[strip] = labels[strip] | own_labels[strip]
    area = int(mine.sum())
    if area < LEAST_PX:
        return None
    wide = cv2.dilate(old.astype(np.uint8), np.ones((2 * RIM_PX + 1,) * 2, np.uint8)) > 0
    wide[strip[0].stop :] = False
    board = _board_continued(stage, wide, labels | own_labels, strip, place)
    board_lab = to_lab(board)
    to_board, to_label = (np.linalg.norm(lab[mine] - one[mine], axis=-1) for one in (board_lab, own_lab))
    if float((to_board < to_label).mean()) <= 0.5:
        return None
    out, out_labels = np.where(wide[..., None], board, stage).astype(np.float32), labels & ~old
    tall = int(np.ptp(np.flatnonzero(mine.any(axis=1)))) + 1
    new = _label_again(lab[strip], to_lab(out[strip]), np.median(own_lab[mine], axis=0), (area, tall))
    if new is not None:
        out[strip] = np.where(new[..., None], light[strip], out[strip])
        out_labels[strip] |= new
    return out, out_labels


def _board_continued(stage: Floats, wide: Mask, labels: Mask, strip: tuple[slice, slice], place: Box) -> Floats:
    """The stage with the board, and from a pot's rim down the soil, continued to where labels hide it."""
    board = stage.copy()
    board[: strip[0].stop] = smooth_board(stage[: strip[0].stop])
    rim = max(0, round(place[3] - RIM_SHARE * (place[2] - place[0])))
    for row in range(rim, strip[0].stop):
        hidden = np.flatnonzero(wide[row])
        beside = np.flatnonzero(~labels[row, strip[1]] & ~wide[row, strip[1]]) + strip[1].start
        if len(hidden) and len(beside):
            board[row, hidden] = np.column_stack([np.interp(hidden, beside, stage[row, beside, c]) for c in range(3)])
    return board


def _label_again(lab: Floats, stage_lab: Floats, colour: Floats, size: tuple[int, int]) -> Mask | None:
    """Where in a pot's strip its label of a size (area and height) stands now; None if it is not found.

    Its writing is told from leaves before it by lying within it: a leaf comes in from beside it.
    """
    area, tall = size
    board, label = ([np.full(lab.shape[:2], v, np.float32) for v in limits] for limits in (BOARD_SHADE, LABEL_SHADE))
    like = colour_distance(lab, np.broadcast_to(colour, lab.shape).astype(np.float32), *label) < FAINT_ON_BOARD
    from_board = colour_distance(lab, stage_lab, *board)
    paper = like & (from_board > FAINT_ON_BOARD / 2)
    found = cv2.morphologyEx(paper.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    found = cv2.morphologyEx(found, cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8))
    count, _, stats, _ = cv2.connectedComponentsWithStats(found, connectivity=8)
    if count < 2:
        return None
    largest = 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())
    if int(stats[largest, cv2.CC_STAT_AREA]) < LABEL_SHARE * area:
        return None
    left, top, wide, high, _ = (int(v) for v in stats[largest])
    face = np.zeros(lab.shape[:2], bool)
    lowest, highest = min(top + tall, len(face)), max(0, top + high - tall)
    face[min(top, highest) : lowest, max(0, left - RIM_PX) : left + wide + RIM_PX] = True
    out = cv2.dilate((paper & face).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    _, rest = cv2.connectedComponents((~like & (from_board > FAINT_ON_BOARD)).astype(np.uint8), connectivity=8)
    outside = np.unique(rest[~face])
    writing = (rest > 0) & ~np.isin(rest, outside)
    writing = cv2.dilate(writing.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    leaf = cv2.dilate(((rest > 0) & np.isin(rest, outside)).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    return np.asarray(face & (out | writing) & ~leaf)


def without_crumbs(own: Mask, box: Box) -> Mask:
    """A plant in a pot whose soil shows another pattern, without what lies about on that soil: patches that end below
    the rim, where others rise above it. A sprout that does not reach above the rim stays.

    Parameters
    ----------
    own
        (height, width) pixels taken for the plant.
    box
        Left, top, right and bottom of the pot's soil and rim.
    """
    count, patch, stats, _ = cv2.connectedComponentsWithStats(own.astype(np.uint8), connectivity=8)
    rises = stats[:, cv2.CC_STAT_TOP] < box[1]
    rises[0] = False
    return np.asarray(rises[patch]) if count > 1 and rises.any() else own


def box_part(box: Sequence[float], shape: Sequence[int]) -> tuple[slice, slice]:
    """Rows and columns of a box, cut off at the picture's edge."""
    left, top, right, bottom = box
    rows = slice(int(np.clip(np.floor(top), 0, shape[0])), int(np.clip(np.ceil(bottom) + 1, 0, shape[0])))
    return rows, slice(int(np.clip(np.floor(left), 0, shape[1])), int(np.clip(np.ceil(right) + 1, 0, shape[1])))
