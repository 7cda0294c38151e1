"""The numbers by which a photo is audited: decoded photo in, its `Look` out; and what is usual, from the first ones.

Only this part sees pixels, so it runs beside the measuring, and all judging works on its numbers.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.frames.night import colour_share

Floats = NDArray[np.float32]

# The contract: what a frame is compared with comes from the first 7 usable ones.
USUAL_FROM = 7
# Sharpness and contrast are taken on a copy of about this many pixels on the long side, so that 12 MP cost no more.
LONG_SIDE_PX = 1600
# Cells of the coarse picture: fine enough that a hand covers dozens, coarse enough that sway and bumps stay inside one.
GRID_W, GRID_H = 32, 24
# Cells in which sharpness and contrast are asked for.
TILES_W, TILES_H = 16, 12
# Widths in pixels of the two Gaussians that edges are looked at through.
FINE_PX, COARSE_PX = 0.8, 3.0


def _linear_table() -> Floats:
    """sRGB value 0..255 to linear light 0..1 (IEC 61966-2-1)."""
    v = np.arange(256) / 255.0
    return np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)


LINEAR = _linear_table()


@dataclass(frozen=True)
class Look:
    """Cheap numbers of one decoded photo.

    Attributes
    ----------
    width, height
        Picture size in pixels.
    brightness
        Mean luminance in linear light, 0..1.
    white, dark
        The 95th and the 1st percentile of luminance in linear light, 0..1.
    burnt
        Share of pixels whose darkest channel is at least 250 of 255.
    edge_x, edge_y
        Steepness of the sharpest edges across and along the picture: fine over coarse gradient, a pure number that
        contrast and gain do not change; 0 where there is no edge to judge.
    contrast
        Spread of sRGB values within the tiles that have most of it, over the white: about 0..1.
    grid
        Coarse picture, GRID_H x GRID_W x 3 mean sRGB values, row by row.
    pixel_hash
        Hash of size and all pixels: equal for the same picture stored twice.
    colour
        See `night.colour_share`; None also for numbers kept from a version that did not take it.
    brightness_value
        See `exposure.brightness_value`; only set where the file was at hand.
    """

    width: int
    height: int
    brightness: float
    white: float
    dark: float
    burnt: float
    edge_x: float
    edge_y: float
    contrast: float
    grid: list[int]
    pixel_hash: str
    colour: float | None = None
    brightness_value: float | None = None


def look(rgb: NDArray[np.uint8]) -> Look:
    """The numbers by which a photo is audited.

    Parameters
    ----------
    rgb
        (height, width, 3) sRGB values 0..255.
    """
    height, width = rgb.shape[:2]
    small = _reduced(rgb)
    grey = np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    counts = cv2.calcHist([grey], [0], None, [256], [0, 256]).ravel()
    share = np.cumsum(counts) / counts.sum()
    white, dark = (int(np.searchsorted(share, quantile)) for quantile in (0.95, 0.01))
    brightness = float((counts * LINEAR).sum() / counts.sum())
    darkest_channel = cv2.min(cv2.min(small[..., 0], small[..., 1]), small[..., 2])
    edge_x, edge_y = _edges(grey)
    grid = cv2.resize(small, (GRID_W, GRID_H), interpolation=cv2.INTER_AREA)
    return Look(
        width=width,
        height=height,
        brightness=round(brightness, 6),
        white=round(float(LINEAR[white]), 6),
        dark=round(float(LINEAR[dark]), 6),
        burnt=round(float(np.count_nonzero(darkest_channel >= 250)) / darkest_channel.size, 6),
        edge_x=round(edge_x, 4),
        edge_y=round(edge_y, 4),
        contrast=round(_contrast(grey, white), 4),
        grid=[int(value) for value in grid.ravel()],
        pixel_hash=pixel_hash(rgb),
        colour=None if (colour := colour_share(small)) is None else round(colour, 5),
    )


def pixel_hash(rgb: NDArray[np.uint8]) -> str:
    """Hash of a picture's size and pixels, the same on every machine."""
    digest = hashlib.blake2b(f"{rgb.shape}".encode(), digest_size=16)
    digest.update(np.ascontiguousarray(rgb).data)
    return digest.hexdigest()


def _reduced(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """A copy whose long side has 800 to 1600 pixels (smaller pictures as they are), by whole factors."""
    factor = -(-max(rgb.shape[:2]) // LONG_SIDE_PX)
    if factor <= 1:
        return rgb
    size = (max(1, rgb.shape[1] // factor), max(1, rgb.shape[0] // factor))
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _tiles(values: NDArray[Any]) -> NDArray[Any]:
    """(tiles, pixels of a tile): the picture cut into TILES_H x TILES_W, a rest at the right and below left off."""
    h, w = values.shape[0] // TILES_H, values.shape[1] // TILES_W
    cut = values[: h * TILES_H, : w * TILES_W].reshape(TILES_H, h, TILES_W, w)
    return np.ascontiguousarray(cut.transpose(0, 2, 1, 3)).reshape(TILES_H * TILES_W, h * w)


def _edges(grey: NDArray[np.uint8]) -> tuple[float, float]:
    """Fine over coarse gradient at the strongest edges, across and along the picture.

    For an edge of any height that is blurred by s, the peak gradient after a Gaussian of width f is proportional to
    1 / sqrt(s^2 + f^2); the ratio of two such peaks tells s and nothing else. The place is chosen by the coarse
    gradient, so that specks of perlite, which come and go under the leaves, have no say.
    """
    if min(grey.shape) < 8 * TILES_W:
        return 0.0, 0.0
    fine = cv2.GaussianBlur(grey, (0, 0), FINE_PX)
    # Half size is fine enough for the coarse gradient, at a quarter of the work.
    half = cv2.resize(grey, (grey.shape[1] // 2, grey.shape[0] // 2), interpolation=cv2.INTER_AREA).astype(np.float32)
    coarse = cv2.GaussianBlur(half, (0, 0), COARSE_PX / 2)
    return _edge_ratio(fine, coarse, across=True), _edge_ratio(fine, coarse, across=False)


def _edge_ratio(fine: NDArray[Any], coarse: NDArray[Any], *, across: bool) -> float:
    kernel = np.array([[-1, 0, 1]], np.float32) if across else np.array([[-1], [0], [1]], np.float32)
    steep = cv2.dilate(np.abs(cv2.filter2D(fine, cv2.CV_16S, kernel)).astype(np.uint16), np.ones((5, 5), np.uint8))
    # Per half pixel the coarse gradient counts double.
    gentle = _tiles(np.abs(cv2.filter2D(coarse, cv2.CV_32F, kernel)) / 2)
    there = gentle.argmax(axis=1)
    rows = np.arange(len(there))
    b = gentle[rows, there]
    a = _tiles(steep[: coarse.shape[0] * 2 : 2, : coarse.shape[1] * 2 : 2])[rows, there].astype(np.float64)
    strong = b >= max(0.6 * float(np.sort(b)[-4]), 1.0)
    return float(np.median(a[strong] / b[strong])) if strong.any() else 0.0


def _contrast(grey: NDArray[np.uint8], white: int) -> float:
    """Spread of sRGB values in the tiles with most of it, over the picture's white."""
    if white <= 0 or min(grey.shape) < 8 * TILES_W:
        return 0.0
    half = cv2.resize(grey, (grey.shape[1] // 2, grey.shape[0] // 2), interpolation=cv2.INTER_AREA)
    calm = _tiles(cv2.blur(half, (3, 3)))
    spread = calm.max(axis=1).astype(np.float64) - calm.min(axis=1)
    return float(np.quantile(spread, 0.9)) / white


@dataclass(frozen=True)
class Usual:
    """What photos of one stand look like: medians over the first usable ones, `frames` of them.

    Attributes as in `Look`; `dark_share` is `dark` over `white`; `colour` is None unless all these have it.
    """

    width: int
    height: int
    brightness: float
    white: float
    dark_share: float
    burnt: float
    edge_x: float
    edge_y: float
    contrast: float
    grid: list[int]
    frames: int
    colour: float | None = None


def usual(looks: Sequence[Look]) -> Usual:
    """The norm of a stand from its usable frames so far, of which the first 7 count."""
    if not looks:
        raise ValueError("at least one usable frame is needed")
    first = looks[:USUAL_FROM]

    def middle(name: str) -> float:
        return float(median(getattr(one, name) for one in first))

    colours = [one.colour for one in first if one.colour is not None]
    return Usual(
        width=first[0].width,
        height=first[0].height,
        brightness=middle("brightness"),
        white=middle("white"),
        dark_share=float(median(one.dark / max(one.white, 1e-6) for one in first)),
        burnt=middle("burnt"),
        edge_x=middle("edge_x"),
        edge_y=middle("edge_y"),
        contrast=middle("contrast"),
        grid=[int(value) for value in np.median([one.grid for one in first], axis=0)],
        frames=len(first),
        colour=float(median(colours)) if len(colours) == len(first) else None,
    )
