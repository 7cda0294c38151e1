"""The distortion of a lens, measured from edges that are straight in truth: board, table, card, pots, labels."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.colour import Floats, Mask
from sproutlapse.vision.edges import ALIKE, Edge, filled, find_edges, straightened, turned
from sproutlapse.vision.lens import Lens, Points

LONG_SIDE_PX = 1600  # edges are followed on a picture no longer than this; the coefficient has no pixels in it
# Straight things are bowed a little in truth: paper, board and pots by this share of their length. Own estimate.
TRUE_BOW = 0.0005
POINT_SD_PX = 0.08  # of an edge's whole run together, for noise that neighbouring points share
EVEN_LINE_PX = 0.2  # edges of one line scatter no more about its bow
SAME_LINE_PX = 0.2  # pieces whose middles lie this near to one line, once straightened, are pieces of it
SAME_WAY, ROUGHLY = 0.03, 0.3  # radians, once straightened and before
MOST_GAP = 0.3  # of the half diagonal: a pot may hide as much of an edge
LONG_LINE = 0.4  # of the half diagonal: gaps of longer lines are looked into
AGREE_SD = 3.0
CERTAIN_SD = 3.0  # a distortion less sure than this is not corrected, but goes into the uncertainty
LEAST_LINES = 3
LARGEST = 0.25  # no camera that people own shows more

# What remains of distortion in photos of people's cameras, where it cannot be measured: standard deviation of `bend`
# by focal length as on 36 x 24 mm film, and where EXIF does not tell it. Own estimates.
WIDE_MM, LONG_MM = 32.0, 50.0
USUAL_WIDE, USUAL_MIDDLE, USUAL_LONG, USUAL_UNKNOWN = 0.02, 0.010, 0.004, 0.010


@dataclass(frozen=True)
class Bow:
    """What one edge says of the coefficient, and its standard deviation."""

    bend: float
    sd: float


def read_lens(light: Floats, free: Mask | None = None, film_mm: float | None = None) -> tuple[Lens, tuple[str, ...]]:
    """The lens, corrected for only where distortion is certain; and what is to be said of it.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the first photos together.
    free
        (height, width) where no plant can stand; None for everywhere.
    film_mm
        EXIF's focal length as on 36 x 24 mm film, or None.
    """
    size = light.shape[1], light.shape[0]
    grey = np.sqrt(np.clip(cv2.cvtColor(light, cv2.COLOR_RGB2GRAY), 0, 1)).astype(np.float32)
    step = max(1.0, max(size) / LONG_SIDE_PX)
    if step > 1:
        small = (round(size[0] / step), round(size[1] / step))
        grey = np.asarray(cv2.resize(grey, small, interpolation=cv2.INTER_AREA), np.float32)
        free = None if free is None else cv2.resize(free.astype(np.uint8), small) > 0
    found = bend_of(find_edges(grey, free), grey)
    usual = usual_bend_sd(film_mm)
    if found is None:
        return Lens(size, 0.0, usual), _unknown(film_mm)
    if abs(found.bend) < CERTAIN_SD * found.sd:
        return Lens(size, 0.0, min(usual, hypot(found.sd, found.bend))), ()
    return Lens(size, found.bend, found.sd), (
        f"The lens bows straight lines ({'outwards' if found.bend < 0 else 'inwards'}, by "
        f"{abs(found.bend):.1%} at the picture's corners): lengths were corrected for it.",
    )


def usual_bend_sd(film_mm: float | None) -> float:
    """Standard deviation of the coefficient where no straight lines tell it."""
    if film_mm is None:
        return USUAL_UNKNOWN
    if film_mm <= WIDE_MM:
        return USUAL_WIDE
    return USUAL_LONG if film_mm >= LONG_MM else USUAL_MIDDLE


def _unknown(film_mm: float | None) -> tuple[str, ...]:
    if film_mm is None or film_mm > WIDE_MM:
        return ()
    return (
        f"The lens is a wide one ({film_mm:g} mm), and too few straight lines are in view to tell how much it bows "
        "them: lengths far from the picture's middle are less sure. An edge of the board or table in view would tell.",
    )


def bend_of(edges: Sequence[Edge], grey: Floats) -> Bow | None:
    """The coefficient from edges, in rounds: each piece alone, then pieces of one line together, their gaps filled.

    Parameters
    ----------
    edges
        As `find_edges` gives them.
    grey
        (height, width) square root of light, where they were found.

    Returns
    -------
    Bow or None
        None where too few edges agree.
    """
    unit_px = hypot(*grey.shape) / 2
    found = _common([_bow(edge, 0.0, unit_px) for edge in edges])
    for _ in range(3):
        if found is None:
            return None
        lines = _joined(_straight_ones(edges, found, unit_px), found, unit_px)
        lines = [_unbroken(_whole(line, found, grey)) for line in lines]
        found = _common([_bow(line, found.bend, unit_px) for line in lines])
    return found if found is not None and abs(found.bend) < LARGEST else None


def _off_line(t: NDArray[np.float64], offset: NDArray[np.float64]) -> NDArray[np.float64]:
    """Offsets from the straight line that fits them best."""
    t, offset = t - t.mean(), offset - offset.mean()
    return np.asarray(offset - t * (float(t @ offset) / max(float(t @ t), 1e-18)), dtype=np.float64)


def _bow(edge: Edge, bend: float, unit_px: float) -> Bow | None:
    """The coefficient that makes an edge straight, near `bend`: how its bow changes with the coefficient, linearly."""
    t, now = turned(straightened(edge.points, bend))
    now, gain = _off_line(t, now), _off_line(t, _normal_change(edge.points, bend))
    power = float(gain @ gain)
    if power <= 0:
        return None
    bow_px = sqrt(power / len(t)) * unit_px  # root mean square that one unit of the coefficient makes
    change = -float(gain @ now) / power
    left = now + gain * change
    noise = float(np.sqrt((left**2).mean())) * unit_px
    sd_px = hypot(hypot(POINT_SD_PX, 2 * noise) / sqrt(max(1.0, len(t) / 10)), TRUE_BOW * edge.length * unit_px / 3)
    return Bow(bend + change, sd_px / bow_px)


def _normal_change(points: Points, bend: float) -> NDArray[np.float64]:
    """How far each straightened point moves across its edge for one unit of the coefficient."""
    here = straightened(points, bend)
    _, _, ways = np.linalg.svd(here - here.mean(axis=0), full_matrices=False)
    moved = (straightened(points, bend + 1e-4) - here) / 1e-4
    return np.asarray(moved @ ways[1], dtype=np.float64)


def _common(bows: Sequence[Bow | None]) -> Bow | None:
    """What most edges agree on, by weight; those that do not agree are curved in truth."""
    known = [bow for bow in bows if bow is not None and bow.sd < LARGEST]
    if len(known) < LEAST_LINES:
        return None
    bends, sds = np.array([b.bend for b in known]), np.array([b.sd for b in known])
    off = np.abs(bends[:, None] - bends) / np.hypot(sds, 0.01)
    support = (np.minimum(1.0, 1 / np.hypot(sds, 0.01) ** 2 * 1e-4)[None] * np.exp(-(off**2) / 2)).sum(axis=1)
    middle = bends[int(support.argmax())]
    for _ in range(6):
        agree = np.abs(bends - middle) < AGREE_SD * sds
        if int(agree.sum()) < LEAST_LINES:
            return None
        weights = 1 / sds[agree] ** 2
        middle = float(weights @ bends[agree] / weights.sum())
    chi = float((weights * (bends[agree] - middle) ** 2).sum()) / max(1, int(agree.sum()) - 1)
    # The line that tells most is not trusted blindly: the thing it belongs to may be bent.
    sd = max(sqrt(max(1.0, chi) / float(weights.sum())), float(sds[agree].min()) / 2)
    return Bow(middle, sd)


def _straight_ones(edges: Sequence[Edge], common: Bow, unit_px: float) -> list[Edge]:
    """Edges that are straight under the common coefficient as far as each can tell: rims and pots' feet are not."""
    out = []
    for edge in edges:
        bow = _bow(edge, common.bend, unit_px)
        if bow is not None and abs(bow.bend - common.bend) < AGREE_SD * hypot(bow.sd, common.sd):
            out.append(edge)
    return out


def _joined(edges: Sequence[Edge], common: Bow, unit_px: float) -> list[Edge]:
    """Pieces of one line put together, as a line of the straightened picture shows them."""
    left = sorted(edges, key=lambda edge: -edge.length)
    out = []
    while left:
        line, left = left[0], left[1:]
        while (k := next((k for k, one in enumerate(left) if _one_line(line, one, common, unit_px)), None)) is not None:
            points = np.concatenate([line.points, left[k].points])
            line = Edge(points[np.argsort(turned(points)[0])], line.sides)
            left = left[:k] + left[k + 1 :]
        out.append(line)
    return out


def _whole(line: Edge, common: Bow, grey: Floats) -> Edge:
    """A long line with its gaps filled, where what was found there lies on its course."""
    unit_px = hypot(*grey.shape) / 2
    bow = _bow(line, common.bend, unit_px)
    if line.length < LONG_LINE or bow is None or abs(bow.bend - common.bend) > AGREE_SD * hypot(bow.sd, common.sd):
        return line
    more = filled(grey, line, bow.bend)
    sure = (more.points[:, None] == line.points).all(axis=2).any(axis=1)
    off = _left_over(more, bow.bend, unit_px, sure.astype(float))
    for width in (
        1.0,
        0.7,
        0.5,
        0.35,
        0.25,
        0.2,
        0.2,
        0.2,
    ):  # pixels; what lies off the common course is something else
        off = _left_over(more, bow.bend, unit_px, 1 / (1 + (off / width) ** 2) ** 2)
    more = Edge(more.points[np.abs(off) < 2 * EVEN_LINE_PX], line.sides)
    even = float(np.sqrt((_left_over(more, bow.bend, unit_px) ** 2).mean())) < EVEN_LINE_PX
    return more if even and len(more.points) > len(line.points) else line


def _unbroken(line: Edge) -> Edge:
    """The longest part of a line without a gap so wide that its two sides may be different things."""
    t, _ = turned(line.points)
    order = np.argsort(t)
    parts = np.split(order, np.flatnonzero(np.diff(t[order]) > MOST_GAP) + 1)
    return Edge(line.points[max(parts, key=len)], line.sides)


def _left_over(
    line: Edge, bend: float, unit_px: float, weights: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """(n,) pixels by which points lie off their line's course, whatever its own bow; the course by weighted points."""
    t, off = turned(straightened(line.points, bend))
    lean = np.column_stack([np.ones_like(t), t, _normal_change(line.points, bend)])
    root = np.ones(len(t)) if weights is None else np.sqrt(weights)
    course = np.linalg.lstsq(lean * root[:, None], off * root, rcond=None)[0]
    return np.asarray((off - lean @ course) * unit_px, dtype=np.float64)


def _one_line(one: Edge, other: Edge, common: Bow, unit_px: float) -> bool:
    """Whether two pieces lie on one line, under a coefficient that the common one allows, between things alike."""
    if max(abs(a - b) for a, b in zip(one.sides, other.sides, strict=True)) > ALIKE:
        return False
    chords = [edge.points[-1] - edge.points[0] for edge in (one, other)]
    if abs(float(chords[0][0] * chords[1][1] - chords[0][1] * chords[1][0])) > ROUGHLY * float(
        np.prod([np.linalg.norm(chord) for chord in chords])
    ):
        return False
    first, second = (straightened(edge.points, common.bend) for edge in (one, other))
    ways = [np.linalg.svd(p - p.mean(axis=0), full_matrices=False)[2][0] for p in (first, second)]
    if abs(float(ways[0][0] * ways[1][1] - ways[0][1] * ways[1][0])) > SAME_WAY:
        return False
    points = np.concatenate([one.points, other.points])
    t, now = turned(np.concatenate([first, second]))
    now, gain = _off_line(t, now), _off_line(t, _normal_change(points, common.bend))
    reach = AGREE_SD * common.sd
    left = now + gain * float(np.clip(-(gain @ now) / max(float(gain @ gain), 1e-12), -reach, reach))
    misses = abs(float(left[: len(first)].mean())), abs(float(left[len(first) :].mean()))
    return max(misses) * unit_px < SAME_LINE_PX and float(np.sqrt((left**2).mean())) * unit_px < EVEN_LINE_PX
