"""How light and how rough the soil of each pot or cell looks against the bare stage.

Wet soil is darker and its light specks lose most: both figures fall when it is watered, and rise as it dries.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from sproutlapse.tray import Tray
from sproutlapse.vision import align
from sproutlapse.vision.colour import Floats, Mask, grey_of
from sproutlapse.vision.cover import in_photo, soil_strip
from sproutlapse.vision.light import Lighting

LEAST_PX = 40  # of soil that no plant hides
LEAF_RIM_PX = 3  # as far round tissue nothing is read: its shadow and its blurred edge
# Crumbs and specks are what differs between these two blurs; finer detail suffers where a picture is laid over another.
CRUMB_PX, CLOD_PX = 0.8, 2.5

Soil = tuple[float, float] | None  # light and roughness over those of the bare stage


def soil_look(
    light: Floats,
    bare: Floats,
    tissue: Mask,
    lighting: Lighting,
    *,
    labels: Mask,
    tray: Tray,
    matrix: align.Matrix,
    shifts: Sequence[tuple[float, float] | None] = (),
) -> tuple[Soil, ...]:
    """Light and roughness of each plant's soil over those of the bare stage, in tray order; None where too little of it
    is seen.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the photo.
    bare
        The same of the bare stage, in the reference's pixels.
    tissue
        (height, width) plants in the photo.
    lighting
        The photo's light over the stage's.
    labels
        (height, width) labels on the stage.
    tray
        The complete tray.
    matrix
        From the photo's pixels to the reference's.
    shifts
        How far each pot stands from its place, right and down in the reference's pixels; None if it is not there.
    """
    above = tray.view.from_ == "above"
    height, width = light.shape[:2]
    back, still = align.inverse(matrix), np.array_equal(matrix, np.eye(2, 3))
    out: list[Soil] = []
    for k, plant in enumerate(tray.plants):
        shift = shifts[k] if shifts else (0.0, 0.0)
        rows, columns = in_photo(soil_strip(plant, above=above), None, bare.shape)
        if shift is None or min(rows.stop - rows.start, columns.stop - columns.start) < 3:
            out.append(None)
            continue
        if still and shift == (0.0, 0.0):
            here = rows, columns
            hidden, own, lit = tissue[here], light[here], lighting.field(height, width, here)
        else:
            x, y = np.meshgrid(np.arange(columns.start, columns.stop), np.arange(rows.start, rows.stop))
            places = align.move(back, np.column_stack([x.ravel() + shift[0], y.ravel() + shift[1]]).astype(np.float64))
            there = places.reshape(*x.shape, 2).astype(np.float32)
            hidden = _at(tissue.astype(np.float32), there, outside=1.0) > 0
            own, lit = _at(light, there), _at(lighting.field(height, width), there, outside=1.0)
        hidden = cv2.dilate(hidden.astype(np.uint8), np.ones((2 * LEAF_RIM_PX + 1,) * 2, np.uint8)) > 0
        seen = grey_of(own / np.maximum(lit, np.float32(1e-4)))
        out.append(_compared(seen, grey_of(bare[rows, columns]), ~hidden & ~labels[rows, columns]))
    return tuple(out)


def _compared(seen: Floats, stage: Floats, free: Mask) -> Soil:
    if int(free.sum()) < LEAST_PX:
        return None
    crumbs, stage_crumbs = (float(np.mean(crumb_light(one)[free] ** 2)) for one in (seen, stage))
    lighter = float(seen[free].sum()) / max(float(stage[free].sum()), 1e-4)
    return round(lighter, 5), round(float(np.sqrt(crumbs / max(stage_crumbs, 1e-9))), 5)


def crumb_light(grey: Floats) -> Floats:
    """What differs between two blurs of the root of linear light: crumbs and specks, without shades and noise."""
    root = np.sqrt(np.clip(grey, 0, None))
    return np.asarray(cv2.GaussianBlur(root, (0, 0), CRUMB_PX) - cv2.GaussianBlur(root, (0, 0), CLOD_PX), np.float32)


def _at(plane: Floats, places: Floats, *, outside: float = 0.0) -> Floats:
    """A plane's values at places of the photo."""
    across, down = cv2.split(places)
    return np.asarray(cv2.remap(plane, across, down, cv2.INTER_LINEAR, borderValue=outside), dtype=np.float32)
