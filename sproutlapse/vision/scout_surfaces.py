"""One still picture in, its surfaces out: edges, and what of the picture stands before the board and the floor."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Rgb = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]

# A change of colour per pixel (CIELAB) below this is shading of one surface; noise of the picture may raise it.
SMOOTH_LAB_PER_PX = 0.45
# Two smooth surfaces are one where the line between them is fainter than this; a white pot before a white board shows
# 1.8 and more along three quarters of its outline.
FAINT_LAB_PER_PX = 1.3
# A shared line shorter than this proves nothing.
SHARED_LINE_PX = 12
# So bright (CIELAB L) and so large a share of the picture is no pot's wall but the board, even where it ends in view.
BOARD_L, BOARD_SHARE = 60.0, 0.2
# A patch no wider than this share of the picture and this near in colour (CIELAB) to what lies behind is a gap.
GAP_WIDTH, GAP_LAB = 0.06, 9.0


@dataclass(frozen=True)
class Surfaces:
    """Edges of a picture and what of it stands before the board and the floor.

    Attributes
    ----------
    lab
        (H, W, 3) CIELAB, slightly smoothed.
    edges
        (H, W) change of colour per pixel in CIELAB.
    standing
        (H, W) true where something other than board or floor is seen.
    """

    lab: Floats
    edges: Floats
    standing: Mask


def surfaces(picture: Rgb) -> Surfaces:
    """Tell what stands in view from the smooth surfaces (board, floor, table) that reach the picture's border."""
    sharp = cv2.cvtColor(picture.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    lab = np.asarray(cv2.GaussianBlur(sharp, (0, 0), 1.2), dtype=np.float32)
    gx, gy = (cv2.Sobel(lab, cv2.CV_32F, dx, 1 - dx, scale=1 / 8) for dx in (1, 0))
    edges = np.sqrt((gx**2 + gy**2).sum(axis=2)).astype(np.float32)
    crest = np.asarray(cv2.dilate(edges, np.ones((3, 3), np.uint8)), dtype=np.float32)
    parts, smooth = _one_surface_each(picture, edges)
    ground = _grown(_background(parts, smooth, lab[..., 0]), smooth, parts, crest)
    back = (ground | _seen_through(parts, smooth, ground, lab))[parts] & (parts > 0)
    # The lines between two surfaces belong to neither; those between two pieces of the background stand for nothing.
    back = cv2.morphologyEx(back.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)).astype(bool)
    return Surfaces(lab=lab, edges=edges, standing=~back)


def _one_surface_each(picture: Rgb, edges: Floats) -> tuple[NDArray[np.intp], Mask]:
    """Number the surfaces of a picture (0 = the line between two), and tell which numbers are smooth ones."""
    smooth = (edges < max(SMOOTH_LAB_PER_PX, 4 * float(np.median(edges)))).astype(np.uint8)
    # Soil is nowhere smooth: it needs seeds of its own, or its neighbours would run over it.
    coarse = cv2.morphologyEx(1 - smooth, cv2.MORPH_OPEN, np.ones((9, 9), np.uint8))
    core = cv2.erode(smooth, np.ones((3, 3), np.uint8))
    count, seeds, stats, _ = cv2.connectedComponentsWithStats(core, connectivity=4)
    seeds[(stats[:, cv2.CC_STAT_AREA] < 24)[seeds]] = 0
    rough_count, rough = cv2.connectedComponents(cv2.erode(coarse, np.ones((5, 5), np.uint8)))
    seeds = np.where(rough > 0, rough + count - 1, seeds)
    parts = cv2.watershed(np.ascontiguousarray(picture), seeds.astype(np.int32)).astype(np.intp)
    return np.maximum(parts, 0), np.arange(count + rough_count - 1) < count


def _grown(back: Mask, smooth: Mask, parts: NDArray[np.intp], crest: Floats) -> Mask:
    """Take to the background what only a faint line (a block of the JPEG, a shade) parts from it."""
    count = len(back)
    pairs, weights = [], []
    for before, after, line in (
        (parts[:, :-2], parts[:, 2:], crest[:, 1:-1]),
        (parts[:-2], parts[2:], crest[1:-1]),
    ):
        meet = (before != after) & smooth[before] & smooth[after] & (before > 0) & (after > 0)
        pairs += [before[meet] * count + after[meet], after[meet] * count + before[meet]]
        weights += [line[meet]] * 2
    pair, weight = np.concatenate(pairs), np.concatenate(weights)
    order = np.lexsort((weight, pair))
    pair, weight = pair[order], weight[order]
    keys, start, length = np.unique(pair, return_index=True, return_counts=True)
    faint = keys[
        (length >= SHARED_LINE_PX) & (weight[np.minimum(start + length // 4, max(len(pair) - 1, 0))] < FAINT_LAB_PER_PX)
    ]
    back = back.copy()
    for _ in range(count):
        new = np.setdiff1d(faint[back[faint // count]] % count, np.flatnonzero(back))
        if not len(new):
            break
        back[new] = True
    return back


def _background(parts: NDArray[np.intp], smooth: Mask, lightness: Floats) -> Mask:
    """Which surfaces are board or floor: those that run out of the picture, and not just a pot cut off below."""
    width, count = parts.shape[1], len(smooth)
    share = np.bincount(parts.ravel(), minlength=count) / parts.size
    top, low, left, right = (
        np.bincount(line, minlength=count) for line in (parts[1], parts[-2], parts[:, 1], parts[:, -2])
    )
    back = (top > 0) & (share > 0.003)
    back |= (left + right > 0) & (share > 0.01)
    back |= (low > 0.5 * width) & (share > 0.01)
    # A board that does not fill the picture: bright, even and larger than any pot's wall.
    bright = np.bincount(parts.ravel(), lightness.ravel(), minlength=count) / np.maximum(share * parts.size, 1)
    back |= (bright > BOARD_L) & (share > BOARD_SHARE)
    back[0] = False
    return np.asarray(back & smooth)


def colour_behind(lab: Floats, back: Mask) -> Floats:
    """What board and floor would look like behind the things that stand before them, from what is seen around these."""
    weight = back.astype(np.float32)
    small = (lab.shape[1] // 4, lab.shape[0] // 4)
    known = cv2.resize(weight, small, interpolation=cv2.INTER_AREA)
    colour = cv2.resize(lab * weight[..., None], small, interpolation=cv2.INTER_AREA)
    spread = small[0] / 32
    fill = cv2.GaussianBlur(colour, (0, 0), spread) / (cv2.GaussianBlur(known, (0, 0), spread)[..., None] + 1e-6)
    return np.asarray(cv2.resize(fill, lab.shape[1::-1], interpolation=cv2.INTER_LINEAR), dtype=np.float32)


def _seen_through(parts: NDArray[np.intp], smooth: Mask, back: Mask, lab: Floats) -> Mask:
    """Smooth patches shut in between pots or leaves that look like the board or floor behind them."""
    behind = back[parts]
    away = np.linalg.norm(lab - colour_behind(lab, behind), axis=2)
    # Right behind a closed row of pots nothing is seen near by, but farther along the same row of pixels.
    for row in range(0, len(parts), 4):
        if behind[row].mean() > 0.1:
            usual = np.median(lab[row, behind[row]], axis=0)
            away[row : row + 4] = np.minimum(away[row : row + 4], np.linalg.norm(lab[row : row + 4] - usual, axis=2))
    area = np.maximum(np.bincount(parts.ravel(), minlength=len(smooth)), 1)
    mean = np.bincount(parts.ravel(), away.ravel(), minlength=len(smooth)) / area
    # A gap between pots is upright and narrow; the body of a pale pot is wide, the light on a rim is flat.
    rows = np.zeros(len(smooth))
    for row in parts[::4]:
        rows[np.unique(row)] += 4
    width = area / np.maximum(rows, 1)
    return np.asarray(smooth & (width < GAP_WIDTH * parts.shape[1]) & (rows > width) & (mean < GAP_LAB))
