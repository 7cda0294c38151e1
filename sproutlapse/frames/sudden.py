"""Something that came into the picture at once: numbers of a photo and of those before it go in, a reason comes out."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.frames.looks import GRID_H, GRID_W, LINEAR, Floats, Look, Usual

# Tried with hands, arms, sleeves and cans over rendered shelves and trays, against growth over up to 30 frames at once,
# bumps of 15 px, moves of 200 px, exposure x 0.6 to 1.35, pink and orange light.
CHANGED = 9.0  # CIELAB distance from all that stood within about half a cell
LIGHTNESS_SAYS = 0.8  # lightness counts less than colour: shadows move, soil gets wet
COVERED_LEAST, COVERED_MOST = 0.03, 0.7  # share of the picture; more is another view, not an object
EDGE_CELLS = 2  # cells of the picture's edge that an object covers on its way in
KEPT = 50_000  # answers, by what they depend on: a folder that is watched is judged anew after each photo
SEARCH = 8  # cells that a camera may have been turned by: a quarter of the picture


_KNOWN: dict[bytes, str] = {}


def sudden(look: Look, previous: Look, usual: Usual, *, before: Look | None = None) -> str:
    """Why a photo cannot be measured, judged in time order: something large came in; empty if not.

    Growth is told from it by being slow: an object differs at once, over a good part of the picture, from the last
    usable frame and from the first ones, and touches the picture's edge. A camera that was moved is no
    object.

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
    pictures = [look, previous] if before is None else [look, previous, before]
    key = hashlib.blake2b(repr([(one.width, one.height) for one in pictures]).encode(), digest_size=16)
    key.update(bytes([min(usual.frames, 255)]))
    for grid in (*(one.grid for one in pictures), usual.grid):
        key.update(bytes(grid))
    told = _KNOWN.get(key.digest())
    if told is None:
        told = _sudden(look, previous, usual, before)
        if len(_KNOWN) >= KEPT:
            _KNOWN.clear()
        _KNOWN[key.digest()] = told
    return told


def _sudden(look: Look, previous: Look, usual: Usual, before: Look | None) -> str:
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
