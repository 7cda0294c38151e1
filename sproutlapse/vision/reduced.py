"""Between a photo's own pixels and those of the smaller picture that it is measured on, and back.

Large photos are decoded at a half or a quarter of their size, see `decode.shrink_to_measure`. The pixels of trays,
tables and films are always the photo's own.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.align import Matrix
from sproutlapse.vision.findings import Findings, PlantFinding

DECIMALS = 6  # of a pixel: more is the rounding of the way there and back
LENGTHS = ("height_px", "stem_px", "stem_width_px", "width_px", "top_doubt_px", "tips_px")
PLACES = ("foot_x_px", "top_x_px", "top_y_px")


def tray_reduced(tray: Tray, step: int) -> Tray:
    """A tray in the photo's own pixels, in those of a picture that is `step` times smaller."""
    return tray if step == 1 else _placed(tray, lambda x: (x - (step - 1) / 2) / step)


def tray_enlarged(tray: Tray, step: int, size: tuple[int, int]) -> Tray:
    """A tray in the pixels of a picture that is `step` times smaller, in the photo's own; no box reaches beyond its
    `size` (width, height)."""
    if step == 1:
        return tray
    out = _placed(tray, lambda x: round(x * step + (step - 1) / 2, DECIMALS))
    right, bottom = size[0] - 1.0, size[1] - 1.0
    boxes = [plant.box_px for plant in out.plants]
    kept = [(max(0.0, a), max(0.0, b), min(right, c), min(bottom, d)) for a, b, c, d in boxes]
    plants = [plant.model_copy(update={"box_px": box}) for plant, box in zip(out.plants, kept, strict=True)]
    return out.model_copy(update={"plants": tuple(plants)})


def _placed(tray: Tray, move: Callable[[float], float]) -> Tray:
    plants = tuple(_plant(plant, move) for plant in tray.plants)
    ends = {key: getattr(tray.scale, key) for key in ("from_px", "to_px")}
    moved = {key: tuple(move(v) for v in end) for key, end in ends.items() if end is not None}
    return tray.model_copy(update={"plants": plants, "scale": tray.scale.model_copy(update=moved)})


def _plant(plant: Plant, move: Callable[[float], float]) -> Plant:
    soil = None if plant.soil_y_px is None else move(plant.soil_y_px)
    return plant.model_copy(update={"box_px": tuple(move(v) for v in plant.box_px), "soil_y_px": soil})


def mm_enlarged(mm_per_px: Sequence[float | None], step: int) -> tuple[float | None, ...]:
    """Millimetres per pixel of the photo from those of a picture that is `step` times smaller."""
    return tuple(None if mm is None else mm / step for mm in mm_per_px)


def matrix_reduced(matrix: Matrix, step: int) -> Matrix:
    """A (2, 3) matrix between photos, between pictures that are `step` times smaller."""
    return _scaled(matrix, 1 / step, -(step - 1) / (2 * step))


def matrix_enlarged(matrix: Matrix, step: int) -> Matrix:
    """A (2, 3) matrix between pictures that are `step` times smaller, between the photos."""
    return _scaled(matrix, float(step), (step - 1) / 2)


def _scaled(matrix: Matrix, scale: float, start: float) -> Matrix:
    """A matrix between pictures whose pixels were x, where they are scale * x + start now."""
    out = np.array(matrix, float)
    centre = np.full(2, start)
    out[:, 2] = scale * out[:, 2] + centre - out[:, :2] @ centre
    return out


def enlarged(found: Findings, step: int) -> Findings:
    """Findings of a picture that is `step` times smaller, in the photo's own pixels.

    The label picture stays small; `labels.labels_enlarged` brings it to the photo's size.
    """
    if step == 1:
        return found
    matrix = matrix_enlarged(np.reshape(found.matrix, (2, 3)), step)
    return replace(
        found,
        matrix=tuple(float(v) for v in matrix.ravel()),
        shift_px=found.shift_px * step,
        plants=tuple(_finding(plant, step) for plant in found.plants),
        pots_px=tuple(None if way is None else (way[0] * step, way[1] * step) for way in found.pots_px),
        step=step,
    )


def _finding(plant: PlantFinding, step: int) -> PlantFinding:
    lengths = {key: getattr(plant, key) for key in LENGTHS}
    places = {key: getattr(plant, key) for key in PLACES}
    return replace(
        plant,
        tissue_px=plant.tissue_px * step**2,
        **{key: value * step for key, value in lengths.items() if value is not None},
        **{key: value * step + (step - 1) / 2 for key, value in places.items() if value is not None},
    )
