"""The printed mark in one photo: readable, fine enough for the smallest sprout, and of a plausible size."""

from __future__ import annotations

from math import hypot

from sproutlapse.first.sight import Sight
from sproutlapse.first.verdict import Line, fine, look, mend

# Five pixels a cell of the mark, six cells: below this reading fails now and then. Common practice for such marks.
LEAST_SIDE_PX = 30.0
# A stem of 1 mm, the thinnest of onions and of stretched seedlings, must be two pixels wide to be found surely, the
# least that sampling allows.
MOST_MM_PER_PX = 0.5
# Two lengths of one photo agree within this share: 1 mm of reading on 60 mm, and a few mm of depth at 600 mm.
AGREE_SHARE = 0.025
# A second mark of this share of the first's size is taken for a print of the same size.
SAME_PRINT = (0.75, 1.33)
# Pots and cells of home growers, widths in mm, from plugs to large pots. Own proposal, no source.
POT_MM = (15.0, 350.0)

MEASURE = "Measure its black square with a ruler, write marker_mm into tray.toml, and give --row-mm."


def readable(sight: Sight, *, sharp: bool) -> list[Line]:
    """Whether a mark is there and large enough to be read in every photo.

    Where the photo is not `sharp`, a mark that cannot be read is no fault of its own.
    """
    if not sight.marks:
        if sight.mm_per_px is not None:
            return [fine("Mark", "none seen; the known length of tray.toml is used")]
        if not sharp:
            return [look("Mark", "none could be read, perhaps because the photo is not sharp", "Mend the focus first.")]
        return [
            mend(
                "Mark",
                "none could be read, so there would be no millimetres",
                "Print one with `sproutlapse card`, stand it upright in the plants' row, all of it in view and lit.",
            )
        ]
    mark = sight.marks[0]
    says = f"number {mark.number}, {mark.side_px:.0f} pixels wide (at least {LEAST_SIDE_PX:.0f})"
    if mark.side_px < LEAST_SIDE_PX:
        return [mend("Mark", says, "Print a larger one (`sproutlapse card --mm`), or bring the camera nearer.")]
    return [fine("Mark", says)]


def fineness(sight: Sight) -> list[Line]:
    """Whether a pixel is small enough for the smallest sprout."""
    mm = sight.mm_per_px
    if mm is None:
        return []
    says = f"{mm:.2f} mm per pixel (at most {MOST_MM_PER_PX:.2f}, so that a stem of 1 mm is two pixels wide)"
    if mm > MOST_MM_PER_PX:
        return [mend("Fineness", says, "Set the camera to a larger picture, use the longer lens, or go nearer.")]
    return [fine("Fineness", says)]


def print_size(sight: Sight, row_mm: float | None) -> list[Line]:
    """Whether the print has the size that it is taken for, by a second length in the same photo.

    Parameters
    ----------
    sight
        What is seen.
    row_mm
        From the middle of the first pot (cell) of a row to the middle of its last one, measured with a ruler.
    """
    if not sight.marks:
        return []
    # A known length, being the scale of all, is held against the mark and not against itself.
    mark_scale = sight.mark_mm / sight.marks[0].side_px
    off = _by_row(sight, mark_scale, row_mm) or _by_length(sight, mark_scale) or _by_second_mark(sight)
    if off is not None:
        share, against = off
        says = f"off by {share:+.1%} against {against} (at most {AGREE_SHARE:.1%})".replace("%", " %")
        if abs(share) > AGREE_SHARE:
            return [
                mend(
                    "Print size",
                    says,
                    'Printed "fit to page", or not in the plants\' row. Measure the black square with a ruler, write'
                    " marker_mm into tray.toml, and stand the mark beside the pots.",
                )
            ]
        return [fine("Print size", says)]
    wide = _pot_mm(sight, mark_scale)
    if wide is not None and not POT_MM[0] <= wide <= POT_MM[1]:
        says = f"a mark of {sight.mark_mm:g} mm makes the pots {wide:.0f} mm wide, which cannot be"
        return [mend("Print size", says, MEASURE)]
    if sight.tray.scale.marker_mm is not None:
        return [fine("Print size", f"taken as {sight.mark_mm:g} mm, as measured (to check it, give --row-mm)")]
    says = f"taken as {sight.mark_mm:g} mm; a print 4 % small would not be seen"
    return [look("Print size", says, MEASURE)]


def row_px(sight: Sight) -> float | None:
    """Pixels of the photo from the middle of the first pot (or cell of the first row) to that of the last, or None."""
    if len(sight.pots) > 1:
        first, last = sight.pots[0], sight.pots[-1]
        across = (last.left + last.right - first.left - first.right) / 2
        return hypot(across, last.rim_y - first.rim_y) * sight.shrink
    if sight.grid is not None and len(sight.grid.xs) > 2:
        (l0, t0, r0, b0), (l1, t1, r1, b1) = (sight.grid.box(0, c) for c in (0, len(sight.grid.xs) - 2))
        return hypot((l1 + r1 - l0 - r0) / 2, (t1 + b1 - t0 - b0) / 2) * sight.shrink
    return None


def _by_row(sight: Sight, mark_scale: float, row_mm: float | None) -> tuple[float, str] | None:
    pixels = row_px(sight)
    if row_mm is None or pixels is None:
        return None
    return row_mm / pixels / mark_scale - 1.0, f"the row of {row_mm:g} mm"


def _by_length(sight: Sight, mark_scale: float) -> tuple[float, str] | None:
    if not sight.tray.scale.length_mm or sight.mm_per_px is None:
        return None
    return sight.mm_per_px / mark_scale - 1.0, f"the known length of {sight.tray.scale.length_mm:g} mm"


def _by_second_mark(sight: Sight) -> tuple[float, str] | None:
    first = sight.marks[0]
    alike = [m for m in sight.marks[1:] if SAME_PRINT[0] < m.side_px / first.side_px < SAME_PRINT[1]]
    if not alike:
        return None
    return alike[0].side_px / first.side_px - 1.0, f"mark {alike[0].number}"


def _pot_mm(sight: Sight, mark_scale: float) -> float | None:
    widths = [pot.width for pot in sight.pots]
    if sight.grid is not None:
        boxes = [sight.grid.box(0, c) for c in range(len(sight.grid.xs) - 1)]
        widths = [right - left for left, _, right, _ in boxes]
    return float(sum(widths) / len(widths)) * sight.shrink * mark_scale if widths else None
