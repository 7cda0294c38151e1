"""Edges in a picture that are straight or bowed a little, followed to a tenth of a pixel."""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, sqrt

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.colour import Floats, Mask
from sproutlapse.vision.lens import Lens, Points

LEAST_EDGE = 0.018  # of the half diagonal: shorter edges tell nothing
STEP_PX = 2.0  # between the points of an edge
REACH_PX = 3.0  # to either side, where the steepest place is sought
LEAST_RISE = 0.02  # of brightness (square root of light) over the edge; weaker ones are shadows
EVEN_PX, RAISED = 12.0, 3.0
FAINT_RISE = 0.008  # on the course of a line that is known already
ROUGH_PX = 0.35  # edges whose points scatter more about a parabola are no edges of made things
ALIKE = 0.15  # of brightness to either side


@dataclass(frozen=True)
class Edge:
    """One straight thing's edge: (n, 2) points in half diagonals from the picture's centre, and how bright it is to the
    left (or above) and to the right (or below)."""

    points: Points
    sides: tuple[float, float] = (0.0, 1.0)

    @property
    def length(self) -> float:
        """From end to end."""
        return float(np.linalg.norm(self.points[-1] - self.points[0]))


def find_edges(grey: Floats, free: Mask | None) -> list[Edge]:
    """Edges that are straight or bowed a little, their points on the steepest place across.

    Parameters
    ----------
    grey
        (height, width) square root of light.
    free
        (height, width) where edges may lie, or None.
    """
    height, width = grey.shape
    unit = hypot(width, height) / 2
    seeker = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD)
    # The seeker wants steep edges, and a pale table meets a white board gently: what is even is taken away first.
    steep = (grey - cv2.GaussianBlur(grey, (0, 0), EVEN_PX)) * 255 * RAISED + 128
    pieces = seeker.detect(np.clip(steep, 0, 255).astype(np.uint8))[0]
    out, smooth = [], _smoothed(grey)
    for piece in [] if np.ndim(pieces) == 0 else np.asarray(pieces, float).reshape(-1, 4):
        ends = piece.reshape(2, 2)
        if np.linalg.norm(ends[1] - ends[0]) < LEAST_EDGE * unit:
            continue
        points = _steepest(smooth, ends)
        if free is not None and len(points):
            rows, columns = np.round(points[:, 1]).astype(int), np.round(points[:, 0]).astype(int)
            points = points[free[np.clip(rows, 0, height - 1), np.clip(columns, 0, width - 1)]]
        if len(points) * STEP_PX >= LEAST_EDGE * unit and _smooth(points):
            middle = (np.array([width, height]) - 1) / 2
            out.append(Edge((points - middle) / unit, _sides(grey, points)))
    return out


def _smoothed(grey: Floats) -> Floats:
    """What edges are looked at through."""
    return np.asarray(cv2.GaussianBlur(grey, (0, 0), 0.7), np.float32)


def _steepest(smooth: Floats, ends: Points) -> Points:
    """(n, 2) pixels of the steepest places across a piece from end to end, where the edge is strong enough."""
    length = float(np.linalg.norm(ends[1] - ends[0]))
    along = (ends[1] - ends[0]) / length
    feet = ends[0] + np.arange(2.0, length - 2.0, STEP_PX)[:, None] * along
    if not len(feet):
        return np.empty((0, 2))
    places, rise = _across(smooth, feet, np.array([-along[1], along[0]]))
    return np.asarray(places[rise > max(LEAST_RISE, 0.5 * float(np.median(rise)))], dtype=np.float64)


def _across(smooth: Floats, feet: Points, across: Points, rising: float = 0.0) -> tuple[Points, NDArray[np.float64]]:
    """The steepest place across at each of (n, 2) feet, and how much brightness rises there; 0 at the reach's end.

    `rising` is the sign of the rise along `across`; 0 for that of most feet.
    """
    steps = np.arange(-REACH_PX - 1, REACH_PX + 1.01, 0.25)
    x, y = ((feet[:, i : i + 1] + across[i] * steps).astype(np.float32) for i in (0, 1))
    profile = cv2.remap(smooth, x, y, cv2.INTER_CUBIC)
    slope = profile[:, 4:] - profile[:, :-4]  # over a pixel
    slope = slope if (rising or float(np.median(slope.sum(axis=1)))) > 0 else -slope
    weight = np.maximum(slope, 0)
    best = weight.argmax(axis=1)
    middles = (steps[4:] + steps[:-4]) / 2
    weight = np.where(np.abs(middles[None] - middles[best][:, None]) <= 1.5, weight, 0)
    total = np.maximum(weight.sum(axis=1), 1e-9)
    rise = np.where(np.abs(middles[best]) < REACH_PX, total / 4, 0.0)
    place = (weight * middles).sum(axis=1) / total
    return np.asarray(feet + place[:, None] * across, np.float64), np.asarray(rise, np.float64)


def filled(grey: Floats, line: Edge, bend: float) -> Edge:
    """A line with the points in its gaps that lie on its course between things alike: between pots, the pieces are too
    short to be found by themselves.

    Parameters
    ----------
    grey
        (height, width) square root of light.
    line
        Of two pieces or more.
    bend
        The coefficient under which it is straight.
    """
    unit, middle = hypot(*grey.shape) / 2, (np.array(grey.shape[::-1]) - 1) / 2
    straight = straightened(line.points, bend)
    centre = straight.mean(axis=0)
    way = np.linalg.svd(straight - centre, full_matrices=False)[2][0]
    t = np.sort((straight - centre) @ way)
    course = np.arange(t[0], t[-1], STEP_PX / unit)
    gaps = course[np.abs(course[:, None] - t).min(axis=1) > 2 * STEP_PX / unit]
    if not len(gaps):
        return line
    feet = Lens((2, 2), bend).bowed((centre + gaps[:, None] * way) * sqrt(2.0) + 0.5) / sqrt(2.0) - 0.5 / sqrt(2.0)
    across = np.array([-way[1], way[0]])
    across = across if float(across.sum()) > 0 else -across
    places, rise = _across(_smoothed(grey), feet * unit + middle, across, line.sides[1] - line.sides[0])
    x, y = ((places[:, i : i + 1] + across[i] * np.array([-1, 1]) * (REACH_PX + 1)).astype(np.float32) for i in (0, 1))
    sides = cv2.remap(grey, x, y, cv2.INTER_LINEAR)
    good = (np.abs(sides - np.array(line.sides)).max(axis=1) < ALIKE) & (rise > FAINT_RISE)
    points = np.concatenate([line.points, (places[good] - middle) / unit])
    return Edge(points[np.argsort(turned(points)[0])], line.sides)


def _sides(grey: Floats, points: Points) -> tuple[float, float]:
    """Brightness a few pixels to the left (or above) and to the right (or below) of an edge."""
    along = points[-1] - points[0]
    across = np.array([-along[1], along[0]]) / np.linalg.norm(along)
    across = across if float(across.sum()) > 0 else -across
    x, y = ((points[:, i : i + 1] + across[i] * np.array([-1, 1]) * (REACH_PX + 1)).astype(np.float32) for i in (0, 1))
    before, after = np.median(cv2.remap(grey, x, y, cv2.INTER_LINEAR), axis=0)
    return float(before), float(after)


def _smooth(points: Points) -> bool:
    t, d = turned(points)
    d = d - np.polyval(np.polyfit(t, d, 2), t)
    return float(np.sqrt((d**2).mean())) < ROUGH_PX


def turned(points: Points) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Place along the chord of points, from its middle, and offset from it."""
    middle = points.mean(axis=0)
    _, _, ways = np.linalg.svd(points - middle, full_matrices=False)
    return (points - middle) @ ways[0], (points - middle) @ ways[1]


def straightened(points: Points, bend: float) -> Points:
    """Points in half diagonals with a coefficient undone."""
    return Lens((2, 2), bend).straight(points * sqrt(2.0) + 0.5) / sqrt(2.0) - 0.5 / sqrt(2.0)
