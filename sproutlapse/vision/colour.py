"""sRGB pictures to linear light and CIELAB, and the colour distances that tissue is told by."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]


def decode_srgb(value: NDArray[np.float64]) -> NDArray[np.float64]:
    """Linear light (0..1) of an sRGB value (0..1); IEC 61966-2-1."""
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def encode_srgb(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """The sRGB value (0..1) of linear light (0..1); IEC 61966-2-1."""
    low = np.clip(light, 0.0, None)
    return np.where(low <= 0.0031308, 12.92 * low, 1.055 * low ** (1 / 2.4) - 0.055)


_THIRDS, _ONES = np.full((1, 3), 1 / 3, np.float32), np.ones((1, 3), np.float32)


def grey_of(light: NDArray[np.floating[Any]]) -> Floats:
    """(height, width) mean of red, green and blue of (height, width, 3)."""
    return np.asarray(cv2.transform(light.astype(np.float32, copy=False), _THIRDS), dtype=np.float32)


def dot(one: Floats, other: Floats) -> Floats:
    """(height, width) sum over the channels of the product of two (height, width, 3)."""
    return np.asarray(cv2.transform(cv2.multiply(one, other), _ONES), dtype=np.float32)


def thrice(plane: NDArray[np.floating[Any]]) -> Floats:
    """(height, width, 3) of a (height, width): far quicker than to let numpy spread it over the channels."""
    one = plane.astype(np.float32, copy=False)
    return np.asarray(cv2.merge([one, one, one]), dtype=np.float32)


_LIGHT_OF_BYTE = decode_srgb(np.arange(256) / 255.0).astype(np.float32)


def to_light(picture: Bytes, balance: tuple[float, float, float] = (1.0, 1.0, 1.0)) -> Floats:
    """Linear light of an 8-bit sRGB picture.

    Parameters
    ----------
    picture
        (height, width, 3), red first.
    balance
        Factors of red, green and blue.

    Returns
    -------
    ndarray
        (height, width, 3) float32, 0..1 times the balance.
    """
    table = _LIGHT_OF_BYTE[None, :, None] * np.asarray(balance, np.float32)
    return np.asarray(cv2.LUT(picture, table), dtype=np.float32)


def to_lab(light: Floats) -> Floats:
    """CIELAB (D65, 2 degree observer) of linear sRGB light; L 0..100.

    Parameters
    ----------
    light
        (height, width, 3) float32, red first; values are clipped to 0..1.
    """
    return np.asarray(cv2.cvtColor(np.clip(light, 0.0, 1.0), cv2.COLOR_LRGB2LAB), dtype=np.float32)


def colour_distance(lab: Floats, bare: Floats, dimmest: Floats, brightest: Floats) -> Floats:
    """CIELAB distance to what stood there bare, where mere shading counts for nothing.

    A surface lit `k` times as strongly keeps its chromaticity: in CIELAB, above the short linear part, L + 16, a and b
    are all scaled by the cube root of `k`. The distance is the least one to the bare colour lit between the limits, so
    that wet soil, a lamp that moved and soft shadows stay near nought, while tissue of another colour does not.

    Parameters
    ----------
    lab, bare
        (height, width, 3) CIELAB of the picture and of the bare stage.
    dimmest, brightest
        (height, width) limits of the cube root of `k`.
    """
    (tone, red, yellow), (grey, bare_red, bare_yellow) = cv2.split(lab), cv2.split(bare)
    tone, grey = tone + np.float32(16.0), grey + np.float32(16.0)
    shade = np.clip(tone / grey, dimmest, brightest)
    out = (tone - shade * grey) ** 2
    out += (red - shade * bare_red) ** 2
    out += (yellow - shade * bare_yellow) ** 2
    return np.asarray(np.sqrt(out), dtype=np.float32)


GRAIN_LEVELS = 6.0  # of 255: what noise and JPEG make of a dark colour. Found on rendered soil; no published value


def median_of(planes: Sequence[Floats]) -> Floats:
    """The median of pictures at each pixel, of the two middle ones their mean; the same as numpy's, many times as fast.

    Parameters
    ----------
    planes
        Float32 of one shape, at least one.
    """
    own, count = [plane.copy() for plane in planes], len(planes)
    for done in range(count // 2 + 1):  # the largest of those left goes to the end
        for k in range(count - 1 - done):
            low = np.minimum(own[k], own[k + 1])
            np.maximum(own[k], own[k + 1], out=own[k + 1])
            own[k] = low
    middle = own[count // 2]
    return middle if count % 2 else np.asarray((own[count // 2 - 1] + middle) / np.float32(2), dtype=np.float32)


def amplified_grain(light: Floats, balance: Sequence[float]) -> Floats:
    """CIELAB distance that noise may make beyond what it makes in white light, where one colour of the light is weak.

    Under a very warm lamp blue is multiplied by three to make the board grey, and its noise on dark soil with it.

    Parameters
    ----------
    light
        (height, width, 3) linear light, white balance done.
    balance
        Factors of red, green and blue that did it.
    """
    lab, worst = to_lab(light), np.zeros(light.shape[:2], np.float32)
    for k, factor in enumerate(balance):
        away = []
        for gain in (factor, 1.0):
            # Light a level of sRGB, without the straight foot of its curve.
            level = 2.4 / 1.055 / 255 * np.clip(light[..., k] / gain, 0.0, 1.0) ** (1.4 / 2.4)
            grain = light.copy()
            grain[..., k] += gain * GRAIN_LEVELS * level
            away.append(np.linalg.norm(to_lab(grain) - lab, axis=-1))
        worst = np.maximum(worst, away[0] - away[1])
    return np.asarray(worst, dtype=np.float32)
