"""What a photo is compared with: the bare stage, made once from the first usable photos and never from later ones."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import PhotosError
from sproutlapse.tray import Plant, Tray
from sproutlapse.vision import align, lifted, scale, tray_lies
from sproutlapse.vision.bare import bare_stage
from sproutlapse.vision.colour import Bytes, Floats, Mask, amplified_grain, encode_srgb, median_of, to_lab, to_light
from sproutlapse.vision.light import Blocks, NoLightError, blocks, read_lighting, still_surfaces
from sproutlapse.vision.plumb import read_lens
from sproutlapse.vision.potmarks import pot_marks
from sproutlapse.vision.row_depth import Depths

FRAMES = 7  # photos that make a reference

PAPER_CELLS, INK_CELLS = 0.6, -0.5  # outside and inside the black square's edge, in cells of the mark
BURNT = 0.9  # of the brightest value: the camera's tone curve bends or cuts it off
BALANCE_LIMITS = (0.4, 3.0)  # of a channel's factor
DARK_L = 45.0  # darker surfaces count as soil or pot


@dataclass(frozen=True)
class Reference:
    """The bare stage and all that is read from the first photos.

    Attributes
    ----------
    balance
        Factors of red, green and blue that make the board grey; all light below is so balanced.
    light
        (height, width, 3) float32 linear light of the bare stage.
    lab
        Its CIELAB values.
    dark, labels
        (height, width) bool: soil and other dark places; still white labels.
    surfaces
        (height, width) bool: still bright surfaces that exposure is read from.
    tolerance
        (height, width) CIELAB distance to allow where the bare stage is known less well.
    marks
        Corners that stand still, for alignment.
    pots
        What each pot looks like below its soil line, in tray order, to find it again where it was lifted; side view.
    tray_marks
        Corners of the tray, for the same; from above.
    pot_marks
        Corners of the printed mark on each pot that has one, by its number in tray order.
    mm_per_px
        One value a plant in tray order, at its depth; None without a scale.
    room
        Left, top, right and bottom of the part of the picture in which plants may be seen.
    digest
        Hash of all that the measuring of a photo depends on.
    """

    balance: tuple[float, float, float]
    light: Floats
    lab: Floats
    dark: Mask
    labels: Mask
    surfaces: Mask
    tolerance: Floats
    marks: align.Landmarks
    scale: scale.Scale
    mm_per_px: tuple[float | None, ...]
    occupied: tuple[bool, ...]
    room: tuple[int, int, int, int]
    digest: str
    notes: tuple[str, ...] = ()
    pots: tuple[lifted.PotPicture | None, ...] = ()
    tray_marks: align.Landmarks | None = None
    pot_marks: Mapping[int, NDArray[np.float64]] = field(default_factory=dict)

    @cached_property
    def blocks(self) -> Blocks:
        """The still surfaces, summed up once for all photos of a camera that stood still."""
        return blocks(self.light, self.surfaces)

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) in pixels."""
        return self.light.shape[1], self.light.shape[0]


def brought_together(pictures: Sequence[Bytes]) -> list[Floats]:
    """The first photos in one geometry and one light, that of the first.

    Parameters
    ----------
    pictures
        Decoded photos (height, width, 3) of one size.

    Returns
    -------
    list
        Linear light, a picture each; those that cannot be aligned are left out (never the first).
    """
    first = to_light(pictures[0])
    marks = align.landmarks(first)
    surfaces = still_surfaces(first)
    out = [first]
    for picture in pictures[1:]:
        light = to_light(picture)
        placed = align.place(light, marks)
        if placed is None:
            continue
        if placed.moved:
            light = align.warped(light, placed.matrix)
        try:
            lighting = read_lighting(light, first, surfaces)
        except NoLightError:
            continue
        out.append(light / lighting.field(*light.shape[:2]))
    return out


def white_balance(light: Floats, marks: Sequence[scale.Mark], view: str | None) -> tuple[float, float, float]:
    """Factors of red, green and blue that make white look grey at the same brightness.

    White is the paper round the printed mark, or its black ink where the paper is burnt out; without a mark the board
    in a side view. From above the floor round a
    tray may have any colour, so nothing is changed there without a mark. A channel that the lamp hardly lights is
    raised no more than is good for its noise.

    Parameters
    ----------
    light
        (height, width, 3) linear light.
    marks
        Marks found in it.
    view
        "side" or "above".
    """
    if marks:
        white = scale.print_light(light, marks[0], PAPER_CELLS)
        if white.max() > BURNT:
            white = scale.print_light(light, marks[0], INK_CELLS)
    else:
        surfaces = still_surfaces(light)
        if view == "above" or not surfaces.any():
            return (1.0, 1.0, 1.0)
        white = np.median(light[surfaces], axis=0)
    grey = float(white @ np.array([0.2126, 0.7152, 0.0722]))  # brightness, IEC 61966-2-1
    low, high = BALANCE_LIMITS
    red, green, blue = (float(np.clip(grey / max(float(v), 1e-4), low, high)) for v in white)
    return red, green, blue


def card_marks(middle: Floats, tray: Tray) -> list[scale.Mark]:
    """The printed marks that can give the scale; the small ones on pots only name plants.

    Parameters
    ----------
    middle
        (height, width, 3) linear light, median of the first photos.
    tray
        What stands in view.
    """
    marks = scale.find_marks(np.clip(np.sqrt(middle) * 255, 0, 255).astype(np.uint8), middle)
    on_pots = {plant.mark for plant in tray.plants}
    return [mark for mark in marks if mark.number not in on_pots]


def make_reference(
    pictures: Sequence[Bytes],
    tray: Tray,
    seed: str,
    film_mm: float | None = None,
    *,
    upright: align.Matrix | None = None,
    depths: Depths | None = None,
    known: Sequence[bool] = (),
) -> Reference:
    """The reference from the first up to seven usable photos and what stands in view.

    Parameters
    ----------
    pictures
        Decoded photos of one size, in camera order.
    tray
        Complete tray: every plant with its box (and soil line from the side).
    seed
        What else the measuring depends on (digests of the photos, version); goes into the hash.
    film_mm
        The lens's focal length as on 36 x 24 mm film, as the first photo's EXIF gives it; None if it does not.
    upright
        (2, 3) turns the photos upright, into the tray's pixels; None where they are.
    depths
        How much further away than the mark each plant stands, where the row is seen at an angle.
    known
        For each plant whether another view told that it stands there; empty if there is none.

    Raises
    ------
    PhotosError
        If no light can be read from the first photo.
    """
    lights = brought_together(pictures)
    seen = np.ones(lights[0].shape[:2], bool)
    if upright is not None:
        seen = align.seen(upright, lights[0].shape)
        lights = [np.maximum(align.warped(light, upright), np.float32(0.0)) for light in lights]
    middle = median_of(lights)
    marks = card_marks(middle, tray)
    balance = white_balance(middle, marks, tray.view.from_)
    lights = [light * np.asarray(balance, np.float32) for light in lights]
    middle = middle * np.asarray(balance, np.float32)
    stage = bare_stage(middle, lights, tray, known)
    lab = to_lab(stage.light)
    dark = lab[..., 0] < DARK_L
    still = ~growing_room(tray, (middle.shape[1], middle.shape[0])) & seen
    surfaces = still_surfaces(stage.light) & seen
    if not surfaces.any():
        raise PhotosError(
            "The first photos show no bright even surface to read the light from.",
            remedy="Stand a plain white board behind the plants, lit evenly, and photograph again.",
        )
    lens, said = read_lens(middle, still, film_mm)
    own = scale.read_scale(tray, marks, lens.size, film_mm=film_mm, lens=lens)
    mm_per_px = tuple(own.at(plant) for plant in tray.plants)
    if depths is not None:
        own = replace(own, sd_share=float(np.hypot(own.sd_share, depths.sd_share)))
        pairs = zip(mm_per_px, depths.factors, strict=True)
        mm_per_px = tuple(None if mm is None else mm * further for mm, further in pairs)
    digest = hashlib.sha256()
    for part in (seed, measured_part(tray).model_dump_json(by_alias=True)):
        digest.update(part.encode())
        digest.update(b"\0")
    corners = align.landmarks(middle, still, lifted.lifted_room(tray, (middle.shape[1], middle.shape[0])))
    if upright is not None:
        corners = replace(corners, upright=upright)
    above = tray.view.from_ == "above"
    notes = own.notes + said + stage.notes
    if len(corners.points) < align.LEAST_POINTS:
        notes += (
            "Too little that stands still is in view: a camera that is bumped would not be noticed. Let pots, mark and "
            "label stand in the picture.",
        )
    return Reference(
        balance=balance,
        light=stage.light,
        lab=lab,
        dark=dark,
        labels=stage.labels,
        surfaces=surfaces,
        tolerance=stage.tolerance + np.where(dark, amplified_grain(stage.light, balance), np.float32(0.0)),
        marks=corners,
        scale=own,
        mm_per_px=mm_per_px,
        occupied=stage.occupied,
        room=_room(tray, (middle.shape[1], middle.shape[0])),
        digest=digest.hexdigest(),
        notes=notes,
        pots=() if above else lifted.pot_pictures(middle, tray),
        tray_marks=tray_lies.tray_marks(middle, tray) if above else None,
        pot_marks=pot_marks(middle, tray),
    )


def measured_part(tray: Tray) -> Tray:
    """What measuring depends on: view, scale and places.

    What is judged by (habit, sowing, lamp, limits) is left out, so that a change there measures nothing anew.
    """
    places = ("name", "box_px", "soil_y_px", "behind_mm", "mark")
    plants = tuple(Plant(**{key: getattr(plant, key) for key in places}) for plant in tray.plants)
    return Tray(view=tray.view, scale=tray.scale).model_copy(update={"plants": plants})


def growing_room(tray: Tray, size: tuple[int, int]) -> NDArray[np.bool_]:
    """(height, width) bool: where plants may stand or reach, so that nothing there counts as still."""
    width, height = size
    room = np.zeros((height, width), bool)
    for plant in tray.plants:
        left, top, right, bottom = _inner(plant, size)
        room[top : bottom + 1, left : right + 1] = True
    return room


def _room(tray: Tray, size: tuple[int, int]) -> tuple[int, int, int, int]:
    """The part of the picture in which plants may be seen: from the side all above the soil lines, from above all cells
    and what hangs over their rims."""
    width, height = size
    boxes = [plant.box_px for plant in tray.plants]
    if tray.view.from_ != "above":
        lines = [plant.soil_y_px for plant in tray.plants if plant.soil_y_px is not None]
        return 0, 0, width - 1, min(height - 1, int(max(lines, default=height)) + 6)
    over = int(max((right - left for left, _, right, _ in boxes), default=0) / 2)
    return (
        max(0, int(min(box[0] for box in boxes)) - over),
        max(0, int(min(box[1] for box in boxes)) - over),
        min(width - 1, int(max(box[2] for box in boxes)) + over),
        min(height - 1, int(max(box[3] for box in boxes)) + over),
    )


def _inner(plant: Plant, size: tuple[int, int]) -> tuple[int, int, int, int]:
    left, top, right, bottom = (round(v) for v in plant.box_px)
    if plant.soil_y_px is not None:
        bottom = round(plant.soil_y_px)
    return max(0, left), max(0, top), min(size[0] - 1, right), min(size[1] - 1, bottom)


def to_pictures(lights: Sequence[Floats]) -> list[Bytes]:
    """8-bit sRGB pictures of linear light."""
    return [np.round(encode_srgb(np.clip(light, 0, 1)) * 255).astype(np.uint8) for light in lights]
