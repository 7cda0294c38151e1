"""Pots and trays that were taken up for watering and put back a little off: how far each stands from its place, found
from its own picture and never from what grows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision import align
from sproutlapse.vision.colour import Floats, Mask, to_lab

# All found on rendered and drawn pots; no published values.
BELOW_PX = 3.0  # a pot's own picture begins this far below the soil line at the plant's foot
TALL_SHARE = 0.8  # of a box's width: as much of the pot below the soil line is looked at
REACH_MM, REACH_PX = 14.0, 24.0  # a pot put back further off than this was moved to another place
EVEN_PX = 31  # width of the window in which brightness is evened: wet soil and shadows must not matter
EVEN_LEAST = 5.0  # of 255: flatter places show nothing
EDGE_LEAST = 0.12  # of evened brightness a pixel: edges by which a pot is recognised
LEAST_EDGE_PX = 150  # fewer such pixels do not tell a pot's place
AGREE = 0.4  # evened brightness: a pixel that differs by less shows the same thing
SAME_SHARE = 0.9  # of the edge pixels agree: the pot stands there, and need not be sought elsewhere
FOUND_SHARE = 0.6  # of the edge pixels must agree, or the pot is not found
STILL_PX = 0.5  # a smaller shift is no shift: about what watering, swelling soil and noise make
LAID_PX = 1.5  # of a tray seen from above: less may be how exactly its place and the camera's are known
STEPS, CAREFUL = 25, 0.6  # of the refinement; and the misfit at which a pixel begins to lose its say
FAR_PX = 100_000.0  # to the left of every picture
# CIELAB distance, and that of a* and b*: where a pot stood there is what stands around it, and has its tint.
LIKE_AROUND, SAME_TINT = 12.0, 6.0

Pair = tuple[float, float]


@dataclass(frozen=True)
class PotPicture:
    """What a pot looks like below its soil line, on the reference.

    Attributes
    ----------
    window
        Left, top, right and bottom in pixels, the last two excluded.
    even
        (h, w) float32 brightness, evened.
    edges
        (h, w) bool: pixels that tell the place.
    own, around
        CIELAB colours of its middle and of what stands to both sides of it.
    """

    window: tuple[int, int, int, int]
    even: Floats
    edges: Mask
    own: Floats
    around: Floats


def evened(grey: Floats) -> Floats:
    """Brightness without its local mean, over its local spread: about -2 to 2, whatever the light and wetness."""
    grey = grey.astype(np.float32)
    side = (EVEN_PX, EVEN_PX)
    mean = cv2.blur(grey, side)
    spread = np.sqrt(np.maximum(cv2.sqrBoxFilter(grey, cv2.CV_32F, side) - mean * mean, 0.0))
    return np.asarray(cv2.GaussianBlur((grey - mean) / (spread + EVEN_LEAST), (0, 0), 0.8), dtype=np.float32)


def evened_on_reference(light: Floats, placed: align.Placement) -> Floats:
    """Evened brightness of a photo, in the geometry of the reference."""
    own = align.warped(light, placed.matrix) if placed.moved else light
    return evened(align.tracking_grey(own).astype(np.float32))


def lifted_room(tray: Tray, size: tuple[int, int]) -> NDArray[np.uint8]:
    """(height, width) number of the pot that stands at a place and may be lifted and put back, from 1, 0 for none.

    From above the tray is one, and all that stands between pots counts as one more.

    Parameters
    ----------
    tray
        What stands in view.
    size
        (width, height) of the picture.
    """
    width, height = size
    room = np.zeros((height, width), np.uint8)
    if not tray.plants:
        return room
    boxes = np.array([plant.box_px for plant in tray.plants])
    if tray.view.from_ == "above":
        rim = 0.3 * float(np.median(boxes[:, 2] - boxes[:, 0]))
        low, high = boxes[:, :2].min(axis=0) - rim, boxes[:, 2:].max(axis=0) + rim
        room[max(0, int(low[1])) : int(high[1]) + 1, max(0, int(low[0])) : int(high[0]) + 1] = 1
        return room
    top = max(0, int(min((p.soil_y_px for p in tray.plants if p.soil_y_px is not None), default=height)))
    room[top:, max(0, int(boxes[:, 0].min())) : int(boxes[:, 2].max()) + 1] = 255
    for k, (left, _, right, _) in enumerate(boxes[:254]):
        room[top:, max(0, int(left)) : int(right) + 1] = k + 1
    return room


def pot_pictures(light: Floats, tray: Tray) -> tuple[PotPicture | None, ...]:
    """What each pot looks like, in tray order; None where too little of it is seen to tell its place.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the reference.
    tray
        What stands in view, from the side.
    """
    even = evened(align.tracking_grey(light).astype(np.float32))
    out: list[PotPicture | None] = []
    for plant in tray.plants:
        window = _window(plant, (light.shape[1], light.shape[0]))
        if window is None:
            out.append(None)
            continue
        own = even[window[1] : window[3], window[0] : window[2]].copy()
        edges = np.hypot(*_slopes(own)) > EDGE_LEAST
        edges[:2], edges[-2:], edges[:, :2], edges[:, -2:] = False, False, False, False
        known = int(edges.sum()) >= LEAST_EDGE_PX
        out.append(PotPicture(window, own, edges, *_colours(light, window)) if known else None)
    return tuple(out)


def _window(plant: Plant, size: tuple[int, int]) -> tuple[int, int, int, int] | None:
    if plant.soil_y_px is None:
        return None
    left, right = max(0, round(plant.box_px[0])), min(size[0], round(plant.box_px[2]) + 1)
    top = max(0, round(plant.soil_y_px + BELOW_PX))
    bottom = min(size[1], top + round(TALL_SHARE * (right - left)))
    return (left, top, right, bottom) if right - left > 24 and bottom - top > 12 else None


def _colours(light: Floats, window: tuple[int, int, int, int]) -> tuple[Floats, Floats]:
    """CIELAB colours of a window's middle and of its two sides."""
    left, top, right, bottom = window
    part = light[top : (top + bottom) // 2, left:right]
    third, rim = (right - left) // 3, max(2, (right - left) // 20)
    sides = np.concatenate([part[:, :rim].reshape(-1, 3), part[:, -rim:].reshape(-1, 3)])
    both = np.stack([np.median(part[:, third:-third].reshape(-1, 3), axis=0), np.median(sides, axis=0)])
    lab = to_lab(np.asarray(both[None], dtype=np.float32))[0]
    return lab[0], lab[1]


def _is_gone(light: Floats, pot: PotPicture) -> bool:
    """Whether where a pot stood there is now what stands around it, and no leaf either."""
    if float(np.linalg.norm(pot.own - pot.around)) < 2 * LIKE_AROUND:
        return False
    middle, sides = _colours(light, pot.window)
    tint = float(np.linalg.norm(middle[1:] - pot.around[1:]))
    return float(np.linalg.norm(middle - sides)) < LIKE_AROUND and tint < SAME_TINT


def _slopes(even: Floats) -> tuple[Floats, Floats]:
    across, down = cv2.Scharr(even, cv2.CV_32F, 1, 0) / 32, cv2.Scharr(even, cv2.CV_32F, 0, 1) / 32
    return np.asarray(across, dtype=np.float32), np.asarray(down, dtype=np.float32)


@dataclass(frozen=True)
class Stood:
    """Where a pot stands: `shift` from its place in pixels of the reference, right and down; None if it is gone.

    `sure` is false where too little of it is seen, so that it is taken to stand where it did.
    """

    shift: Pair | None
    sure: bool


def pot_shifts(
    light: Floats,
    placed: align.Placement,
    pots: Sequence[PotPicture | None],
    mm_per_px: Sequence[float | None],
    grey: NDArray[np.uint8] | None = None,
) -> tuple[Stood, ...]:
    """How far each pot stands from its place on the reference, the camera's own movement undone.

    Pots are put back together as a tray, or alone; so a pot too much hidden to tell goes with the others if these
    agree.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the photo.
    placed
        Its place on the reference.
    pots
        See `pot_pictures`.
    mm_per_px
        Millimetres per pixel of each, None if not known.
    grey
        The photo's `align.tracking_grey`, where it is known.
    """
    if placed.moved:
        light, grey = align.warped(light, placed.matrix), None
    grey = align.tracking_grey(light) if grey is None else grey
    reach = max([REACH_PX, *(REACH_MM / mm for mm in mm_per_px if mm)])
    tops = [pot.window[1] for pot in pots if pot is not None]
    # Nothing above the rows in which pots are looked for is asked.
    first = max(0, int(min(tops, default=0) - reach) - 2 * EVEN_PX)
    even = np.zeros(grey.shape, np.float32)
    even[first:] = evened(grey[first:].astype(np.float32))
    found = [
        Stood(None, sure=True)
        if pot is not None and _out_of_view(pot, placed, light.shape)
        else _stands(even, light, pot, mm)
        for pot, mm in zip(pots, mm_per_px, strict=True)
    ]
    sure = np.array([one.shift for one in found if one.sure and one.shift is not None]).reshape(-1, 2)
    together = len(sure) >= 2 and float(np.abs(sure - np.median(sure, axis=0)).max()) <= 1.5
    if not together:
        return tuple(found)
    common = np.median(sure, axis=0)
    shift = (float(common[0]), float(common[1]))
    return tuple(one if one.sure or one.shift is None else Stood(shift, sure=False) for one in found)


def _out_of_view(pot: PotPicture, placed: align.Placement, shape: tuple[int, ...]) -> bool:
    """Whether the camera was put back so that the pot's soil line is no longer in the picture."""
    left, top, right, _ = pot.window
    x, y = align.move(align.inverse(placed.matrix), np.array([[(left + right) / 2, top - BELOW_PX]]))[0]
    return not (0 <= x < shape[1] and 0 <= y < shape[0])


def _stands(even: Floats, light: Floats, pot: PotPicture | None, mm: float | None) -> Stood:
    """Where one pot stands; both pictures in the geometry of the reference."""
    if pot is None:
        return Stood((0.0, 0.0), sure=False)
    here, share = refined(even, pot, (0.0, 0.0))
    if share >= SAME_SHARE and np.hypot(*here) < STILL_PX:
        return Stood((0.0, 0.0), sure=True)
    reach = round(REACH_MM / mm) if mm else round(REACH_PX)
    for guess in _rough(even, pot, reach):
        other, agrees = refined(even, pot, guess)
        if agrees > share:
            here, share = other, agrees
    if share >= FOUND_SHARE and max(abs(here[0]), abs(here[1])) <= reach + 1:
        return Stood(here if np.hypot(*here) >= STILL_PX else (0.0, 0.0), sure=True)
    gone = _is_gone(light, pot)
    return Stood(None if gone else (0.0, 0.0), sure=gone)


def _rough(even: Floats, pot: PotPicture, reach: int) -> list[Pair]:
    """Shifts at which the pot's edges fit best, to a pixel."""
    left, top, right, bottom = pot.window
    around = cv2.copyMakeBorder(even, reach, reach, reach, reach, cv2.BORDER_REPLICATE)
    part = around[top : bottom + 2 * reach, left : right + 2 * reach]
    weight = cv2.dilate(pot.edges.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(np.float32)
    score = cv2.matchTemplate(part, pot.even, cv2.TM_CCORR_NORMED, mask=weight)
    score = np.nan_to_num(score, nan=-1.0, posinf=-1.0, neginf=-1.0)
    out: list[Pair] = []
    for _ in range(3):
        row, column = np.unravel_index(int(score.argmax()), score.shape)
        out.append((float(column) - reach, float(row) - reach))
        score[max(0, row - 3) : row + 4, max(0, column - 3) : column + 4] = -1.0
    return out


def refined(even: Floats, pot: PotPicture, guess: Pair) -> tuple[Pair, float]:
    """The shift to a part of a pixel, and the share of the pot's edge pixels that agree there.

    Gauss-Newton steps on the pixels' misfits, those that show something else (a leaf before the pot, the table's edge
    that did not move) without a say: weights of Tukey's kind.
    """
    left, top, right, bottom = pot.window
    shift = np.array(guess, float)
    rows, columns = np.nonzero(pot.edges)
    want = pot.even[rows, columns].astype(np.float64)
    agree = 0.0
    for _ in range(STEPS):
        size = (right - left, bottom - top)
        view = np.array([[1.0, 0.0, left + shift[0]], [0.0, 1.0, top + shift[1]]])
        how = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
        now = np.asarray(cv2.warpAffine(even, view, size, flags=how, borderMode=cv2.BORDER_REPLICATE), np.float32)
        across, down = (slope[rows, columns].astype(np.float64) for slope in _slopes(now))
        miss = now[rows, columns] - want
        agree = float((np.abs(miss) < AGREE).mean())
        weight = np.clip(1 - (miss / (2 * CAREFUL)) ** 2, 0, None) ** 2
        normal = np.array([[weight @ (across * across), weight @ (across * down)], [0.0, weight @ (down * down)]])
        normal[1, 0] = normal[0, 1]
        if np.linalg.det(normal) < 1e-6:
            return guess, 0.0
        step = -np.linalg.solve(normal, np.array([weight @ (across * miss), weight @ (down * miss)]))
        step *= min(1.0, 1.5 / max(float(np.hypot(*step)), 1e-9))
        shift += step
        if float(np.hypot(*step)) < 0.01:
            break
    return (float(shift[0]), float(shift[1])), agree


def tray_with(tray: Tray, stood: Sequence[Stood]) -> Tray:
    """The tray as its pots stand in a photo: boxes and soil lines moved along, in pixels of the reference.

    The box of a pot that is not there lies far outside, so that nothing is taken for its plant.
    """
    plants = []
    for plant, one in zip(tray.plants, stood, strict=True):
        dx, dy = (-FAR_PX, 0.0) if one.shift is None else one.shift
        left, top, right, bottom = plant.box_px
        box = (left + dx, top + dy, right + dx, bottom + dy)
        soil = None if plant.soil_y_px is None else plant.soil_y_px + dy
        plants.append(plant.model_copy(update={"box_px": box, "soil_y_px": soil}) if dx or dy else plant)
    return tray.model_copy(update={"plants": tuple(plants)})


def with_pots_moved(plane: Floats, tray: Tray, stood: Sequence[Stood], *, smooth: bool = True) -> Floats:
    """A picture of the reference with each pot's strip moved as the pot was.

    The board in the strip moves along, which does no harm where it is plain: `measure` keeps, pixel by pixel, what
    looks more like the photo.

    Parameters
    ----------
    plane
        (height, width) or (height, width, 3) float32.
    tray
        The tray as it stood on the reference.
    stood
        See `pot_shifts`.
    smooth
        Whether values between pixels mean anything.
    """
    out = plane.copy()
    height, width = plane.shape[:2]
    how = (cv2.INTER_CUBIC if smooth else cv2.INTER_NEAREST) | cv2.WARP_INVERSE_MAP
    moved = [
        (plant.box_px, one.shift)
        for plant, one in zip(tray.plants, stood, strict=True)
        if one.shift is not None and one.shift != (0.0, 0.0)
    ]
    # First what comes to light where pots stood before, then the pots themselves where they stand.
    for left_open in (True, False):
        for (left, _, right, _), (dx, dy) in moved:
            first = max(0, int(min(left, left + dx) if left_open else left + dx))
            last = min(width, int(max(right, right + dx) if left_open else right + dx) + 2)
            if last > first:
                back = np.array([[1.0, 0.0, first - dx], [0.0, 1.0, -dy]])
                out[:, first:last] = cv2.warpAffine(
                    plane, back, (last - first, height), flags=how, borderMode=cv2.BORDER_REPLICATE
                )
    return out


def as_pairs(stood: Sequence[Stood]) -> tuple[Pair | None, ...]:
    """Shifts in tray order, rounded to a thousandth of a pixel; empty if every pot stands where it did."""
    out = tuple(None if one.shift is None else (round(one.shift[0], 3), round(one.shift[1], 3)) for one in stood)
    return out if any(shift != (0.0, 0.0) for shift in out) else ()


def cell_shifts(tray: Tray, placed: align.Placement, lies: align.Placement) -> tuple[Pair, ...]:
    """Shift of each cell's middle where the tray was lifted, in pixels of the reference; empty if it was not."""
    if lies is placed:
        return ()
    boxes = np.array([plant.box_px for plant in tray.plants])
    middles = (boxes[:, :2] + boxes[:, 2:]) / 2
    ways = align.move(placed.matrix, align.move(align.inverse(lies.matrix), middles)) - middles
    if float(np.linalg.norm(ways, axis=1).max()) < LAID_PX:
        return ()
    return tuple((round(float(dx), 3), round(float(dy), 3)) for dx, dy in ways)
