"""Even light: gains in linear light, and a fine correction measured on what stands still, never on the plants.

Pictures are (h, w, 3) uint8 sRGB. The measuring works on a small linear picture of cells, so it costs little and its
memory does not grow with the film.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# Cells along the picture's longer side in which light is measured.
CELLS = 48
# A cell is looked at in about so many pixels across; more of them tell no more of its light and cost time.
CELL_PX = 12
# A cell's own spread (standard deviation over mean, linear) above which it holds an edge, which a bump moves.
PLAIN_SPREAD = 0.12
# Cells darker or lighter than this (linear) carry no light that can be measured to 0.3 %. Those lighter keep their
# level too, each by itself: near white a camera answers to more light with less than that.
MEASURABLE = (0.02, 0.9)
# A cell whose light (log) departs this much from that of the still cells about it has something moving in it.
MOVED = 0.04
MOVED_BRIGHT = 0.15
# Fewest still cells to judge the light by.
FEWEST_CELLS = 12
# How many film pictures the level of a still cell looks back on: soil dries and the day's shadows wander within hours.
MEMORY = 48
# A fine correction beyond this is no correction of light any more but a measuring that went wrong.
LARGEST_FINE = 1.6
# Log of light beyond which a place does not differ by its lamp but by something that stands before it.
LOCAL_MOST = 0.25
# Windows in cells for what differs from place to place, and the weight below which a window counts as empty.
WIDE, NARROW, EMPTY = 8.0, 1.0, 0.05
# Linear light above which the shoulder bends.
KNEE = 0.7


def srgb_decoded(values: NDArray[np.floating]) -> Floats:
    """Linear light of sRGB values, both 0 to 1 (IEC 61966-2-1)."""
    v = np.asarray(values, dtype=np.float64)
    return np.where(v <= 0.04045, v / 12.92, ((np.maximum(v, 0) + 0.055) / 1.055) ** 2.4)


def srgb_encoded(light: NDArray[np.floating]) -> Floats:
    """sRGB values of linear light, both 0 to 1 (IEC 61966-2-1)."""
    x = np.asarray(light, dtype=np.float64)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-12) ** (1 / 2.4) - 0.055)


LINEAR = srgb_decoded(np.arange(256) / 255.0)


def shouldered(light: Floats, ceiling: float) -> Floats:
    """Linear light with its highlights bent so that `ceiling` becomes 1 and nothing below the knee changes.

    Parameters
    ----------
    light
        Linear light, 0 to `ceiling`.
    ceiling
        The most that any photo of the film reaches after its gain, at least 1; one value for the whole film, since a
        bend that changed from picture to picture would flicker itself.

    Notes
    -----
    Above the knee k: k + (1 - k)(1 - (1 - u)^p) with u = (x - k)/(ceiling - k) and p = (ceiling - k)/(1 - k), which
    leaves the knee with slope 1 and arrives at 1.
    """
    if ceiling <= 1:
        return np.minimum(light, 1.0)
    power = (ceiling - KNEE) / (1 - KNEE)
    u = np.clip((light - KNEE) / (ceiling - KNEE), 0.0, 1.0)
    return np.where(light <= KNEE, light, KNEE + (1 - KNEE) * (1 - (1 - u) ** power))


def lookup(factors: Floats, ceiling: float) -> NDArray[np.float32]:
    """(256, 3) table from sRGB bytes to unrounded sRGB values of 0 to 255, with linear light times `factors` (3,)."""
    light = LINEAR[:, None] * factors[None, :]
    return (srgb_encoded(shouldered(light, ceiling)) * 255).astype(np.float32)


def lit(
    picture: NDArray[np.uint8], correction: Correction, ceiling: float, to_cells: Floats | None = None
) -> NDArray[np.float32]:
    """The picture with its linear light times the correction, as sRGB values of 0 to 255 that are not rounded yet.

    `to_cells` is the (2, 3) matrix from the picture's pixels to the field's cells, where the picture is but a part of
    what the light was measured on; None where both show the same.

    Notes
    -----
    With V = 1.055 L^(1/2.4) - 0.055, light times e is (V + 0.055) e^(1/2.4) - 0.055: so the part that varies over the
    picture is applied to the encoded values without decoding them once more. (Below V = 0.04 the line of the standard
    differs from that by less than a byte's step.)
    """
    table = lookup(correction.factors, ceiling)
    if correction.field is None:
        return np.asarray(cv2.LUT(picture, table.reshape(1, 256, 3)), dtype=np.float32)
    foot = 0.055 * 255
    even = np.asarray(cv2.LUT(picture, (table + np.float32(foot)).reshape(1, 256, 3)), dtype=np.float32)
    h, w = picture.shape[:2]
    strong = np.exp(correction.field / 2.4).astype(np.float32)
    if to_cells is None:
        strength = cv2.resize(strong, (w, h), interpolation=cv2.INTER_LINEAR)
    else:
        how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        strength = cv2.warpAffine(strong, to_cells, (w, h), flags=how, borderMode=cv2.BORDER_REPLICATE)
    even *= strength
    even -= foot
    return even


@dataclass(frozen=True)
class Correction:
    """What evens a photo: `factors` (3,) for linear light, and `field` (rows, columns, 3), log of light by cells."""

    factors: Floats
    field: Floats | None = None


@dataclass(frozen=True)
class Cells:
    """The light in the cells of one picture: mean and relative spread, (rows, columns, 3) and (rows, columns)."""

    mean: Floats
    spread: Floats


def cells(picture: NDArray[np.uint8]) -> Cells:
    """Linear light by cells of a picture before its correction."""
    times = int(max(picture.shape[:2]) / (CELLS * CELL_PX))
    if times > 1:
        small = (picture.shape[1] // times, picture.shape[0] // times)
        picture = np.asarray(cv2.resize(picture, small, interpolation=cv2.INTER_AREA), dtype=np.uint8)
    linear = cv2.LUT(picture, LINEAR.astype(np.float32).reshape(1, 256, 1).repeat(3, axis=2))
    h, w = picture.shape[:2]
    scale = CELLS / max(h, w)
    size = (max(4, round(w * scale)), max(4, round(h * scale)))
    mean = cv2.resize(linear, size, interpolation=cv2.INTER_AREA).astype(np.float64)
    green = linear[:, :, 1]
    square = cv2.resize(green * green, size, interpolation=cv2.INTER_AREA).astype(np.float64)
    spread = np.sqrt(np.maximum(square - mean[:, :, 1] ** 2, 0)) / np.maximum(mean[:, :, 1], 1e-6)
    return Cells(mean, spread)


def plant_cells(labels: NDArray[np.uint8], shape: tuple[int, int]) -> NDArray[np.bool_]:
    """Cells (rows, columns) with a plant in or beside them, from a label picture moved as the photo is."""
    share = cv2.resize((labels > 0).astype(np.float32), (shape[1], shape[0]), interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.dilate((share > 0).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)


@dataclass
class StillLight:
    """The level of light that each still cell of the film keeps, and the correction that holds a photo to it.

    A cell's level follows slowly what that cell does against all others (soil that dries, a shadow that wanders); the
    common level never follows, so no drift of light comes through.
    """

    level: Floats | None = None
    seen: NDArray[np.int64] = field(default_factory=lambda: np.zeros((0, 0), dtype=np.int64))

    def correction(self, now: Cells, moving: NDArray[np.bool_], first: Floats, ceiling: float = 1.0) -> Correction:
        """What brings this photo to the film's level.

        Parameters
        ----------
        now
            Light by cells of the photo before its correction.
        moving
            (rows, columns) cells that hold plants.
        first
            (3,) the factors known beforehand (one over the gains); the result refines them.
        ceiling
            The most that any photo of the film reaches after its gain, as for `shouldered`.
        """
        light = now.mean * first
        plain = (now.spread < PLAIN_SPREAD) & ~moving & np.all(light > MEASURABLE[0], axis=2)
        bright = np.any(now.mean >= MEASURABLE[1], axis=2)
        if self.level is None or self.level.shape != light.shape:
            self.level = light.copy()
            self.seen = plain.astype(np.int64)
            return Correction(first)
        ratio = np.log(np.maximum(light, 1e-6) / np.maximum(self.level, 1e-6))
        known = plain & (self.seen > 0)
        fine = _common(ratio, known & ~bright)
        if fine is None:
            return Correction(first)
        local, still = _local(ratio - fine, known, bright)
        even = light * np.exp(-fine)
        self._follow(even, still, plain)
        # The field is laid over values whose highlights are bent already, so it is bent along.
        bent = np.log(shouldered(even * np.exp(-local), ceiling) / shouldered(even, ceiling))
        return Correction(np.asarray(first * np.exp(-fine)), bent)

    def _follow(self, light: Floats, still: NDArray[np.bool_], plain: NDArray[np.bool_]) -> None:
        assert self.level is not None
        share = np.where(still, 1.0 / MEMORY, 0.0)
        share[plain & (self.seen == 0)] = 1.0
        self.level = self.level + share[:, :, None] * (light - self.level)
        # What moved has to prove itself anew, as a pot that was put elsewhere does.
        self.seen = np.where(still | (plain & (self.seen == 0)), self.seen + 1, np.maximum(self.seen - MEMORY // 8, 0))


def _common(ratio: Floats, known: NDArray[np.bool_]) -> Floats | None:
    """What all still cells have in common, (3,) log of light: the mean of those near the median; None with too few."""
    values = ratio[known]
    if len(values) < FEWEST_CELLS:
        return None
    middle = np.median(values, axis=0)
    away = np.abs(values - middle).max(axis=1)
    near = values[away <= max(3 * float(np.median(away)), 0.003)]
    fine = near.mean(axis=0)
    return np.asarray(fine) if np.all(np.abs(fine) < np.log(LARGEST_FINE)) else None


def _local(ratio: Floats, known: NDArray[np.bool_], bright: NDArray[np.bool_]) -> tuple[Floats, NDArray[np.bool_]]:
    """How the light of each place differs from the common change, log (rows, columns, 3), and which cells stand still.

    A wide window first: a second lamp or the sun at a window changes one side of the picture, and that reaches over the
    plants. What is left is evened in a narrow window, on still cells only (the camera's own rounding of colours, and
    what its curve does to the highlights).
    """
    trusted = known & np.all(np.abs(ratio) < LOCAL_MOST, axis=2)
    wide = _windowed(ratio, trusted & ~bright, WIDE)
    rest = ratio - wide
    still = trusted & np.all(np.abs(rest) < np.where(bright, MOVED_BRIGHT, MOVED)[:, :, None], axis=2)
    return wide + _windowed(rest, still, NARROW), still


def _windowed(values: Floats, where: NDArray[np.bool_], reach: float) -> Floats:
    """Mean of `values` (rows, columns, 3) over the cells `where`, Gaussian window of `reach` cells, 0 far from any."""
    weight = where.astype(np.float64)
    over = cv2.GaussianBlur(values * weight[:, :, None], (0, 0), reach, borderType=cv2.BORDER_REFLECT)
    under = cv2.GaussianBlur(weight, (0, 0), reach, borderType=cv2.BORDER_REFLECT)
    return np.asarray(over / (under + EMPTY)[:, :, None])
