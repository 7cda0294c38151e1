"""Surfaces of a picture from the side in, the pots that stand in it out: rim, soil line and place, from left to right.

A pot is told from what stands behind it by its edges alone, so that its colour does not matter.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.scout_surfaces import Floats, Mask, Surfaces, colour_behind

# Widths of a pot as shares of the picture's width: twelve touching ones and a single close one.
POT_WIDTH = (0.03, 0.55)
# A pot that stands out this far (CIELAB) is nowhere taken for the board, not even at its lit rim.
PLAIN_LAB = 40.0
# The outline's edge shows at least this share of the strongest edge near it.
FIRST_EDGE = 0.3
# A body must stand this tall for its width before it is called a pot; a seed tray's rim or a shelf's edge does not.
BODY_HEIGHT_TO_WIDTH = 0.3
# So few things are no row that speaks for itself.
FEW_POTS = 2
# A side may bend by this share of the pot's width: lips and ribs do, half of the way down.
SIDE_BEND = 0.012
# A rim alone stands so tall for its width, and soil parts from it by such a step (CIELAB per pixel).
RIM_HEIGHT_TO_WIDTH, SOIL_STEP_LAB = 0.08, 5.0
# Room above a rim, as a share of the picture's height, without which no plant could be seen over it.
ROOM_ABOVE = 0.02
# A rim stands out over its body by its lip and the body's taper, and no more; leaves give 8 and more.
RIM_TO_BODY = 1.6
# Rims rounder than this (half height over width) show; a card's top is less than this share as round, its colour apart.
ROUND_RIM, STRAIGHT_SHARE, OTHER_COLOUR_LAB = 0.025, 0.4, 20.0
# Growers fill pots to just below the rim; this share of the rim's radius is a good millimetre for a 70 mm pot.
SOIL_BELOW_RIM = 0.035


@dataclass(frozen=True)
class Pot:
    """One pot in pixels of the picture it was found in.

    Attributes
    ----------
    left, right
        Columns of the rim's two ends.
    rim_y
        Row of the rim ellipse's centre.
    rim_half_height
        Half the visible height of the rim's ellipse.
    bottom
        Lowest row of the body.
    doubtful
        Whether too little of the rim was seen to trust `rim_y` to a few pixels.
    """

    left: float
    right: float
    rim_y: float
    rim_half_height: float
    bottom: float
    doubtful: bool = False

    @property
    def width(self) -> float:
        """Width of the rim in pixels."""
        return self.right - self.left

    @property
    def soil_y(self) -> float:
        """Row of the soil surface's centre, where a plant's foot stands."""
        return self.rim_y + SOIL_BELOW_RIM * self.width / 2


@dataclass
class _Track:
    rows: list[int]
    lefts: list[int]
    rights: list[int]

    @property
    def width(self) -> float:
        return float(np.median(np.subtract(self.rights, self.lefts)))

    @property
    def centre(self) -> float:
        return float(np.median(np.add(self.rights, self.lefts))) / 2

    @property
    def straight(self) -> bool:
        """Whether both sides are straight, as a pot's are and a leaf's or a hand's are not."""
        rows = np.array(self.rows, dtype=float)
        inner = slice(len(rows) // 8, max(len(rows) // 8 + 3, len(rows) - len(rows) // 8))
        off = [
            np.median(np.abs(side - np.polyval(np.polyfit(rows[inner], side, 1), rows[inner])))
            for side in (np.array(self.lefts)[inner], np.array(self.rights)[inner])
        ]
        return bool(max(off) < 1.0 + SIDE_BEND * self.width)

    def follows(self, row: int, left: int, right: int, gap: int) -> bool:
        last_left, last_right = self.lefts[-1], self.rights[-1]
        wide = max(last_right - last_left, 1)
        shift = abs((left + right) - (last_left + last_right)) / 2
        return row - self.rows[-1] <= gap and shift < 0.06 * wide and 0.88 < (right - left) / wide < 1.14


def _runs(line: Mask) -> list[tuple[int, int]]:
    steps = np.flatnonzero(np.diff(np.concatenate(([0], line.astype(np.int8), [0]))))
    return [(int(a), int(b) - 1) for a, b in zip(steps[::2], steps[1::2], strict=True)]


def _tracks(standing: Mask) -> list[_Track]:
    """Follow runs of standing pixels downwards: a pot's body is a run that keeps its centre and nearly its width."""
    height, width = standing.shape
    upright = cv2.morphologyEx(
        standing.astype(np.uint8), cv2.MORPH_OPEN, np.ones((max(9, height // 60), max(3, width // 100)), np.uint8)
    )
    done: list[_Track] = []
    open_: list[_Track] = []
    for row in range(0, height, 2):
        for left, right in _runs(upright[row].astype(bool)):
            if not POT_WIDTH[0] * width <= right - left <= POT_WIDTH[1] * width:
                continue
            own = next((t for t in open_ if t.follows(row, left, right, height // 40)), None)
            if own is None:
                open_.append(_Track([row], [left], [right]))
            elif own.rows[-1] < row:
                own.rows.append(row)
                own.lefts.append(left)
                own.rights.append(right)
        done += [t for t in open_ if row - t.rows[-1] > height // 40]
        open_ = [t for t in open_ if row - t.rows[-1] <= height // 40]
    return done + open_


def _without_gaps(seen: Surfaces, tracks: list[_Track]) -> Mask:
    """Give back to the background what lies beside or between pots and looks like it (a narrow gap has no way out)."""
    fill = colour_behind(seen.lab, ~seen.standing)
    standing = seen.standing.copy()
    for track in tracks:
        reach = round(0.1 * track.width) + 4
        x0, x1 = max(0, min(track.lefts) - reach), max(track.rights) + reach
        inside = slice(track.rows[0], track.rows[-1]), slice(track.lefts[0], track.rights[0])
        contrast = float(np.median(np.linalg.norm(seen.lab[inside] - fill[inside], axis=2)))
        # The lit rim of a pale pot may look like the board behind it, its body does not.
        rise = -0.35 if contrast > PLAIN_LAB else 0.25
        rows = slice(
            max(0, track.rows[0] + round(rise * min(track.width, track.rows[-1] - track.rows[0]))),
            track.rows[-1] + reach,
        )
        part, behind = seen.lab[rows, x0:x1], fill[rows, x0:x1]
        standing[rows, x0:x1] &= np.linalg.norm(part - behind, axis=2) > 0.35 * contrast
    return standing


def _lone_rims(tracks: list[_Track], edges: Floats) -> list[_Track]:
    """Rims full of soil whose pots are too much like the board to be seen: two at least, alike and side by side."""
    rims = []
    for t in tracks:
        reach = round(0.12 * t.width)
        middle = slice(round(t.centre - 0.35 * t.width), round(t.centre + 0.35 * t.width))
        top = edges[max(0, t.rows[0] - reach) : t.rows[0] + reach, middle]
        rough = float((top.max(axis=0) > SOIL_STEP_LAB).mean()) if top.size else 0.0
        if t.rows[-1] - t.rows[0] >= RIM_HEIGHT_TO_WIDTH * t.width and rough > 0.8:
            rims.append(t)
    usual = float(np.median([t.width for t in rims])) if rims else 0.0
    level = float(np.median([t.rows[0] for t in rims])) if rims else 0.0
    rims = [t for t in rims if abs(t.width - usual) < 0.1 * usual and abs(t.rows[0] - level) < 0.1 * usual]
    return rims if len(rims) >= 2 else []


def _bodies(seen: Surfaces, ignore: Mask) -> tuple[list[_Track], Mask]:
    """Tracks that are tall and alike enough to be the bodies of one row of pots, from left to right."""
    seen = Surfaces(lab=seen.lab, edges=seen.edges, standing=seen.standing & ~ignore)
    rough = [t for t in _tracks(seen.standing) if t.rows[-1] - t.rows[0] >= 0.25 * min(t.width, seen.lab.shape[1] / 12)]
    standing = _without_gaps(seen, rough)
    tall = [t for t in _tracks(standing) if t.rows[-1] - t.rows[0] >= BODY_HEIGHT_TO_WIDTH * t.width]
    if len(tall) <= FEW_POTS:
        tall = [t for t in tall if t.straight]
    if not tall:
        tall = _lone_rims(_tracks(standing), seen.edges)
    if not tall:
        return [], standing
    # Pots outweigh leaves, labels and other things: the row is that of the largest bodies.
    weight = [t.width * (t.rows[-1] - t.rows[0]) for t in tall]
    order = np.argsort([t.width for t in tall])
    heavy = np.cumsum(np.array(weight)[order])
    usual = tall[int(order[int(np.searchsorted(heavy, heavy[-1] / 2))])]
    row = [
        t
        for t in tall
        if 0.55 < t.width / usual.width < 1.8
        and t.rows[0] < usual.rows[-1]
        and t.rows[-1] > (usual.rows[0] + usual.rows[-1]) / 2
    ]
    row.sort(key=lambda t: t.centre)
    apart: list[_Track] = []
    for t in row:
        if apart and t.centre - apart[-1].centre < 0.6 * max(t.width, apart[-1].width):
            apart[-1] = max(t, apart[-1], key=lambda q: q.width * (q.rows[-1] - q.rows[0]))
        else:
            apart.append(t)
    return apart, standing


def _tops(columns: NDArray[np.intp], start: int, standing: Mask, edges: Floats) -> NDArray[np.float64]:
    """Row at which each column leaves what stands, going up from `start`, set on the edge to a part of a pixel."""
    above = cv2.dilate(standing[: start + 1, columns][::-1].astype(np.uint8), np.ones((3, 1), np.uint8)).astype(bool)
    rows = start - np.where(above.all(axis=0), start, np.argmin(above, axis=0)) + 1
    around = np.clip(rows[None, :] + np.arange(-3, 6)[:, None], 1, len(edges) - 2)
    strength = edges[around, columns[None, :]]
    # The first clear edge from above: a pale rim parts less from the board than from the soil behind it.
    later = np.concatenate([strength[1:], strength[-1:]])
    crest = (strength >= later) & (strength > FIRST_EDGE * strength.max(axis=0))
    best = np.argmax(crest, axis=0)
    peak = around[best, np.arange(len(columns))]
    low, mid, high = (edges[peak + d, columns].astype(np.float64) for d in (-1, 0, 1))
    bend = low - 2 * mid + high
    shift = np.where(bend < -1e-6, (low - high) / (2 * np.where(bend < -1e-6, bend, -1)), 0)
    return np.asarray(peak + np.clip(shift, -0.5, 0.5))


def _rim_ends(track: _Track, limits: tuple[int, int], standing: Mask, edges: Floats) -> tuple[float, float]:
    """Columns of the rim's two ends: the widest run about the top of the body that keeps off the neighbours."""
    middle = np.arange(round(track.centre - track.width / 4), round(track.centre + track.width / 4) + 1)
    start = min(track.rows[0] + round(0.12 * track.width), track.rows[-1])
    far = round(float(np.percentile(_tops(middle, start, standing, edges), 80)))
    runs = []
    for row in range(max(0, far), start + 1):
        own = next((r for r in _runs(standing[row]) if r[0] <= track.centre <= r[1]), None)
        if own:
            runs.append((max(own[0], limits[0]), min(own[1], limits[1])))
    if not runs:
        return float(track.lefts[0]), float(track.rights[0])
    wide = np.diff(np.array(runs), axis=1)[:, 0]
    ends = np.median(np.array(runs)[wide >= 0.97 * wide.max()], axis=0)
    band = edges[far + 2 : start + 1]
    found = []
    for end in ends:
        x0 = max(0, int(end) - 4)
        found.append(x0 + float(np.argmax(band[:, x0 : int(end) + 5].mean(axis=0))))
    return found[0], found[1]


@dataclass(frozen=True)
class _Outline:
    """Upper outline of a rim: its ends, and for each column between them the row at which the pot ends."""

    left: float
    right: float
    bottom: float
    columns: NDArray[np.intp]
    tops: NDArray[np.float64]


def _rim_outline(track: _Track, limits: tuple[int, int], standing: Mask, edges: Floats) -> _Outline:
    left, right = _rim_ends(track, limits, standing, edges)
    half, centre = (right - left) / 2, (left + right) / 2
    columns = np.arange(
        max(0, round(centre - 0.88 * half)), min(standing.shape[1] - 1, round(centre + 0.88 * half)) + 1
    )
    start = min(track.rows[0] + round(0.1 * half), track.rows[-1])
    return _Outline(left, right, float(track.rows[-1]), columns, _tops(columns, start, standing, edges))


def _rim(outline: _Outline, flat: float | None) -> Pot:
    """Fit the upper half of the rim's ellipse to its outline; whatever rises above it is plant or label.

    `flat` is the ellipse's half height over the rim's width where it is known from other pots of the row.
    """
    half, centre, tops = (outline.right - outline.left) / 2, (outline.left + outline.right) / 2, outline.tops
    across = (outline.columns - centre) / half
    bow = np.sqrt(np.clip(1 - across**2, 0, 1))
    near = max(1.5, 0.012 * half)
    if flat is None:
        level, height = _upper_ellipse(bow, tops, near, half)
        design = np.stack([np.ones_like(bow), across, -bow], axis=1)
    else:
        height = 2 * half * flat
        level = _level_of(tops + height * bow, near)
        design = np.stack([np.ones_like(bow), across], axis=1)
    fixed = np.zeros_like(bow) if flat is None else height * bow
    fit, own = np.array([level, 0.0, height])[: design.shape[1]], np.abs(tops - level + height * bow) < near
    for _ in range(3):
        if own.sum() < 8:
            break
        fit = np.linalg.lstsq(design[own], (tops + fixed)[own], rcond=None)[0]
        own = np.abs(tops + fixed - design @ fit) < near
    height = float(max(fit[2], 0.0)) if flat is None else height
    return Pot(outline.left, outline.right, float(fit[0]), height, outline.bottom, doubtful=bool(own.mean() < 0.4))


def _level_of(levels: NDArray[np.float64], near: float) -> float:
    """The level most columns agree on; plants lift an outline and nothing lowers it."""
    miss = levels[None, :] - levels[:, None]
    score = (np.abs(miss) < near).sum(axis=1) - 0.5 * (miss > 2 * near).sum(axis=1)
    return float(levels[int(np.argmax(score))])


def _upper_ellipse(
    bow: NDArray[np.float64], tops: NDArray[np.float64], near: float, half: float
) -> tuple[float, float]:
    """Centre row and half height of the ellipse that most of the outline's columns agree on."""
    pick = np.unique(np.linspace(0, len(tops) - 1, 28).astype(int))
    i, j = np.triu_indices(len(pick), 1)
    i, j = pick[i], pick[j]
    apart = np.abs(bow[i] - bow[j]) > 0.15
    i, j = i[apart], j[apart]
    height = (tops[j] - tops[i]) / (bow[i] - bow[j])
    level = tops[i] + height * bow[i]
    keep = (height > -0.05 * half) & (height < 0.7 * half)
    if not keep.any():
        return float(np.percentile(tops, 80)), 0.0
    height, level = height[keep], level[keep]
    miss = tops[None, :] - (level[:, None] - height[:, None] * bow[None, :])
    # A plant lifts the outline and nothing lowers it, so points below the ellipse speak against it.
    score = (np.abs(miss) < near).sum(axis=1) - 0.5 * (miss > 2 * near).sum(axis=1)
    best = int(np.argmax(score))
    return float(level[best]), float(height[best])


def pots_in_a_row(seen: Surfaces, *, ignore: Mask) -> list[Pot]:
    """Find the pots of one row, seen from the side.

    Parameters
    ----------
    seen
        The picture's surfaces.
    ignore
        (H, W) true where something known to be no pot stands (the scale card).

    Returns
    -------
    list of Pot
        From left to right; empty if nothing in view stands like a pot.
    """
    tracks, standing = _bodies(seen, ignore)
    centres = [t.centre for t in tracks]
    middles = [(a + b) / 2 for a, b in itertools.pairwise(centres)]
    limits = list(zip([0.0, *middles], [*middles, seen.edges.shape[1] - 1.0], strict=True)) if tracks else []
    outlines = [
        _rim_outline(track, (math.ceil(low), math.floor(high)), standing, seen.edges)
        for track, (low, high) in zip(tracks, limits, strict=True)
    ]
    pots = [_rim(outline, None) for outline in outlines]
    real = [_like_a_pot(pot, track, seen.edges.shape) for pot, track in zip(pots, tracks, strict=True)]
    real = [own and not card for own, card in zip(real, _cards(pots, tracks, seen.lab), strict=True)]
    pots, outlines = list(itertools.compress(pots, real)), list(itertools.compress(outlines, real))
    # A row speaks for itself; one or two things must each show a pot's rim to be called pots.
    if len(pots) <= FEW_POTS and any(p.doubtful or p.rim_half_height > 0.2 * p.width for p in pots):
        return []
    # One camera sees all rims of a row equally flat: a rim hidden by leaves or lost in light borrows from the others.
    flat = float(np.median([p.rim_half_height / p.width for p in pots])) if len(pots) >= 3 else None
    if flat is None:
        return pots
    odd = [abs(p.rim_half_height - flat * p.width) > max(1.5, 0.012 * p.width) for p in pots]
    pots = [_rim(outline, flat) if wrong else p for outline, p, wrong in zip(outlines, pots, odd, strict=True)]
    return _in_line(pots)


def _like_a_pot(pot: Pot, body: _Track, size: tuple[int, ...]) -> bool:
    """Whether there is room for a plant above the rim, and the rim belongs to the body below it.

    A post or a shelf's side runs out of the picture at the top; a leaf's outline spreads far over its lowest part.
    """
    return (
        pot.rim_y - pot.rim_half_height > ROOM_ABOVE * size[0]
        and pot.width < RIM_TO_BODY * max(body.width, 1.0)
        and pot.width <= POT_WIDTH[1] * size[1]
    )


def _cards(pots: list[Pot], bodies: list[_Track], lab: Floats) -> list[bool]:
    """Which things of a row are cards: of another colour, and with a straight top where the others show a round rim."""
    if len(pots) < 3:
        return [False] * len(pots)
    flat = np.array([pot.rim_half_height / max(pot.width, 1.0) for pot in pots])
    usual = float(np.median(flat))
    colours = []
    for body in bodies:
        middle = slice(round(body.centre - body.width / 4), round(body.centre + body.width / 4) + 1)
        colours.append(np.median(lab[body.rows[0] : body.rows[-1], middle].reshape(-1, 3), axis=0))
    away = np.linalg.norm(np.array(colours) - np.median(colours, axis=0), axis=1)
    return [bool(card) for card in (usual > ROUND_RIM) & (flat < STRAIGHT_SHARE * usual) & (away > OTHER_COLOUR_LAB)]


def _in_line(pots: list[Pot]) -> list[Pot]:
    """Set a rim that was not seen well at the height of the others, if these stand in one line."""
    sure = [p for p in pots if not p.doubtful]
    if len(sure) < 3 or len(sure) == len(pots):
        return pots
    slope, level = np.polyfit([p.left + p.right for p in sure], [p.rim_y for p in sure], 1)
    off = [p.rim_y - (slope * (p.left + p.right) + level) for p in sure]
    if max(np.abs(off)) > 0.03 * sure[0].width:
        return pots
    return [replace(p, rim_y=float(slope * (p.left + p.right) + level)) if p.doubtful else p for p in pots]
