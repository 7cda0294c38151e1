"""One still picture from above in, the cells of the seed tray that lies in it out: a grid of rows and columns.

The ridges between cells come back at one distance, so the grid is read off the picture's edge profiles; soil tells
which of its places are cells.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.scout_surfaces import Floats, Mask, Surfaces

Profile = NDArray[np.float64]

# Trays lie up to this many degrees askew in the picture.
TURN_DEG = 6.0
# A cell narrower than this many pixels cannot be measured.
CELL_MIN_PX = 14
# How much alike two stretches of ridges one cell apart must be (correlation) to speak of a grid.
REPEATS = 0.35
# Edges at ridges over those inside cells: 3.8 and more in rendered trays, 1.4 and less in pictures without one.
RIDGE_OVER_SOIL = 2.2
# With fewer cells than this in a direction, their distance there is not told from the width of a cell or a ridge.
FEW_CELLS = 2.9
# Blur spreads the tray's outer edge over this many pixels.
OUTER_EDGE_PX = 5
# The outermost ridges may lie this share of a cell outside what stands out from the table.
OUTER_RIDGE = 0.25
# Soil changes its colour by this much (CIELAB) from pixel to pixel, and so many of a tray's cells hold soil.
SOIL_LAB_PER_PX = 0.65
SOIL_CELLS = 0.7


@dataclass(frozen=True)
class Grid:
    """A cell tray in pixels of the picture it was found in.

    Attributes
    ----------
    xs, ys
        Columns of the upright and rows of the level cell boundaries, in the picture turned by `turn_deg`.
    turn_deg
        Anticlockwise turn about the picture's centre that sets the tray upright.
    size
        (width, height) of the picture.
    """

    xs: tuple[float, ...]
    ys: tuple[float, ...]
    turn_deg: float
    size: tuple[int, int]

    def box(self, row: int, column: int) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of a cell (counted from 0) in the picture as taken."""
        (x0, x1), (y0, y1) = self.xs[column : column + 2], self.ys[row : row + 2]
        turn = cv2.invertAffineTransform(_turning(self.size, self.turn_deg))
        x, y = turn @ np.array([(x0 + x1) / 2, (y0 + y1) / 2, 1.0])
        half_x, half_y = (x1 - x0) / 2, (y1 - y0) / 2
        return float(x - half_x), float(y - half_y), float(x + half_x), float(y + half_y)


def _turning(size: tuple[int, int], turn_deg: float) -> NDArray[np.float64]:
    centre = ((size[0] - 1) / 2, (size[1] - 1) / 2)
    return np.asarray(cv2.getRotationMatrix2D(centre, turn_deg, 1.0), dtype=np.float64)


def cell_grid(seen: Surfaces, *, ignore: Mask) -> Grid | None:
    """Find the cells of a seed tray seen from above.

    Parameters
    ----------
    seen
        The picture's surfaces.
    ignore
        (H, W) true where something known to be no cell lies (the scale card).

    Returns
    -------
    Grid or None
        The cells' boundaries, or None if no regular grid of at least two cells in both directions is seen.
    """
    tray = _largest(seen.standing & ~ignore)
    height, width = tray.shape
    # One bright crumb must not outweigh a ridge.
    edges = np.minimum(seen.edges, np.percentile(seen.edges[tray], 90) if tray.any() else 1.0) * tray
    turn = _upright_turn(edges)
    size = (width, height)
    matrix = _turning(size, turn)
    lab = np.asarray(cv2.warpAffine(seen.lab, matrix, size, borderMode=cv2.BORDER_REPLICATE), dtype=np.float32)
    level = cv2.warpAffine(tray.astype(np.uint8), matrix, size).astype(bool)
    if level.sum() < (3 * CELL_MIN_PX) ** 2:
        return None
    y0, y1 = _extent(level.mean(axis=1))
    x0, x1 = _extent(level[y0 : y1 + 1].mean(axis=0))
    part = lab[y0 : y1 + 1, x0 : x1 + 1]
    across, down = _edge_profile(part, axis=0), _edge_profile(part, axis=1)
    pitch_x, pitch_y = _pitches(across, down)
    if pitch_x is None or pitch_y is None:
        return None
    xs, ys = _boundaries(across, pitch_x), _boundaries(down, pitch_y)
    if not (_ridges_show(across, xs, pitch_x) and _ridges_show(down, ys, pitch_y)):
        return None
    # A tray is full of soil; pots seen from the side show it at their tops alone.
    level_edges = cv2.warpAffine(seen.edges, matrix, size)
    rough = level_edges > max(
        SOIL_LAB_PER_PX, 2.5 * float(np.median(seen.edges[~seen.standing])) if (~seen.standing).any() else 0.0
    )
    xs, ys = [x0 + v for v in xs], [y0 + v for v in ys]
    soil = _soil_in_cells(xs, ys, rough)
    rows, columns = np.flatnonzero(soil.mean(axis=1) >= 0.5), np.flatnonzero(soil.mean(axis=0) >= 0.5)
    if len(rows) < 2 or len(columns) < 2:
        return None
    # An outer row without soil is the tray's rim or what lies beside it.
    ys, xs = ys[rows[0] : rows[-1] + 2], xs[columns[0] : columns[-1] + 2]
    soil = soil[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    return Grid(tuple(xs), tuple(ys), turn, size) if soil.mean() >= SOIL_CELLS else None


def _soil_in_cells(xs: list[float], ys: list[float], rough: Mask) -> Mask:
    """Which cells (rows, columns) have a middle as rough as soil."""
    soil = np.zeros((len(ys) - 1, len(xs) - 1), bool)
    for row, (y0, y1) in enumerate(itertools.pairwise(ys)):
        for column, (x0, x1) in enumerate(itertools.pairwise(xs)):
            dx, dy = 0.25 * (x1 - x0), 0.25 * (y1 - y0)
            middle = rough[max(0, round(y0 + dy)) : round(y1 - dy) + 1, max(0, round(x0 + dx)) : round(x1 - dx) + 1]
            soil[row, column] = bool(middle.size and middle.mean() > 0.4)
    return soil


def _largest(mask: Mask) -> Mask:
    """The largest standing thing, filled, without what is much narrower than a tray."""
    grip = max(3, min(mask.shape) // 12)
    # Dark ridges on a dark table may pass for the table; the cells are still neighbours.
    span = max(5, grip // 2)
    near = cv2.morphologyEx(np.pad(mask.astype(np.uint8), span), cv2.MORPH_CLOSE, np.ones((span, span), np.uint8))
    small = np.ascontiguousarray(near[span:-span, span:-span], dtype=np.uint8)
    outline, _ = cv2.findContours(small, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    whole = cv2.drawContours(np.zeros_like(small), outline, -1, 1, cv2.FILLED)
    filled = cv2.morphologyEx(whole, cv2.MORPH_OPEN, np.ones((grip, grip), np.uint8))
    count, parts, stats, _ = cv2.connectedComponentsWithStats(filled)
    if count < 2:
        return np.zeros_like(mask)
    return np.asarray(parts == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA])))


def _extent(share: Profile) -> tuple[int, int]:
    inside = np.flatnonzero(share > 0.5 * np.percentile(share, 90))
    return int(inside[0]), int(inside[-1])


def _upright_turn(edges: Floats) -> float:
    """Degrees by which the picture must turn anticlockwise for ridges to run along rows and columns."""
    shrink = max(1, round(max(edges.shape) / 640))
    small = cv2.resize(edges, (edges.shape[1] // shrink, edges.shape[0] // shrink), interpolation=cv2.INTER_AREA)
    size = (small.shape[1], small.shape[0])

    def sharpness(turn: float) -> float:
        turned = cv2.warpAffine(small, _turning(size, turn), size)
        return sum(float(np.square(np.diff(turned.mean(axis=axis, dtype=np.float64))).sum()) for axis in (0, 1))

    best = 0.0
    for step in (1.0, 0.25):
        turns = best + step * np.arange(
            -round(TURN_DEG / step) if step == 1 else -4, (round(TURN_DEG) if step == 1 else 4) + 1
        )
        best = float(turns[int(np.argmax([sharpness(float(t)) for t in turns]))])
    return best if sharpness(best) > 1.02 * sharpness(0.0) else 0.0


def _edge_profile(part: Floats, *, axis: int) -> Profile:
    """How strong the edges along one direction of an upright tray are (axis 0: by column, 1: by row)."""
    gradient = cv2.Sobel(part, cv2.CV_32F, 1 - axis, axis, scale=1 / 8)
    strength = np.sqrt(np.square(gradient).sum(axis=2))
    # Plants and perlite are short and ridges run all along, so the middle value of a line tells them apart.
    profile = np.asarray(np.median(strength, axis=axis), dtype=np.float64)
    profile = np.convolve(np.pad(profile, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")
    # The tray's own outer edges are no ridges and lie at another distance.
    profile[:OUTER_EDGE_PX] = profile[-OUTER_EDGE_PX:] = np.median(profile)
    return profile


def _pitches(across: Profile, down: Profile) -> tuple[float | None, float | None]:
    """Size of a cell in both directions; where there are too few cells to repeat, cells are taken as square."""
    pitch_x, pitch_y = _pitch(across), _pitch(down)
    repeats_x = len(across) / pitch_x if pitch_x else 0.0
    repeats_y = len(down) / pitch_y if pitch_y else 0.0
    if repeats_x < FEW_CELLS and repeats_y > repeats_x:
        pitch_x = pitch_y
    elif repeats_y < FEW_CELLS and repeats_x > repeats_y:
        pitch_y = pitch_x
    return pitch_x, pitch_y


def _boundaries(profile: Profile, pitch: float) -> list[float]:
    """Places of the cell boundaries along one direction."""
    phase = _ridge_phase(profile, pitch)
    beyond = OUTER_RIDGE * pitch
    first = math.ceil((-beyond - phase) / pitch)
    last = math.floor((len(profile) - 1 + beyond - phase) / pitch)
    return [phase + k * pitch for k in range(first, last + 1)]


def _ridges_show(profile: Profile, places: list[float], pitch: float) -> bool:
    """Whether two cells at least are parted by ridges clearer than what fills the cells (blocks of a JPEG are not)."""
    if len(places) < 3:
        return False
    spots = np.arange(len(profile))
    away = np.min(np.abs(spots[:, None] - np.array(places)[None, :]), axis=1) / pitch
    near = [profile[np.abs(spots - x) < 0.15 * pitch].max(initial=0.0) for x in places]
    filled = float(np.median(profile[away > 0.25])) if (away > 0.25).any() else 0.0
    return float(np.median(near)) > RIDGE_OVER_SOIL * filled


def _pitch(profile: Profile) -> float | None:
    """Distance in pixels after which the profile repeats itself, or None if it does not."""
    flat = profile - profile.mean()
    n = len(flat)
    lags = np.arange(CELL_MIN_PX, int(n / 1.9) + 1)
    if len(lags) < 3:
        return None
    alike = np.array([_correlation(flat[: n - lag], flat[lag:]) for lag in lags])
    top = [k for k in range(1, len(lags) - 1) if alike[k] >= alike[k - 1] and alike[k] >= alike[k + 1]]
    if not top:
        return None
    best = max(alike[k] for k in top)
    if best < REPEATS:
        return None
    first = next(k for k in top if alike[k] >= 0.8 * best)
    pitch = float(lags[first])
    # The farther apart two ridges are, the finer they tell the distance.
    for repeats in range(1, int(0.8 * n / pitch) + 1):
        near = np.arange(round(repeats * pitch) - 3, round(repeats * pitch) + 4)
        near = near[(near > 0) & (near < n - CELL_MIN_PX)]
        if len(near) < 3:
            break
        values = np.array([_correlation(flat[: n - lag], flat[lag:]) for lag in near])
        k = int(np.argmax(values))
        if 0 < k < len(near) - 1 and values[k] > 0.5 * best:
            bend = values[k - 1] - 2 * values[k] + values[k + 1]
            pitch = float(near[k] + (values[k - 1] - values[k + 1]) / (2 * bend)) / repeats if bend < 0 else pitch
    return pitch


def _correlation(a: Profile, b: Profile) -> float:
    a, b = a - a.mean(), b - b.mean()
    return float((a @ b) / (np.sqrt((a @ a) * (b @ b)) + 1e-12))


def _ridge_phase(profile: Profile, pitch: float) -> float:
    """Place of the first boundary: about it edges mirror each other close by, as a ridge has two sides."""
    step = 0.25
    places = np.arange(0, pitch, step)
    folded = np.zeros(len(places))
    repeats = max(1, int(len(profile) / pitch))
    for k in range(repeats):
        folded += np.interp(places + k * pitch, np.arange(len(profile)), profile) / repeats
    folded -= np.median(folded)
    folded = np.maximum(folded, 0)
    # The two sides of a ridge lie a few pixels apart at least: nearer than that an edge would pair with itself.
    folded = np.sqrt(folded)
    offsets = np.arange(round(3 / step), len(places) // 4)
    count = len(places)
    score = [float((folded[(k + offsets) % count] * folded[(k - offsets) % count]).sum()) for k in range(count)]
    return float(places[int(np.argmax(score))])
