"""One decoded photo in, what the looks at it share out: pots or cells, marks, linear light, and where the board is."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.colour import Bytes, Floats, Mask, to_light
from sproutlapse.vision.scale import ASSUMED_MM, Mark, find_marks
from sproutlapse.vision.scout import CARD_SHARE, LONGEST_SIDE_PX
from sproutlapse.vision.scout_cells import Grid, cell_grid
from sproutlapse.vision.scout_pots import Pot, pots_in_a_row
from sproutlapse.vision.scout_surfaces import Surfaces, surfaces

LUMINANCE = np.array([0.2126, 0.7152, 0.0722], np.float32)  # IEC 61966-2-1
# Where neither pots nor cells are found, the upper part of a picture is looked at for the board.
UPPER_SHARE = 0.5
# A square seen 40 degrees aslant keeps this share of its width.
LEAST_SQUARE = 0.75


@dataclass(frozen=True)
class Row:
    """Where the plants stand in a side view, in pixels of the small picture: columns, and the row of the soil."""

    left: float
    right: float
    soil_y: float

    @property
    def width(self) -> float:
        """From the first pot's left rim to the last pot's right one."""
        return self.right - self.left


@dataclass(frozen=True)
class Sight:
    """What is seen in one photo. `shrink` pixels of the photo are one of the small picture.

    Attributes
    ----------
    picture
        (H, W, 3) the photo, sRGB.
    light
        (h, w, 3) linear light of the small picture.
    marks
        In pixels of the photo, largest first.
    card
        (h, w) where printed cards stand.
    view
        "side", "above", or None where neither pots nor cells were made out.
    pots, grid
        As found, in pixels of the small picture.
    row
        Where the plants stand; None from above.
    ground
        (h, w) what lies round the tray, or the board behind the pots.
    """

    picture: Bytes
    light: Floats
    shrink: float
    marks: list[Mark]
    card: Mask
    view: str | None
    pots: list[Pot]
    grid: Grid | None
    row: Row | None
    ground: Mask
    tray: Tray

    @property
    def luminance(self) -> Floats:
        """(h, w) brightness of the small picture in linear light."""
        return np.asarray(self.light @ LUMINANCE, dtype=np.float32)

    @property
    def mark_mm(self) -> float:
        """Side of the black square in mm as told, or as taken."""
        return self.tray.scale.marker_mm or ASSUMED_MM

    @property
    def mm_per_px(self) -> float | None:
        """Millimetres per pixel of the photo where the mark (or the known length) is, or None."""
        told = self.tray.scale
        if told.from_px and told.to_px and told.length_mm:
            return told.length_mm / float(np.hypot(told.to_px[0] - told.from_px[0], told.to_px[1] - told.from_px[1]))
        return self.mark_mm / self.marks[0].side_px if self.marks else None

    def in_mm(self, small_px: float) -> float | None:
        """A length in the small picture in mm, or None without a scale."""
        return None if self.mm_per_px is None else small_px * self.shrink * self.mm_per_px


def sight(picture: Bytes, tray: Tray) -> Sight:
    """Find what stands in one photo.

    Parameters
    ----------
    picture
        (H, W, 3) 8-bit sRGB, upright.
    tray
        What the person said; plants told there win over pots found.
    """
    small, shrink = _small(picture)
    marks = [mark for mark in _marks(picture, small, shrink) if _square(mark)]
    card = _cards(marks, shrink, (small.shape[0], small.shape[1]))
    seen = surfaces(small)
    grid, pots = _grid_or_pots(seen, card, tray.view.from_)
    view = tray.view.from_ or ("above" if grid is not None else "side" if pots else None)
    row = None if view == "above" else _row(tray.plants, pots, shrink)
    if view is None and row is not None:
        view = "side"
    return Sight(
        picture=picture,
        light=to_light(small),
        shrink=shrink,
        marks=marks,
        card=card,
        view=view,
        pots=pots,
        grid=grid,
        row=row,
        ground=_ground(seen, card, view, row),
        tray=tray,
    )


def _small(picture: Bytes) -> tuple[Bytes, float]:
    """A copy of a handy size by a whole factor, as the search for pots uses it."""
    factor = -(-max(picture.shape[:2]) // LONGEST_SIDE_PX)
    if factor == 1:
        return picture, 1.0
    size = (picture.shape[1] // factor, picture.shape[0] // factor)
    crop = picture[: size[1] * factor, : size[0] * factor]
    return np.asarray(cv2.resize(crop, size, interpolation=cv2.INTER_AREA), dtype=np.uint8), float(factor)


def _square(mark: Mark) -> bool:
    """Half of a covered mark is now and then read as a whole one of another number."""
    sides = np.linalg.norm(np.roll(mark.corners, -1, axis=0) - mark.corners, axis=1)
    return bool(sides.min() > LEAST_SQUARE * sides.max())


def _marks(picture: Bytes, small: Bytes, shrink: float) -> list[Mark]:
    """Marks in pixels of the photo; looked for in the small picture first, and measured on the photo round them."""
    rough = find_marks(small, to_light(small))
    if shrink == 1.0 or not rough:
        return rough if shrink == 1.0 else find_marks(picture, to_light(picture))
    spots = np.concatenate([mark.corners for mark in rough]) * shrink
    margin = round(rough[0].side_px * shrink)
    x0, y0 = np.maximum(spots.min(axis=0).astype(int) - margin, 0)
    x1, y1 = spots.max(axis=0).astype(int) + margin
    part = np.ascontiguousarray(picture[y0:y1, x0:x1])
    found = find_marks(part, to_light(part))
    return [Mark(mark.number, mark.corners + np.array([x0, y0], float)) for mark in found]


def _cards(marks: list[Mark], shrink: float, shape: tuple[int, int]) -> Mask:
    card = np.zeros(shape, np.uint8)
    for mark in marks:
        corners = (mark.corners + 0.5) / shrink - 0.5
        centre = corners.mean(axis=0)
        cv2.fillConvexPoly(card, np.round(centre + CARD_SHARE * (corners - centre)).astype(np.int32), 1)
    return card.astype(bool)


def _grid_or_pots(seen: Surfaces, card: Mask, view: str | None) -> tuple[Grid | None, list[Pot]]:
    grid = None if view == "side" else cell_grid(seen, ignore=card)
    if grid is not None or view == "above":
        return grid, []
    return None, pots_in_a_row(seen, ignore=card)


def _row(plants: tuple[Plant, ...], pots: list[Pot], shrink: float) -> Row | None:
    if pots:
        return Row(pots[0].left, pots[-1].right, float(np.median([pot.soil_y for pot in pots])))
    soils = [plant.soil_y_px for plant in plants if plant.soil_y_px is not None]
    if not soils:
        return None
    ends = min(p.box_px[0] for p in plants), max(p.box_px[2] for p in plants)
    return Row(ends[0] / shrink, ends[1] / shrink, float(np.median(soils)) / shrink)


def _ground(seen: Surfaces, card: Mask, view: str | None, row: Row | None) -> NDArray[np.bool_]:
    """Board above the soil line, or the table round a tray, a little off the edges of what stands before it."""
    height = card.shape[0]
    calm = cv2.erode((~seen.standing).astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool) & ~card
    if view == "above":
        return calm
    end = height * UPPER_SHARE if row is None else row.soil_y - 0.02 * height
    calm[max(int(end), 1) :] = False
    if calm.mean() > 0.05:
        return calm
    # A dark or patchy board is not told from other things: then all above the soil line is looked at.
    rest = ~card
    rest[max(int(end), 1) :] = False
    return rest
