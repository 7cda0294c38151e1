"""The bare stage as it lies in a photo: brought to a camera that moved, with pots where they stand and soil as it was
turned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from sproutlapse.tray import Tray
from sproutlapse.vision import align, lifted, regrained
from sproutlapse.vision.colour import Floats, Mask, to_lab
from sproutlapse.vision.cover import soil_strip
from sproutlapse.vision.reference import DARK_L, Reference
from sproutlapse.vision.share import Labels

# Where pots were moved, the bare stage that did not move is taken for right only where it is so many times nearer to
# the photo than the one moved along, and that one is more unlike it than noise (linear light, squared).
MUCH_NEARER, ALIKE = 4.0, 2e-3


@dataclass(frozen=True)
class LaidStage:
    """The bare stage as it lies in the photo; attributes as of `Reference`."""

    light: Floats
    lab: Floats
    dark: Mask
    labels: Mask
    tolerance: Floats

    def cut(self, rows: slice, columns: slice) -> LaidStage:
        """A part of it."""
        here = (rows, columns)
        return LaidStage(self.light[here], self.lab[here], self.dark[here], self.labels[here], self.tolerance[here])


def laid_stage(
    reference: Reference, tray: Tray, placed: align.Placement, stood: Sequence[lifted.Stood], *, moved: bool
) -> LaidStage:
    """The bare stage brought to the photo, not the photo to it, so that every pixel stays as the camera gave it.

    With `moved` each pot is moved to where it stands in the photo, and the board behind it along.
    """
    light, lab, tolerance = reference.light, reference.lab, reference.tolerance
    dark, labels = reference.dark, reference.labels
    if not moved and not placed.moved:
        return LaidStage(light, lab, dark, labels, tolerance)
    back = align.inverse(placed.matrix) if placed.moved else None

    def brought(plane: Floats, *, smooth: bool) -> Floats:
        if moved:
            plane = lifted.with_pots_moved(plane, tray, stood, smooth=smooth)
        return plane if back is None else align.warped(plane, back, smooth=smooth)

    light = np.maximum(brought(light, smooth=True), np.float32(0.0))
    lab = to_lab(light)
    dark, labels = (brought(m.astype(np.float32), smooth=False) > 0.5 for m in (dark, labels))
    return LaidStage(light, lab, dark, labels, brought(tolerance, smooth=False) + _edge_doubt(lab))


def nearer(light: Floats, still: LaidStage, moved: LaidStage) -> LaidStage:
    """Of two bare stages the one that looks more like the photo, pixel by pixel.

    A pot that was put back elsewhere took its label along, but not the board behind it.
    """
    apart_moved, apart_still = (
        cv2.blur(np.asarray(((light - one.light) ** 2).sum(axis=-1), dtype=np.float32), (5, 5))
        for one in (moved, still)
    )
    near = apart_moved <= MUCH_NEARER * apart_still + ALIKE
    wide = near[..., None]
    return LaidStage(
        np.where(wide, moved.light, still.light),
        np.where(wide, moved.lab, still.lab),
        np.where(near, moved.dark, still.dark),
        still.labels | moved.labels,
        np.maximum(moved.tolerance, still.tolerance),
    )


def with_turned_soil(
    light: Floats, stages: tuple[LaidStage, LaidStage], tray: Tray, placed: align.Placement, corner: tuple[int, int]
) -> tuple[LaidStage, tuple[float | None, ...]]:
    """The bare stage where a pot's soil shows another pattern, and how well each soil's pattern is its own.

    Parameters
    ----------
    light
        The part of the photo that holds plants, in the stage's light.
    stages
        The bare stage, and the one on which each pot was moved along to where it stands.
    tray
        As its pots stand in the photo.
    corner
        Column and row of the whole photo at which that part begins.
    """
    stage, along = stages
    lab: Floats | None = None
    patterns: list[float | None] = []
    for plant in tray.plants:
        if plant.soil_y_px is None:
            patterns.append(None)
            continue
        strip, pot, above = (
            _in_part(box, placed.matrix, corner)
            for box in (soil_strip(plant, above=False), regrained.soil_and_rim(plant), regrained.above_soil(plant))
        )
        same = regrained.soil_pattern(light, (stage.light, stage.lab), stage.labels, strip)
        patterns.append(same)
        if same is None or same >= regrained.OWN_PATTERN:
            continue
        lab = to_lab(light) if lab is None else lab
        moved = regrained.with_label_moved((light, lab), stage.light, (along.lab, along.labels), stage.labels, above)
        if moved is not None:
            own, labels = moved
            other = np.any(own != stage.light, axis=-1)
            tolerance = stage.tolerance + np.where(other, np.float32(regrained.UNSURE), np.float32(0.0))
            stage = LaidStage(own, to_lab(own), stage.dark, labels, tolerance)
        part, soil, changed = regrained.with_soil_colours(lab, stage.light, stage.lab, stage.labels, pot)
        own, tolerance, dark = stage.light.copy(), stage.tolerance.copy(), stage.dark.copy()
        own[part] = soil
        tolerance[part] += np.where(changed, np.float32(regrained.UNSURE), np.float32(0.0))
        own_lab = to_lab(own)
        dark[part] = np.where(changed, own_lab[part][..., 0] < DARK_L, dark[part])
        stage = LaidStage(own, own_lab, dark, stage.labels, tolerance)
    return stage, tuple(patterns)


def without_crumbs(labels: Labels, patterns: Sequence[float | None], tray: Tray, placed: align.Placement) -> Labels:
    """The label picture without soil that was taken for plant in pots whose soil shows another pattern."""
    for k, (same, plant) in enumerate(zip(patterns, tray.plants, strict=True)):
        if same is not None and same < regrained.OWN_PATTERN:
            own = labels == k + 1
            box = _in_part(regrained.soil_and_rim(plant), placed.matrix, (0, 0))
            labels[own & ~regrained.without_crumbs(own, box)] = 0
    return labels


def _in_part(box: tuple[float, float, float, float], matrix: align.Matrix, corner: tuple[int, int]) -> regrained.Box:
    """Left, top, right, bottom in a part of the photo of a box of the tray's pixels."""
    corners = np.array([[box[0], box[1]], [box[2], box[1]], [box[0], box[3]], [box[2], box[3]]], float)
    spots = align.move(align.inverse(matrix), corners) - corner
    (left, top), (right, bottom) = spots.min(axis=0), spots.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def _edge_doubt(lab: Floats) -> Floats:
    """CIELAB distance that a fifth of a pixel of misplacement may make at the stage's edges."""
    steep = np.zeros(lab.shape[:2], np.float32)
    for k in range(3):
        plane = np.ascontiguousarray(lab[..., k])
        steep = np.maximum(
            steep, np.hypot(cv2.Scharr(plane, cv2.CV_32F, 1, 0), cv2.Scharr(plane, cv2.CV_32F, 0, 1)) / 32
        )
    return 0.2 * steep
