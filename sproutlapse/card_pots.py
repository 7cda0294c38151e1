"""Small printed marks for pots: a page of them to cut out, each with its number beside it.

The mark goes on the pot's wall, on the side that faces the camera, and its number into `mark` of that pot in tray.toml.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from sproutlapse.card import (
    COMMON_MM,
    INK,
    MARKER_CELLS,
    PAPER_MM,
    Paper,
    blank_page,
    draw_marker,
    marker_bits,
    page_bytes,
    put_page,
    write_words,
)
from sproutlapse.errors import SproutlapseError

STANDING: Final = 7  # the number of the mark that gives the scale; no pot gets it
NUMBERS: Final = tuple(n for n in range(50) if n != STANDING)
POT_MM_RANGE: Final = (8.0, 40.0)
WORDS_MM: Final = 30.0


def write_pot_marks(out: Path, pots: int, *, marker_mm: float = 12.0, paper: Paper = "a4") -> Path:
    """Write marks for pots as a one-page vector PDF.

    Parameters
    ----------
    out
        The PDF file; its folder is made if missing.
    pots
        How many pots, 1 to 49.
    marker_mm
        Side of the black squares in mm, 8 to 40.
    paper
        Size of the page. All that is drawn fits both sizes.

    Returns
    -------
    `out`. The same arguments give the same bytes.

    Raises
    ------
    SproutlapseError
        If there are more pots than marks, they do not fit on the page, or the file cannot be written.
    """
    low, high = POT_MM_RANGE
    if not low <= marker_mm <= high:
        raise SproutlapseError(
            f"a pot's mark of {marker_mm:g} mm would not be read or would not stick",
            where="marker size",
            remedy=f"choose a size from {low:g} to {high:g} mm; 12 mm suits most pots",
        )
    columns, rows = grid(marker_mm)
    most = min(len(NUMBERS), columns * rows)
    if not 1 <= pots <= most:
        raise SproutlapseError(
            f"{pots} pots: a page holds 1 to {most} marks of {marker_mm:g} mm",
            where="--pots",
            remedy="ask for fewer, or for smaller ones with --mm",
        )
    return put_page(out, _pdf(NUMBERS[:pots], marker_mm, PAPER_MM[paper]))


def grid(marker_mm: float) -> tuple[int, int]:
    """How many marks stand in a row of the page, and how many rows there are."""
    wide, high = _place(marker_mm)
    return int(COMMON_MM[0] // wide), int((COMMON_MM[1] - WORDS_MM) // high)


def _place(marker_mm: float) -> tuple[float, float]:
    """Width and height in mm of a mark's place, with its white margin, the number below, and room for the scissors."""
    margin = marker_mm / MARKER_CELLS
    return marker_mm + 2 * margin + 4, marker_mm + 2 * margin + 8


def _pdf(numbers: tuple[int, ...], marker_mm: float, page_mm: tuple[float, float]) -> bytes:
    width, height = page_mm
    figure, page = blank_page(page_mm)
    left, top = (width - COMMON_MM[0]) / 2 + 2, height - (height - COMMON_MM[1]) / 2
    steps = (
        "Print at 100 % and cut along the grey lines, so that a white margin stays round each square.",
        "Stick one on each pot, flat and upright, on the side that faces the camera.",
        f"Write its number into tray.toml, in the lines of that pot: mark = {numbers[-1]}",
    )
    write_words(page, left, top, f"Marks for pots, {marker_mm:g} mm", steps)
    columns, _ = grid(marker_mm)
    wide, high = _place(marker_mm)
    for k, number in enumerate(numbers):
        _mark(page, left + wide * (k % columns), top - WORDS_MM - high * (k // columns), marker_mm, number)
    return page_bytes(figure, "Printed marks for pots")


def _mark(page: Axes, left: float, top: float, side: float, number: int) -> None:
    margin = side / MARKER_CELLS
    whole = side + 2 * margin
    page.add_patch(Rectangle((left, top - whole - 4), whole, whole + 4, fill=False, edgecolor="0.55", linewidth=0.4))
    draw_marker(page, left + margin, top - margin - side, side, marker_bits(number))
    page.text(left + whole / 2, top - whole - 3.2, str(number), size=8, ha="center", va="bottom", color=INK)
