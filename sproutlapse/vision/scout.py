"""The first photos in, what stands in them out: view, pots or cells with their soil lines, names, habit and scale.

It stands where nobody wrote a tray.toml, or only a part of one. What the person said always wins, and what was taken
for granted is said in plain words.
"""

from __future__ import annotations

import itertools
import string
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import TrayError
from sproutlapse.tray import Box, Plant, Tray
from sproutlapse.vision.scout_cells import Grid, cell_grid
from sproutlapse.vision.scout_marks import other_mark
from sproutlapse.vision.scout_pots import Pot, pots_in_a_row
from sproutlapse.vision.scout_rulers import draw_rulers
from sproutlapse.vision.scout_surfaces import Mask, Surfaces, surfaces

__all__ = ["Scouted", "draw_rulers", "scout"]

Rgb = NDArray[np.uint8]

# The reference of a stand is made from this many frames: the contract of files in and out.
FIRST_FRAMES = 7
# Pots and cells are found on a picture no larger than this; more only costs time.
LONGEST_SIDE_PX = 1700
# A smaller one is doubled first.
SHORTEST_SIDE_PX = 800
# Side of the black square on the card that the tool prints.
CARD_MARKER_MM = 30.0
# Side of the printed card in sides of its black square, with a margin for its foot.
CARD_SHARE = 2.6
# With more of the picture taken up by things, no board is seen; and a board darker than this (CIELAB L) is none.
CROWDED, DIM_L = 0.9, 45.0

BY_HAND = (
    "sproutlapse tray FOLDER draws numbered rulers on the first photo and writes a tray.toml to fill in: [view] from, "
    "and a [[plant]] with name, box_px (and soil_y_px in a side view) for each pot or cell."
)


@dataclass(frozen=True)
class Scouted:
    """A complete tray, and what had to be taken for granted to complete it.

    Attributes
    ----------
    tray
        With view, plants and scale as found or given; numbers are rounded as they will be written.
    notes
        Sentences in plain words for the person.
    rims
        Columns of the two ends of each pot's rim, where pots were found.
    """

    tray: Tray
    notes: tuple[str, ...]
    rims: tuple[tuple[float, float], ...] = ()


def scout(pictures: Sequence[Rgb], *, given: Tray) -> Scouted:
    """Find what stands in view.

    Parameters
    ----------
    pictures
        The first usable photos (seven are looked at), decoded RGB (H, W, 3) of one size, in the geometry of the first.
    given
        What the person already said; it wins over what is found.

    Returns
    -------
    Scouted
        The tray completed, and notes on what was assumed.

    Raises
    ------
    TrayError
        If there are no pictures or neither pots nor cells can be made out in them.
    """
    if not pictures:
        raise TrayError(
            "there is no usable photo to look for pots in", remedy="put at least one well lit photo into the folder"
        )
    still, shrink = _still(pictures[:FIRST_FRAMES])
    tray, notes = _with_scale(given, pictures[0])
    if given.plants:
        return _only_view(tray, notes)
    seen = surfaces(still)
    card = _cards(still)
    grid, pots = _grid_or_pots(seen, card, given.view.from_)
    if grid is not None:
        plants, more = _cells(grid, shrink)
        view = "above"
    elif pots:
        plants, more = _pots(pots, shrink, pictures[0].shape[1])
        view = "side"
    else:
        raise TrayError(
            "neither pots nor the cells of a seed tray could be made out in the first photos" + _why_nothing(seen),
            where="tray.toml",
            remedy=BY_HAND,
        )
    notes += more
    if given.view.from_ is None:
        notes.insert(0, f"The photos were taken to be made from {'above' if view == 'above' else 'the side'}.")
    found = tray.model_copy(update={"plants": plants, "view": tray.view.model_copy(update={"from_": view})})
    rims = tuple((_full(pot.left, shrink), _full(pot.right, shrink)) for pot in pots)
    return Scouted(found, tuple(notes), () if grid is not None else rims)


def _why_nothing(seen: Surfaces) -> str:
    """What is wrong with the scene, where the pictures show it."""
    if seen.standing.mean() > CROWDED:
        return ": no plain board or table is seen behind what stands in view"
    if float(np.median(seen.lab[..., 0][~seen.standing])) < DIM_L:
        return ": what lies behind is dark, where a bright plain board should stand"
    return ""


def _still(pictures: Sequence[Rgb]) -> tuple[Rgb, float]:
    """One picture without what moves or flickers, of a handy size, and how much larger the photos are than it."""
    longest = max(pictures[0].shape[:2])
    shrink = float(max(1, -(-longest // LONGEST_SIDE_PX)))
    size = (int(pictures[0].shape[1] // shrink), int(pictures[0].shape[0] // shrink))
    crop = (slice(size[1] * int(shrink)), slice(size[0] * int(shrink)))
    small = [cv2.resize(p[crop], size, interpolation=cv2.INTER_AREA) if shrink > 1 else p for p in pictures]
    middle = (len(small) - 1) // 2
    still = np.ascontiguousarray(np.partition(np.stack(small), middle, axis=0)[middle])
    if longest < SHORTEST_SIDE_PX:
        # Ridges and gaps of a few pixels are lost to the smoothing that noise asks for.
        shrink, size = 0.5, (2 * size[0], 2 * size[1])
        still = np.asarray(cv2.resize(still, size, interpolation=cv2.INTER_LINEAR), dtype=np.uint8)
    return still, shrink


def _markers(picture: Rgb) -> list[NDArray[np.float64]]:
    """Corners (4, 2) of the printed marks in view."""
    finder = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    corners, _, _ = finder.detectMarkers(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY))
    return [np.asarray(c, dtype=np.float64).reshape(4, 2) for c in corners]


def _cards(picture: Rgb) -> Mask:
    """Where printed cards stand, each about its mark."""
    card = np.zeros(picture.shape[:2], np.uint8)
    for corners in _markers(picture):
        centre = corners.mean(axis=0)
        cv2.fillConvexPoly(card, np.round(centre + CARD_SHARE * (corners - centre)).astype(np.int32), 1)
    return card.astype(bool)


def _with_scale(given: Tray, picture: Rgb) -> tuple[Tray, list[str]]:
    said = given.scale
    if said.marker_mm is not None or (said.from_px and said.to_px and said.length_mm):
        return given, []
    if not _markers(picture):
        strange = other_mark(picture)
        return given, ([strange] if strange else []) + [
            "No printed mark was read and no length was given: results are in pixels and pure numbers only, without "
            "millimetres. If a mark stands in view, it is too small, blurred or partly hidden."
        ]
    return given.model_copy(update={"scale": said.model_copy(update={"marker_mm": CARD_MARKER_MM})}), [
        f"The side of the black square was taken as {CARD_MARKER_MM:g} mm: measure yours and write it into marker_mm."
    ]


def _only_view(tray: Tray, notes: list[str]) -> Scouted:
    """The plants are given: all that can be missing is the view, which soil lines give away."""
    if tray.view.from_ is not None:
        return Scouted(tray, tuple(notes))
    side = any(p.soil_y_px is not None for p in tray.plants)
    view = tray.view.model_copy(update={"from_": "side" if side else "above"})
    why = "a soil line is given" if side else "no soil line is given"
    notes = [f"The photos were taken to be made from {'the side' if side else 'above'}, since {why}.", *notes]
    return Scouted(tray.model_copy(update={"view": view}), tuple(notes))


def _grid_or_pots(seen: Surfaces, card: Mask, view: str | None) -> tuple[Grid | None, list[Pot]]:
    if view == "side":
        return None, pots_in_a_row(seen, ignore=card)
    grid = cell_grid(seen, ignore=card)
    if view == "above" or grid is not None:
        return grid, []
    return None, pots_in_a_row(seen, ignore=card)


def pot_names(count: int) -> list[str]:
    """A, B, C ... Z, AA, AB ... from left to right."""
    letters = string.ascii_uppercase
    return [letters[k] if k < 26 else letters[k // 26 - 1] + letters[k % 26] for k in range(count)]


def _pots(pots: list[Pot], shrink: float, width: int) -> tuple[tuple[Plant, ...], list[str]]:
    """Each pot with the strip above it: half-way to its neighbours, and half a usual gap at the ends of the row."""
    middles = [(a.right + b.left) / 2 for a, b in itertools.pairwise(pots)]
    gaps = [max(b.left - a.right, 0.0) for a, b in itertools.pairwise(pots)]
    margin = float(np.median(gaps)) / 2 if gaps else 0.06 * pots[0].width
    edges = [pots[0].left - margin, *middles, pots[-1].right + margin]
    plants, doubtful = [], []
    for name, pot, left, right in zip(pot_names(len(pots)), pots, edges, edges[1:], strict=False):
        soil = round(2 * _full(pot.soil_y, shrink)) / 2
        front = max(_full(pot.rim_y + pot.rim_half_height, shrink) + 2, soil + 4)
        box: Box = (max(0, round(_full(left, shrink))), 0, min(width - 1, round(_full(right, shrink))), round(front))
        plants.append(Plant(name=name, box_px=box, soil_y_px=soil))
        if pot.doubtful:
            doubtful.append(name)
    notes = [
        f"{len(pots)} pot{'s' if len(pots) > 1 else ''} found and named {plants[0].name}"
        + (f" to {plants[-1].name} from left to right." if len(pots) > 1 else "."),
        "The soil was taken to stand just below the rim: where it stands lower, correct soil_y_px.",
    ]
    if len(pots) == 1:
        notes.append("Only one thing that looks like a pot was seen: make sure that it is one.")
    if doubtful:
        notes.append(
            f"The rim was not seen well, so the soil line is doubtful: {', '.join(doubtful)}. Check soil_y_px."
        )
    return tuple(plants), notes


def _full(value: float, shrink: float) -> float:
    """A place in the full picture; pixel centres are whole numbers in both."""
    return (value + 0.5) * shrink - 0.5


def _cells(grid: Grid, shrink: float) -> tuple[tuple[Plant, ...], list[str]]:
    rows, columns = len(grid.ys) - 1, len(grid.xs) - 1
    plants = []
    for row in range(rows):
        for column in range(columns):
            left, top, right, bottom = (round(_full(v, shrink)) for v in grid.box(row, column))
            limit = [round(side * shrink) - 1 for side in grid.size]
            box: Box = (max(0, left), max(0, top), min(right, limit[0]), min(bottom, limit[1]))
            plants.append(Plant(name=f"r{row + 1}c{column + 1}", box_px=box))
    return tuple(plants), [
        f"{rows} rows of {columns} cells found and named r1c1 to r{rows}c{columns} from the picture's top left."
    ]
