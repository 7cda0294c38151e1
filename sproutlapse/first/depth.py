"""Whether the mark stands in the plants' own row: by where its card and the pots touch the table, in one photo.

A camera that looks down a little sees what stands farther back higher up in the picture. How far down it looks is told
by the pots' rims, circles that look flat; the table lies a pot's height lower.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np

from sproutlapse.first.level import MOST_ROLL_DEG, mark_turn
from sproutlapse.first.sight import Sight
from sproutlapse.first.verdict import Line, fine, look, mend
from sproutlapse.vision.colour import to_lab
from sproutlapse.vision.scout_pots import Pot

# Farther off than this the lengths are wrong by 5 % at 800 mm (handbook 7.1: similar triangles).
MOST_MM = 25.0
# Where nobody told how far the camera stands, this is taken, and that it may be half or twice as far is in the doubt.
USUAL_MM = 800.0
# A pot's foot is this share of its rim's width. Common for tapered pots, own proposal.
FOOT_SHARE = 0.75
# Places of the table's edge are read to within this share of a pot's width.
FOOT_SD_SHARE = 0.02
# A card's foot is looked for so far below its mark, in sides of the mark, and parts from the table by such a step.
BELOW_SIDES = 1.6
EDGE_LAB = 1.5
# ... and by this share of the strip's clearest step: the edge of a soft shadow is less.
EDGE_SHARE = 0.2
# A table seen flatter than this (its rise towards the back, per depth) tells nothing.
FLATTEST = 0.06
# Feet of neighbours that differ by more, in widths of a pot, belong to two rows: then there is no one row to stand in.
ONE_ROW_SHARE = 0.2


@dataclass(frozen=True)
class Behind:
    """How far the mark stands behind (+) or before (-) the pots, mm.

    `reading_sd_mm` is the doubt of reading the feet; `stretch` the share by which `mm` is unsure besides, for want of
    the camera's distance: it cannot turn nothing into something.
    """

    mm: float
    reading_sd_mm: float
    stretch: float


def in_the_row(sight: Sight) -> list[Line]:
    """Whether the mark stands where it was told to stand."""
    if sight.view != "side" or not sight.marks or not sight.pots:
        return []
    told = sight.tray.scale.behind_plants_mm
    # In a picture that is not level, up is not back.
    found = behind(sight) if abs(mark_turn(sight.marks[0])) <= MOST_ROLL_DEG else None
    where = "Stand the mark in the plants' row"
    if found is None or found.reading_sd_mm > MOST_MM:
        says = "whether the mark is in the plants' row cannot be told from this photo"
        return [look("Mark's place", says, "Look from above: the mark's face and the stems in one line, to 5 mm.")]
    off = found.mm - told
    least = max(MOST_MM, 2 * found.reading_sd_mm)
    if abs(off) > least:
        side = "behind" if off > 0 else "before"
        place = "the plants" if told == 0 else "its told place"
        doubt = float(np.hypot(2 * found.reading_sd_mm, found.stretch * found.mm))
        says = f"the mark stands about {abs(off):.0f} mm {side} {place}, give or take {doubt:.0f} mm"
        return [mend("Mark's place", says, f"{where}; or measure and write behind_plants_mm into tray.toml.")]
    place = "in the plants' row" if told == 0 else "where it was told to stand"
    return [fine("Mark's place", f"{place}, to within about {least:.0f} mm")]


def behind(sight: Sight) -> Behind | None:
    """How far behind the pots the mark stands, or None where feet or rims are not seen well enough."""
    foot = _card_foot(sight)
    pots = [pot for pot in sight.pots if not pot.doubtful]
    if foot is None or not pots or sight.mm_per_px is None:
        return None
    flat = float(np.median([2 * pot.rim_half_height / pot.width for pot in pots]))
    wide = float(np.median([pot.width for pot in pots]))
    tall = float(np.median([pot.bottom - pot.rim_y for pot in pots]))
    mm = sight.mm_per_px * sight.shrink
    told = sight.tray.view.camera_to_plants_mm
    far = told or USUAL_MM
    slope = flat + tall * mm / far
    line = _table_line(sight, pots, foot[0])
    if slope < FLATTEST or line is None:
        return None
    # The pots' lowest row is the front of the foot; the plants stand over its middle.
    middle = line - FOOT_SHARE * wide / 2 * slope
    off = (middle - foot[1]) / slope * mm
    stretch = 0.0 if told else tall * mm / far / slope
    return Behind(off, FOOT_SD_SHARE * wide / slope * mm, stretch)


def _table_line(sight: Sight, pots: list[Pot], x: float) -> float | None:
    """The row at which a pot standing at a column would touch the table: the pots' median, tilted as their rims."""
    found = [_pot_foot(sight, pot) for pot in sight.pots]
    feet = [(pot, foot) for pot, foot in zip(sight.pots, found, strict=True) if foot is not None]
    if not feet:
        return None
    sure = [foot - pot.rim_y for pot, foot in feet if not pot.doubtful]
    if _apart(feet) > ONE_ROW_SHARE * float(np.median([pot.width for pot in pots])):
        return None
    if not sure:
        return None
    drop = float(np.median(sure))
    rims = np.array([pot.rim_y for pot in pots])
    if len(pots) < 3:
        return float(np.median(rims)) + drop
    slope, level = np.polyfit([(pot.left + pot.right) / 2 for pot in pots], rims, 1)
    return float(slope * x + level) + drop


def _apart(feet: list[tuple[Pot, float]]) -> float:
    """How far apart two neighbours' feet stand up or down the picture; a row that runs askew counts little."""
    steps = [abs(b - a) for (_, a), (_, b) in pairwise(feet)]
    return float(np.median(steps)) if steps else 0.0


def _pot_foot(sight: Sight, pot: Pot) -> float | None:
    """Row (small picture) where the front of a pot's foot meets the table."""
    centre, tall = (pot.left + pot.right) / 2, pot.bottom - pot.rim_y
    top, low = pot.rim_y + 0.6 * tall, pot.bottom + 0.3 * tall
    return _lowest_edge(sight, (centre - 0.12 * pot.width, centre + 0.12 * pot.width), (top, low))


def _card_foot(sight: Sight) -> tuple[float, float] | None:
    """Column and row (small picture) where the card under the largest mark meets the table."""
    corners = (sight.marks[0].corners + 0.5) / sight.shrink - 0.5
    side = sight.marks[0].side_px / sight.shrink
    left, right, low = corners[:, 0].min(), corners[:, 0].max(), corners[:, 1].max()
    ends = low + 0.08 * side, low + BELOW_SIDES * side
    foot = _lowest_edge(sight, (left + 0.3 * side, right - 0.3 * side), ends)
    return None if foot is None else (float((left + right) / 2), foot)


def _lowest_edge(sight: Sight, columns: tuple[float, float], rows: tuple[float, float]) -> float | None:
    """The lowest clear edge from side to side of a strip: below it lies the table, whose shade is soft."""
    (left, right), (top, low) = ((round(a), round(b)) for a, b in (columns, rows))
    strip = sight.light[max(0, top) : max(0, low), max(0, left) : max(0, right) + 1]
    if strip.shape[0] < 12 or strip.shape[1] < 4:
        return None
    lab = to_lab(np.ascontiguousarray(strip))
    steps = cv2.Sobel(cv2.GaussianBlur(lab, (0, 0), 1.0), cv2.CV_32F, 0, 1, scale=1 / 8)
    edge = np.linalg.norm(np.median(steps, axis=1), axis=-1)[2:-2]
    clear = max(EDGE_LAB, EDGE_SHARE * float(edge.max()))
    crest = (edge > clear) & (edge >= np.roll(edge, 1)) & (edge >= np.roll(edge, -1))
    return float(max(0, top) + 2 + np.flatnonzero(crest)[-1]) if crest.any() else None
