"""What is wrong with one photo as a picture: a decoded photo goes in, cheap numbers and then one plain reason come out.

`look` is the part that sees pixels and runs beside the measuring; `usual`, `fault` and `sudden` work on its numbers
alone. Growth must never be a fault, so sharpness and haze are judged by how edges look and not by what is there, and an
obstruction by what is large, new at once and comes in from the picture's edge.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

# The contract: what a frame is compared with comes from the first 7 usable ones.
USUAL_FROM = 7
# Sharpness and contrast are taken on a copy of about this many pixels on the long side, so that 12 MP cost no more.
LONG_SIDE_PX = 1600
# Cells of the coarse picture: fine enough that a hand covers dozens, coarse enough that sway and bumps stay inside one.
GRID_W, GRID_H = 32, 24
# Cells in which sharpness is asked for.
TILES_W, TILES_H = 16, 12


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
        Spread of brightness within the tiles that have most of it, over `white`: 0..1.
    grid
        Coarse picture, GRID_H x GRID_W x 3 mean sRGB values, row by row.
    pixel_hash
        Hash of size and all pixels: equal for the same picture stored twice.
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


def look(rgb: NDArray[np.uint8]) -> Look:
    """The numbers by which a photo is audited.

    Parameters
    ----------
    rgb
        (height, width, 3) sRGB values 0..255.
    """
    height, width = rgb.shape[:2]
    small = _reduced(rgb)
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    counts = cv2.calcHist([grey], [0], None, [256], [0, 256]).ravel()
    share = np.cumsum(counts) / counts.sum()
    white, dark = (float(LINEAR[int(np.searchsorted(share, q))]) for q in (0.95, 0.01))
    brightness = float((counts * LINEAR).sum() / counts.sum())
    darkest_channel = cv2.min(cv2.min(small[..., 0], small[..., 1]), small[..., 2])
    edge_x, edge_y = _edges(grey)
    grid = cv2.resize(small, (GRID_W, GRID_H), interpolation=cv2.INTER_AREA)
    return Look(
        width=width,
        height=height,
        brightness=round(brightness, 6),
        white=round(white, 6),
        dark=round(dark, 6),
        burnt=round(float(np.count_nonzero(darkest_channel >= 250)) / darkest_channel.size, 6),
        edge_x=round(edge_x, 4),
        edge_y=round(edge_y, 4),
        contrast=round(_contrast(grey, white), 4),
        grid=[int(value) for value in grid.ravel()],
        pixel_hash=pixel_hash(rgb),
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


def _tiled(values: NDArray[np.float32], how: str) -> Floats:
    """Per tile the largest or smallest value."""
    h, w = values.shape[0] // TILES_H, values.shape[1] // TILES_W
    tiles = values[: h * TILES_H, : w * TILES_W].reshape(TILES_H, h, TILES_W, w)
    return np.asarray(tiles.max(axis=(1, 3)) if how == "max" else tiles.min(axis=(1, 3)), dtype=np.float32)


def _edges(grey: NDArray[np.uint8]) -> tuple[float, float]:
    """Fine over coarse gradient at the strongest edges, across and along the picture.

    For an edge of any height that is blurred by s, the peak gradient after a Gaussian of width f is proportional to
    1 / sqrt(s^2 + f^2); the ratio of two such peaks tells s and nothing else.
    """
    if min(grey.shape) < 8 * TILES_W:
        return 0.0, 0.0
    fine = cv2.GaussianBlur(grey, (0, 0), 0.8).astype(np.float32)
    coarse = cv2.GaussianBlur(grey, (0, 0), 3.0).astype(np.float32)
    found = []
    for dx, dy in ((1, 0), (0, 1)):
        kernel = np.array([[-0.5, 0, 0.5]], np.float32)
        kernel = kernel if dx else kernel.T
        a = _tiled(np.abs(cv2.filter2D(fine, -1, kernel)), "max")
        b = _tiled(np.abs(cv2.filter2D(coarse, -1, kernel)), "max")
        strong = b >= max(0.5 * float(np.quantile(b, 0.95)), 0.5)
        found.append(float(np.quantile(a[strong] / b[strong], 0.75)) if strong.any() else 0.0)
    return found[0], found[1]


def _contrast(grey: NDArray[np.uint8], white: float) -> float:
    """Spread of linear light in the tiles with most of it, over the picture's white."""
    if white <= 0 or min(grey.shape) < 8 * TILES_W:
        return 0.0
    calm = LINEAR[cv2.GaussianBlur(grey, (0, 0), 1.5)]
    spread = _tiled(calm, "max") - _tiled(calm, "min")
    return float(np.quantile(spread, 0.9)) / white


@dataclass(frozen=True)
class Usual:
    """What photos of one stand look like: medians over the first usable ones. Attributes as in `Look`."""

    width: int
    height: int
    brightness: float
    white: float
    dark_share: float
    burnt: float
    edge_x: float
    edge_y: float
    contrast: float


def usual(looks: Sequence[Look]) -> Usual:
    """The norm of a stand from its usable frames so far, of which the first 7 count."""
    if not looks:
        raise ValueError("at least one usable frame is needed")
    first = looks[:USUAL_FROM]

    def middle(name: str) -> float:
        return float(median(getattr(one, name) for one in first))

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
    )


def fault(look: Look, usual: Usual | None) -> str:
    """Why a photo cannot be measured, judged by itself and by what is usual; empty if it can."""
    if look.white < 0.03 or (usual is not None and look.white < 0.12 * usual.white):
        return "dark: the lamps seem to be off"
    if look.burnt > 0.8:
        return "burnt: nearly the whole picture is pure white"
    if usual is not None and (look.width, look.height) != (usual.width, usual.height):
        return f"other size: {look.width} x {look.height} pixels, the first photos have {usual.width} x {usual.height}"
    return ""


def sudden(look: Look, previous: Look | None, usual: Usual | None, *, before: Look | None = None) -> str:
    """Why a photo cannot be measured, judged against the last usable one: something large came in; empty if not."""
    return ""


def duplicate_reason(first: str) -> str:
    """The reason for a photo that shows the same as an earlier one."""
    return f"duplicate: same picture as {first}"


def damaged_reason(why: str) -> str:
    """The reason for a photo that cannot be decoded in full."""
    return f"damaged: {why}"
