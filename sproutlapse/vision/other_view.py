"""A camera that was set up anew: the same pots from another side or distance, found again and given their old names, or
the reason why that would be a guess."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import TrayError
from sproutlapse.tray import Plant, Tray, View
from sproutlapse.vision import align
from sproutlapse.vision.colour import Bytes, to_light
from sproutlapse.vision.reference import brought_together, card_marks, to_pictures
from sproutlapse.vision.row_depth import Depths, Row, depths, row_of
from sproutlapse.vision.scout import Scouted, scout
from sproutlapse.vision.stands import features, guesses, similarity

# Own proposals, tried on turned and rendered views; no published values.
LEAST_TURN_DEG = 0.5  # a picture turned by less is not turned upright
MOST_TURN_DEG = 60.0  # a guess beyond this is none: nobody stands a camera on its side and keeps the picture's shape
LARGER, SMALLER = 2.5, 0.4  # a guess of another scale is none
SIDE = View.model_validate({"from": "side"})
NEAR_X, NEAR_Y = 0.4, 0.6  # of the pots' spacing: so near must a pot be found to where its name is expected


@dataclass(frozen=True)
class OldView:
    """The view before the camera was moved.

    Attributes
    ----------
    first
        Pictures that its reference was made from, so that its pots can be found the same way as those of the new view.
    last
        The last photo of it that was measured.
    matrix
        (2, 3) takes the pixels of `last` to those of `tray`.
    upright
        (2, 3) takes those of `first` there.
    tray
        What stands in view.
    row
        Its pots in mm as the very first view shows them, by plant; None where they are not found there.
    """

    first: Sequence[Bytes]
    last: Bytes
    matrix: align.Matrix
    upright: align.Matrix
    tray: Tray
    row: Row | None = None


@dataclass(frozen=True)
class NewView:
    """The same pots in the new view.

    Attributes
    ----------
    tray
        With the old names, in the pixels of the first photo turned upright.
    upright
        (2, 3) turns the photos so; None where they stand upright.
    to_old
        (2, 3) takes the pixels of `tray` to about those of the old view's, by the pots' feet.
    depths
        How much further away than the mark each plant stands.
    """

    tray: Tray
    upright: align.Matrix | None
    to_old: align.Matrix
    depths: Depths


class NamesInDoubt(Exception):  # noqa: N818 - no fault of anybody
    """Why names cannot be carried over; the message ends a sentence."""


def carried(old: OldView, pictures: Sequence[Bytes], frame: str) -> NewView:
    """The tray in a new view.

    Names go along only if as many pots are found, each near to where the printed mark or what else is recognised in
    both pictures lets it expect, and no other one there.

    Parameters
    ----------
    old
        The view before.
    pictures
        The first photos of the new view, decoded, of one size.
    frame
        The name of the first of them.

    Raises
    ------
    NamesInDoubt
        If which pot is which would be a guess, or no scale is known in the new view.
    """
    if old.tray.view.from_ == "above":
        raise NamesInDoubt("from above, cells look alike from every side")
    if not old.tray.plants:
        raise NamesInDoubt("no pots are known")
    found_before = _found(brought_pictures(old.first, old.upright), old.tray).tray.plants
    here, there = (features(align.tracking_grey(to_light(picture))) for picture in (pictures[0], old.last))
    together = brought_pictures(pictures, None)
    doubt = "neither the printed mark nor anything else is recognised in both views"
    for guess in guesses(here, there):
        matrix = align.chained(old.matrix, guess)
        turn, scale = _turn_and_scale(matrix)
        if abs(turn) > MOST_TURN_DEG or not SMALLER < scale < LARGER:
            continue
        upright = _upright(turn, pictures[0].shape)
        turned = together if upright is None else [_turned(picture, upright) for picture in together]
        own = matrix if upright is None else align.chained(matrix, align.inverse(upright))
        try:
            found = _found(turned, old.tray)
            order = _order(old.tray.plants, found.tray.plants, own)
        except NamesInDoubt as why:
            doubt = str(why)
            continue
        plants = _plants(old.tray.plants, found_before, [found.tray.plants[k] for k in order], turned[0].shape)
        tray = _tray(old.tray, plants, scale, frame)
        mark = _mark_x(turned, tray)
        if mark is None:
            raise NamesInDoubt("the printed mark is not seen there, so that no millimetres are known")
        back = similarity(_feet(plants), _feet(old.tray.plants)) if len(plants) > 1 else None
        away = Depths((1.0,) * len(plants))
        if old.row is not None:
            away = depths(old.row, row_of([found.rims[k] for k in order], mark, [1.0] * len(plants)))
        return NewView(tray, upright, own if back is None else back, away)
    raise NamesInDoubt(doubt)


def straight_row(pictures: Sequence[Bytes], tray: Tray, mm_per_px: Sequence[float]) -> Row | None:
    """The row of pots as the first view shows it, by plant; None where not all of its pots are found.

    Parameters
    ----------
    pictures
        The first photos.
    tray
        As they stand there.
    mm_per_px
        One a plant.
    """
    still = brought_pictures(pictures, None)
    found, mark = _found(still, tray), _mark_x(still, tray)
    if mark is None or len(found.tray.plants) != len(tray.plants):
        return None
    try:
        order = _order(tray.plants, found.tray.plants, np.eye(2, 3))
    except NamesInDoubt:
        return None
    return row_of([found.rims[k] for k in order], mark, mm_per_px)


def _mark_x(pictures: Sequence[Bytes], tray: Tray) -> float | None:
    """Column of the printed mark's middle."""
    lights = np.stack([to_light(picture) for picture in pictures])
    marks = card_marks(np.median(lights, axis=0).astype(np.float32), tray)
    return float(marks[0].corners[:, 0].mean()) if marks else None


def brought_pictures(pictures: Sequence[Bytes], upright: align.Matrix | None) -> list[Bytes]:
    """Photos in the geometry and light of the first, turned upright."""
    own = to_pictures(brought_together(pictures))
    still = upright is None or np.array_equal(upright, np.eye(2, 3))
    return own if still or upright is None else [_turned(picture, upright) for picture in own]


def _turned(picture: Bytes, matrix: align.Matrix) -> Bytes:
    size = (picture.shape[1], picture.shape[0])
    out = cv2.warpAffine(picture, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(out, dtype=np.uint8)


def _turn_and_scale(matrix: align.Matrix) -> tuple[float, float]:
    """Degrees, and how many of the old view's pixels one of the new view's is."""
    along = complex(matrix[0, 0], matrix[1, 0])
    return float(np.degrees(np.angle(along))), abs(along)


def _upright(turn: float, shape: tuple[int, ...]) -> align.Matrix | None:
    """Turns a picture about its middle as the guess turns it; None for next to nothing."""
    if abs(turn) < LEAST_TURN_DEG:
        return None
    middle = ((shape[1] - 1) / 2, (shape[0] - 1) / 2)
    # OpenCV counts angles against the clock where y points down.
    return np.asarray(cv2.getRotationMatrix2D(middle, -turn, 1.0), dtype=np.float64)


def _found(pictures: Sequence[Bytes], tray: Tray) -> Scouted:
    """Pots from left to right as they are found without a name; none if there are none."""
    try:
        return scout(pictures, given=Tray(view=SIDE, scale=tray.scale))
    except TrayError:
        return Scouted(Tray(view=SIDE), ())


def _feet(plants: Sequence[Plant]) -> NDArray[np.float64]:
    """(n, 2) where the plants leave the soil, about."""
    rows = [((p.box_px[0] + p.box_px[2]) / 2, p.box_px[3] if p.soil_y_px is None else p.soil_y_px) for p in plants]
    return np.array(rows, dtype=np.float64).reshape(-1, 2)


def _order(plants: Sequence[Plant], now: Sequence[Plant], matrix: align.Matrix) -> list[int]:
    """For each plant which of the pots is its own.

    Parameters
    ----------
    plants
        As they stand in the old view.
    now
        Pots as they were found in the new view.
    matrix
        (2, 3) takes the new view's pixels to about those of the old one.
    """
    if len(now) != len(plants):
        raise NamesInDoubt(f"{len(plants)} pots are known and {len(now)} are found there")
    feet, spots = _feet(plants), align.move(matrix, _feet(now))
    off = np.abs(spots[None] - feet[:, None])
    space = _space(plants)
    near = (off[..., 0] < NEAR_X * space) & (off[..., 1] < NEAR_Y * space)
    if not (near.sum(axis=0) == 1).all() or not (near.sum(axis=1) == 1).all():
        raise NamesInDoubt("which pot is which cannot be told")
    return [int(k) for k in near.argmax(axis=1)]


def _space(plants: Sequence[Plant]) -> float:
    """From one pot to the next, in pixels; a box's width for a single one."""
    if len(plants) > 1:
        return float(np.median(np.diff(np.sort(_feet(plants)[:, 0]))))
    return plants[0].box_px[2] - plants[0].box_px[0]


def _plants(
    plants: Sequence[Plant], before: Sequence[Plant], now: Sequence[Plant], shape: tuple[int, ...]
) -> tuple[Plant, ...]:
    """The plants in the new view.

    Parameters
    ----------
    plants, before
        As they stand in the old view, and pots as they were found in it.
    now
        Each plant's pot in the new view.
    shape
        Of the pictures.
    """
    was = _as_found(_feet(plants), before, _space(plants))
    return tuple(_placed(plant, old, new, shape) for plant, old, new in zip(plants, was, now, strict=True))


def _as_found(feet: NDArray[np.float64], before: Sequence[Plant], space: float) -> list[Plant | None]:
    """For each plant the pot that is found at its place in the old view."""
    if not before:
        return [None] * len(feet)
    off = np.abs(_feet(before)[None] - feet[:, None])
    best = off[..., 0].argmin(axis=1)
    return [
        before[int(b)] if (off[k, b] < (NEAR_X * space, NEAR_Y * space)).all() else None for k, b in enumerate(best)
    ]


def _placed(plant: Plant, old: Plant | None, new: Plant, shape: tuple[int, ...]) -> Plant:
    """A plant in the new view: as its pot is found there, and as far beside that as what was written for the old view
    lies beside what is found in it."""
    box, soil = new.box_px, new.soil_y_px
    if old is not None and old.soil_y_px is not None and plant.soil_y_px is not None and soil is not None:
        larger = (box[2] - box[0]) / (old.box_px[2] - old.box_px[0])
        edges = [n + larger * (p - o) for n, p, o in zip(box, plant.box_px, old.box_px, strict=True)]
        low = (0.0, 0.0, edges[0] + 1, edges[1] + 1)
        high = (shape[1] - 1.0, shape[0] - 1.0) * 2
        left, top, right, bottom = (
            round(float(np.clip(e, a, max(a, b))), 1) for e, a, b in zip(edges, low, high, strict=True)
        )
        box = (left, 0.0 if plant.box_px[1] <= 0 else top, right, bottom)
        soil = round(soil + larger * (plant.soil_y_px - old.soil_y_px), 1)
    return plant.model_copy(update={"box_px": box, "soil_y_px": soil})


def _tray(old: Tray, plants: tuple[Plant, ...], scale: float, frame: str) -> Tray:
    """The tray with the plants of the new view; lengths told in the old view's pixels are left out."""
    away = old.view.camera_to_plants_mm
    view = old.view.model_copy(
        update={"pixels_of": frame, "camera_to_plants_mm": None if away is None else round(away * scale, 1)}
    )
    gone = {"from_px": None, "to_px": None, "length_mm": None, "row_mm": None}
    return old.model_copy(update={"view": view, "plants": plants, "scale": old.scale.model_copy(update=gone)})
