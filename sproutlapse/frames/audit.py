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
from typing import Any

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
# Cells in which sharpness and contrast are asked for.
TILES_W, TILES_H = 16, 12
# Widths in pixels of the two Gaussians that edges are looked at through.
FINE_PX, COARSE_PX = 0.8, 3.0

# The thresholds stand far between what good and faulty frames of rendered shelves and trays show (exposure x 0.6 to
# 1.35, pink and orange light, noise, bumps: edges 0.83 and more of the usual; blur of 2 px: 0.64 and less; a third of
# fog: contrast 0.67 and less, and darkest parts lighter by 0.13, where good frames move by 0.01).
DARK_WHITE, DARK_SHARE = 0.03, 0.12  # white in linear light; and over the usual white
BURNT_ALONE, BURNT_LEAST, BURNT_MORE = 0.85, 0.5, 0.3  # share; least share, and share above the usual one
EDGE_ALONE = 1.25  # blurred by 3.5 px or more, whatever is usual
EDGE_SHARP = 2.2  # blurred by 1.25 px or less, whatever is usual
EDGE_SHARE = 0.74
HAZE_DARK, HAZE_CONTRAST = 0.05, 0.78  # darkest parts lighter by, in shares of white; and contrast over the usual
CHANGED = 9.0  # CIELAB distance from all that stood within about half a cell
LIGHTNESS_SAYS = 0.8  # lightness counts less than colour: shadows move, soil gets wet
COVERED_LEAST, COVERED_MOST = 0.03, 0.7  # share of the picture; more is another view, not an object
EDGE_CELLS = 2  # cells of the picture's edge that an object covers on its way in
SEARCH = 8  # cells that a camera may have been turned by: a quarter of the picture


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

    Attributes as in `Look`; `dark_share` is `dark` over `white`.
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
        grid=[int(value) for value in np.median([one.grid for one in first], axis=0)],
        frames=len(first),
    )


def fault(look: Look, usual: Usual | None) -> str:  # noqa: PLR0911 - one return a fault, in order of precedence
    """Why a photo cannot be measured, judged by itself and by what is usual; empty if it can.

    Parameters
    ----------
    look
        The photo's numbers.
    usual
        The norm of its stand from usable frames before it; None while there are none, then only faults that need no
        comparison are found.
    """
    if look.white < DARK_WHITE or (usual is not None and look.white < DARK_SHARE * usual.white):
        return "dark: the lamps seem to be off"
    burnt_from = BURNT_ALONE if usual is None else max(BURNT_LEAST, min(usual.burnt + BURNT_MORE, 0.98))
    if look.burnt > burnt_from:
        return f"burnt: {100 * look.burnt:.0f} % of the picture is pure white"
    if 0 < max(look.edge_x, look.edge_y) < EDGE_ALONE:
        return BLURRED
    if usual is None:
        return ""
    if (look.width, look.height) != (usual.width, usual.height):
        return f"other size: {look.width} x {look.height} pixels, the first photos have {usual.width} x {usual.height}"
    if _hazy(look, usual):
        return "hazy: everything looks washed out, as with a fogged lens"
    if _softer(look.edge_x, usual.edge_x) or _softer(look.edge_y, usual.edge_y):
        return BLURRED
    return ""


BLURRED = "blurred: no edge is sharp, as when the camera shook or focused on something else"


def _hazy(look: Look, usual: Usual) -> bool:
    lighter = look.dark / max(look.white, 1e-6) > usual.dark_share + HAZE_DARK
    return lighter and look.contrast < HAZE_CONTRAST * usual.contrast


def _softer(edge: float, usual_edge: float) -> bool:
    return 0 < edge < min(EDGE_SHARP, EDGE_SHARE * usual_edge)


def sudden(look: Look, previous: Look, usual: Usual, *, before: Look | None = None) -> str:
    """Why a photo cannot be measured, judged in time order: something large came in; empty if not.

    Growth is told from it by being slow: an object differs at once, over a good part of the picture, from the last
    usable frame and from the first ones, and touches the picture's edge. A camera that
    was moved is no object.

    Parameters
    ----------
    look
        The photo's numbers; `fault` found nothing.
    previous
        The last usable frame before it.
    usual
        The norm of its stand.
    before
        The frame right before it, if that was left out as obstructed: what stays for two photos is taken for a change
        of the scene and not for a hand.
    """
    if (look.width, look.height) != (previous.width, previous.height):
        return ""
    new = _changed(look.grid, previous.grid) & _changed(look.grid, usual.grid)
    if before is not None:
        new &= _changed(look.grid, before.grid)
    if np.count_nonzero(new) > COVERED_MOST * new.size:
        return ""
    # Lines one cell wide are the rims of things that a bump moved.
    solid = cv2.morphologyEx(new.astype(np.uint8), cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
    count, parts = cv2.connectedComponents(solid, connectivity=8)

    def came(area: NDArray[np.bool_]) -> bool:
        # With one or two frames to go by, an object that was in them from the start and left differs as much.
        return usual.frames > 2 or _stands_out(area, look, previous)

    for part in range(1, count):
        area = parts == part
        share = float(np.count_nonzero(area)) / area.size
        if share >= COVERED_LEAST and _edge_cells(area) >= EDGE_CELLS and came(area):
            return f"obstructed: something reaches into the picture and covers about {100 * share:.0f} % of it"
    return ""


def _linear_grid(grid: Sequence[int]) -> Floats:
    return LINEAR[np.asarray(grid, dtype=np.uint8).reshape(GRID_H, GRID_W, 3)]


def _lab(linear: Floats) -> Floats:
    clipped = np.clip(linear, 0, 1).astype(np.float32)
    srgb = np.where(clipped <= 0.0031308, clipped * 12.92, 1.055 * np.power(clipped, 1 / 2.4) - 0.055)
    return np.asarray(cv2.cvtColor(srgb.astype(np.float32), cv2.COLOR_RGB2Lab), dtype=np.float32)


def _changed(grid: Sequence[int], other: Sequence[int]) -> NDArray[np.bool_]:
    """Cells that differ from all that stood nearby in the other picture, light and a turned camera
    evened out; (GRID_H, GRID_W)."""
    now, then = _linear_grid(grid), _linear_grid(other)
    best: NDArray[np.bool_] = _differs(now, then)
    if np.count_nonzero(best) < COVERED_LEAST * best.size:
        return best
    dx, dy = _turned_by(_lab(now), _lab(then))
    if (dx, dy) == (0, 0):
        return best
    rows, cols = _overlap(dy, GRID_H), _overlap(dx, GRID_W)
    moved = np.zeros_like(best)
    back = (slice(rows.start - dy, rows.stop - dy), slice(cols.start - dx, cols.stop - dx))
    moved[rows, cols] = _differs(now[rows, cols], then[back])
    return moved if np.count_nonzero(moved) < np.count_nonzero(best) else best


def _overlap(shift: int, size: int) -> slice:
    return slice(max(shift, 0), size + min(shift, 0))


def _differs(now: Floats, then: Floats) -> NDArray[np.bool_]:
    fair = (then > 0.02) & (then < 0.95) & (now > 0.005) & (now < 0.98)
    ratio = now / np.maximum(then, 1e-6)
    gains = [float(np.median(ratio[..., c][fair[..., c]])) if fair[..., c].any() else 1.0 for c in range(3)]
    lab = _lab(np.asarray(now / np.array(gains, dtype=np.float32), dtype=np.float32))
    lowest, highest = _range_nearby(_lab(then))
    beyond = np.maximum(np.maximum(lab - highest, lowest - lab), 0) * np.array([LIGHTNESS_SAYS, 1, 1], dtype=np.float32)
    return np.asarray(np.sqrt((beyond**2).sum(axis=2)) > CHANGED, dtype=np.bool_)


def _range_nearby(lab: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest values within half a cell around each cell's middle."""
    rows, cols = lab.shape[:2]
    # Replicated rims keep the doubled grid in step with the cells: the middle of cell k comes to 2 k + 2.
    fine = cv2.resize(cv2.copyMakeBorder(lab, 1, 1, 1, 1, cv2.BORDER_REPLICATE), None, fx=2, fy=2)
    corner = (slice(2, 2 * rows + 2), slice(2, 2 * cols + 2))
    around = np.ones((3, 3), np.uint8)
    high = cv2.dilate(fine, around)[corner].reshape(rows, 2, cols, 2, 3).max(axis=(1, 3))
    low = cv2.erode(fine, around)[corner].reshape(rows, 2, cols, 2, 3).min(axis=(1, 3))
    return np.asarray(low, dtype=np.float32), np.asarray(high, dtype=np.float32)


def _turned_by(now: Floats, then: Floats) -> tuple[int, int]:
    """Cells (right, down) by which the picture's structure moved, from the steps between neighbouring cells."""
    a, b = (np.abs(cv2.Laplacian(lab[..., 0], cv2.CV_32F)) for lab in (now, then))
    best, found = np.inf, (0, 0)
    for dy in range(-SEARCH, SEARCH + 1):
        for dx in range(-SEARCH, SEARCH + 1):
            rows, cols = _overlap(dy, GRID_H), _overlap(dx, GRID_W)
            moved = b[rows.start - dy : rows.stop - dy, cols.start - dx : cols.stop - dx]
            cost = float(np.minimum(np.abs(a[rows, cols] - moved), 20).mean())
            if cost < best:
                best, found = cost, (dx, dy)
    return found


def _edge_cells(area: NDArray[np.bool_]) -> int:
    return int(max(area[0].sum(), area[-1].sum(), area[:, 0].sum(), area[:, -1].sum()))


def _stands_out(area: NDArray[np.bool_], look: Look, previous: Look) -> bool:
    """Whether the rim of the area breaks this picture more than the one before: the object came and did not leave."""
    return _step_across_rim(area, look) > _step_across_rim(area, previous)


def _step_across_rim(area: NDArray[np.bool_], look: Look) -> float:
    """Mean CIELAB distance of neighbouring cells of which one lies in the area and one beyond; 0 without a rim."""
    lab = _lab(_linear_grid(look.grid))
    down = np.linalg.norm(lab[1:] - lab[:-1], axis=2)[area[1:] != area[:-1]]
    right = np.linalg.norm(lab[:, 1:] - lab[:, :-1], axis=2)[area[:, 1:] != area[:, :-1]]
    steps = np.concatenate([down, right])
    return float(steps.mean()) if steps.size else 0.0


def duplicate_reason(first: str) -> str:
    """The reason for a photo that shows the same as an earlier one."""
    return f"duplicate: same picture as {first}"


def damaged_reason(why: str) -> str:
    """The reason for a photo that cannot be decoded in full."""
    return f"damaged: {why}"
