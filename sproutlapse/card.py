"""The printed mark: one page with a marker of known size, a line to check the print, and a fold to make it stand.

The page is drawn in millimetres as vectors, so that a printer at 100 % gives the size that is written on it.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from pathlib import Path
from typing import Final, Literal

import cv2
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path as Outline
from numpy.typing import NDArray

from sproutlapse.errors import SproutlapseError

Paper = Literal["a4", "letter"]

# ISO 216 (A4) and ANSI Y14.1 (letter, 8.5 x 11 inches), width x height.
PAPER_MM: Final[dict[Paper, tuple[float, float]]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
# What both sheets hold, less what home printers cannot print along an edge.
COMMON_MM: Final = (200.0, 264.0)
MARKER_CELLS: Final = 6  # 4 x 4 bits and a black border of one cell
MARKER_MM_RANGE: Final = (10.0, 150.0)
RULER_MM: Final = 100.0
INK: Final = "black"
MM_PER_INCH: Final = 25.4
TEXT_MM: Final = 44.0  # height of words and ruler above the card


def marker_bits(marker_id: int) -> NDArray[np.uint8]:
    """The cells of one marker of ArUco DICT_4X4_50.

    Parameters
    ----------
    marker_id
        0 to 49.

    Returns
    -------
    (6, 6) uint8 array from the top left, 0 = black, 1 = white, border included.
    """
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    return (cv2.aruco.generateImageMarker(dictionary, marker_id, MARKER_CELLS) > 127).astype("uint8")


def write_card(out: Path, *, marker_mm: float = 30.0, marker_id: int = 7, paper: Paper = "a4") -> Path:
    """Write the printed mark as a one-page vector PDF.

    Parameters
    ----------
    out
        The PDF file; its folder is made if missing.
    marker_mm
        Side of the black square in mm, 10 to 150.
    marker_id
        Which marker of ArUco DICT_4X4_50, 0 to 49.
    paper
        Size of the page. All that is drawn fits both sizes.

    Returns
    -------
    `out`. The same arguments give the same bytes.

    Raises
    ------
    SproutlapseError
        If the size or the marker's number is out of range, or the file cannot be written.
    """
    _check(marker_mm, marker_id, paper)
    data = _pdf(marker_mm, marker_bits(marker_id), PAPER_MM[paper])
    return put_page(out, data)


def put_page(out: Path, data: bytes) -> Path:
    """Write a page of the given bytes, whole or not at all.

    Raises
    ------
    SproutlapseError
        If it cannot be written.
    """
    beside = out.with_name(out.name + ".part")
    try:
        out.parent.mkdir(parents=True, exist_ok=True)
        beside.write_bytes(data)
        beside.replace(out)
    except OSError as error:
        raise SproutlapseError(
            f"the card could not be written ({error.strerror or error})",
            where=str(out),
            remedy="name a file in a folder that you may write to, with --out",
        ) from error
    return out


def _check(marker_mm: float, marker_id: int, paper: str) -> None:
    low, high = MARKER_MM_RANGE
    if not low <= marker_mm <= high:
        raise SproutlapseError(
            f"a mark of {marker_mm:g} mm does not fit on the page or would be too small to read",
            where="marker size",
            remedy=f"choose a size from {low:g} to {high:g} mm; 30 mm suits most shelves",
        )
    if not 0 <= marker_id < 50:
        raise SproutlapseError(
            f"there is no marker number {marker_id}", where="marker number", remedy="choose a number from 0 to 49"
        )
    if paper not in PAPER_MM:
        raise SproutlapseError(f"unknown paper {paper!r}", where="paper", remedy="choose a4 or letter")


def blank_page(page_mm: tuple[float, float]) -> tuple[Figure, Axes]:
    """A page of so many mm to draw on, in mm from its lower left corner."""
    width, height = page_mm
    figure = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH))
    FigureCanvasPdf(figure)
    page = figure.add_axes((0, 0, 1, 1))
    page.set(xlim=(0, width), ylim=(0, height))
    page.axis("off")
    return figure, page


def page_bytes(figure: Figure, title: str) -> bytes:
    """The page as PDF; the same drawing gives the same bytes."""
    buffer = BytesIO()
    figure.savefig(buffer, format="pdf", metadata={"CreationDate": None, "Title": title})
    return buffer.getvalue()


def write_words(page: Axes, left: float, top: float, heading: str, steps: Sequence[str]) -> None:
    """A heading and numbered steps below it, from an upper left corner in mm."""
    page.text(left, top, heading, size=13, weight="bold", va="top", color=INK)
    for i, step in enumerate(steps):
        page.text(left, top - 8 - 5.5 * i, f"{i + 1}.  {step}", size=9.5, va="top", color=INK)


def _pdf(marker_mm: float, bits: NDArray[np.uint8], page_mm: tuple[float, float]) -> bytes:
    width, height = page_mm
    figure, page = blank_page(page_mm)
    top = height - (height - COMMON_MM[1]) / 2
    left = (width - COMMON_MM[0]) / 2 + 5
    steps = (
        "Print this page at 100 % (“actual size”, not “fit to page”).",
        "Measure the black square with a ruler and type what you read, in mm, into marker_mm in tray.toml.",
        "Stand it upright in the plants’ row, facing the camera, and leave it there.",
    )
    write_words(page, left, top, f"Printed mark, {marker_mm:g} mm", steps)
    _ruler(page, left, top - 33)
    _standing_card(page, width / 2, top - TEXT_MM, marker_mm, bits)
    return page_bytes(figure, "Printed mark for seedling photos")


def _ruler(page: Axes, left: float, y: float) -> None:
    # Tick centres stand at exact millimetres; thin ticks so that a ruler can be laid against them.
    page.plot([left, left + RULER_MM], [y, y], color=INK, linewidth=0.6, solid_capstyle="butt")
    for mm in range(0, int(RULER_MM) + 1, 10):
        tick = 5.0 if mm % 50 == 0 else 2.5
        page.plot([left + mm] * 2, [y, y + tick], color=INK, linewidth=0.6, solid_capstyle="butt")
    page.text(left, y - 2, "This line is 100 mm long: check it with a ruler.", size=9, va="top", color=INK)


def card_sizes(marker_mm: float) -> tuple[float, float]:
    """White margin around the black square and depth of the foot behind the fold, in mm.

    The margin is at least one cell of the marker: less, and it is not found before a dark background.
    """
    cell = marker_mm / MARKER_CELLS
    margin = max(cell, min(1.5 * cell + 2, (COMMON_MM[0] - marker_mm) / 2))
    room = COMMON_MM[1] - TEXT_MM - (marker_mm + 2 * margin)
    return margin, min(max(30.0, marker_mm), room)


def _standing_card(page: Axes, centre: float, top: float, marker_mm: float, bits: NDArray[np.uint8]) -> None:
    margin, foot = card_sizes(marker_mm)
    side = marker_mm + 2 * margin
    left, fold = centre - side / 2, top - side
    page.add_patch(Rectangle((left, fold - foot), side, side + foot, fill=False, edgecolor="0.55", linewidth=0.4))
    page.plot([left, left + side], [fold, fold], color=INK, linewidth=0.6, dashes=(6, 4))
    draw_marker(page, left + margin, fold + margin, marker_mm, bits)
    page.text(
        *(left + side + 3, fold) if side < 120 else (centre, fold - foot / 2),
        "Cut along the grey line. Fold back here\nto a right angle, and lay a stone\nor a pot on the foot behind.",
        size=8.5,
        va="center",
        ha="left" if side < 120 else "center",
        color=INK,
    )


def draw_marker(page: Axes, left: float, bottom: float, side: float, bits: NDArray[np.uint8]) -> None:
    """Draw a marker's black square with its white cells.

    Parameters
    ----------
    page
        Axes in mm.
    left, bottom, side
        In mm.
    bits
        See `marker_bits`.
    """
    page.add_patch(Rectangle((left, bottom), side, side, facecolor=INK, linewidth=0))
    cell = side / MARKER_CELLS
    unit = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)], dtype=float)
    squares = [
        (unit + np.array([column, MARKER_CELLS - 1 - row])) * cell + np.array([left, bottom])
        for row, column in zip(*bits.nonzero(), strict=True)
    ]
    # One path for all white cells: drawn one by one, neighbours would show a hairline between them.
    codes = [Outline.MOVETO, Outline.LINETO, Outline.LINETO, Outline.LINETO, Outline.CLOSEPOLY] * len(squares)
    page.add_patch(PathPatch(Outline(np.concatenate(squares), codes), facecolor="white", linewidth=0))
