"""The plan of a fair sowing: a map to print, the same as a table, and what the numbers can show."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Final

import matplotlib as mpl
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from sproutlapse.card import MM_PER_INCH, PAPER_MM, Paper
from sproutlapse.compare.words import times
from sproutlapse.errors import SproutlapseError
from sproutlapse.growth.chance import found_by
from sproutlapse.growth.compared import LIMIT
from sproutlapse.growth.fair_design import APART
from sproutlapse.growth.shuffled import FREE, Cell, shuffled, unevenness
from sproutlapse.report.colours import INK
from sproutlapse.report.words import counted, shortened
from sproutlapse.work.files import csv_bytes, put

MOST_LOTS: Final = 26  # as many as there are letters
GOOD, POOR, OFTEN, HARDLY = 0.9, 0.5, 0.8, 0.005  # the difference that is told of; what counts as often and as hardly
MOST_SEEDS: Final = 200  # more are not asked for in words
NUMBERS: Final = 100_000
PAGE_EDGE_MM: Final = 14.0
# Paper shades that print apart without colour; each lot has its letter besides.
SHADES: Final = ("#ffffff", "#e4e4e4", "#c9c9c9", "#f2f2f2", "#d7d7d7")
PLAN_COLUMNS = ("row", "column", "block", "letter", "lot", "seeds")


def write_plan(
    out: Path, lots: Sequence[str], *, rows: int, columns: int, seeds: int, number: int | None, paper: Paper
) -> list[str]:
    """Write the map as a PDF and beside it as a CSV; the same arguments give the same bytes.

    Parameters
    ----------
    out
        The PDF.
    lots
        In the grower's words.
    rows, columns, seeds
        Of the tray, and seeds in each cell.
    number
        Names the shuffle; a new one is drawn if None.

    Returns
    -------
    What to print.

    Raises
    ------
    SproutlapseError
        If there are too few or too many lots, or one twice, or too few cells.
    """
    names = _checked(lots, rows * columns)
    number = random.SystemRandom().randrange(NUMBERS) if number is None else number
    cells = shuffled(len(names), rows, columns, number)
    if out.suffix.lower() != ".pdf":
        out = out.with_name(out.name + ".pdf")
    told = can_show(len(names), sum(c.lot == 0 for c in cells), seeds)
    told += [uneven] if (uneven := _uneven(cells)) else []
    page = PAPER_MM[paper] if rows >= columns else PAPER_MM[paper][::-1]
    put(out, _pdf(_Map(cells, names, number, seeds, told, (page[0], page[1]))))
    table = out.with_suffix(".csv")
    put(table, csv_bytes(plan_table(cells, names, seeds)))
    return [
        *told,
        f"Map: {out}; as a table: {table}",
        f"The same again: --shuffle {number}, with the same lots, rows and columns.",
    ]


def _checked(lots: Sequence[str], cells: int) -> list[str]:
    names = [name.strip() for name in lots]
    if len(names) < 2:
        raise SproutlapseError("a plan needs two lots or more.", remedy="Name each: sproutlapse plan “old” “new”.")
    if "" in names:
        raise SproutlapseError("a lot has no name.", remedy="Give each lot a word of its own.")
    twice = next((n for k, n in enumerate(names) if n.casefold() in {m.casefold() for m in names[:k]}), None)
    if twice is not None:
        raise SproutlapseError(f"the lot “{twice}” is named twice.", remedy="Give each lot a word of its own.")
    if len(names) > MOST_LOTS:
        raise SproutlapseError(f"{len(names)} lots are too many for one plan.", remedy=f"Name at most {MOST_LOTS}.")
    if cells < 2 * len(names):
        raise SproutlapseError(
            f"{counted(cells, 'cell')} for {len(names)} lots: each would stand in one place only, and lot and place "
            "could not be told apart.",
            remedy=f"Take at least {2 * len(names)} cells (--rows, --columns), better many more.",
        )
    return names


def can_show(lots: int, cells: int, seeds: int) -> list[str]:
    """What so many seeds a lot can show, and how many would be needed, in words.

    Parameters
    ----------
    lots, cells, seeds
        How many lots, cells of each, and seeds in each cell.
    """
    pairs = lots * (lots - 1) // 2
    limit = LIMIT / pairs
    of = cells * seeds
    often = found_by(of, GOOD, of, POOR, limit=limit) if of < MOST_SEEDS else 1.0
    only = "" if often >= OFTEN else "only "
    how = f"{only}{times(often)}" if often >= HARDLY else "hardly ever"
    text = f"{counted(of, 'seed')} a lot find 90 % against 50 % {how}"
    if often < OFTEN:
        more = next((n for n in range(of + 1, MOST_SEEDS) if found_by(n, GOOD, n, POOR, limit=limit) >= OFTEN), None)
        if more is not None:
            text += f", {more} find it {times(found_by(more, GOOD, more, POOR, limit=limit))}"
    out = [f"{text}." + (f" (Each of the {pairs} pairs of lots counted stricter for there being several.)" if pairs > 1
                         else "")]  # fmt: skip
    least = next(
        (s for s in range(88, -1, -2) if of < MOST_SEEDS and found_by(of, GOOD, of, s / 100, limit=limit) >= OFTEN),
        None,
    )
    if least is not None:
        out.append(f"Found 8 times in 10 is 90 % against {least} % or less.")
    if seeds > 1:
        out.append("Seeds of one cell share its luck: one seed in each of more cells shows more.")
    return out


def _uneven(cells: Sequence[Cell]) -> str:
    if 0.5 + unevenness(list(cells)) < APART:
        return ""
    return "With so few cells two lots still stand apart to one side: take more cells."


def plan_table(cells: Sequence[Cell], lots: Sequence[str], seeds: int) -> pd.DataFrame:
    """A row a cell, in the order of the map; free cells are there, with no lot."""
    rows = [
        {
            "row": c.row, "column": c.column, "block": None if c.lot == FREE else c.block,
            "letter": "" if c.lot == FREE else letter(c.lot), "lot": "" if c.lot == FREE else lots[c.lot],
            "seeds": 0 if c.lot == FREE else seeds,
        }
        for c in cells
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(PLAN_COLUMNS)).astype({"block": "Int64"})


def letter(lot: int) -> str:
    """The letter by which a lot stands on the map."""
    return chr(ord("A") + lot)


@dataclass(frozen=True)
class _Map:
    """All that stands on the printed page."""

    cells: Sequence[Cell]
    lots: Sequence[str]
    number: int
    seeds: int
    told: Sequence[str]
    page: tuple[float, float]


def _pdf(what: _Map) -> bytes:
    width, height = what.page
    # matplotlib keeps its settings of fonts for all: set for this figure alone.
    with mpl.rc_context({"pdf.fonttype": 42, "font.family": "sans-serif", "text.color": INK}):
        figure = Figure(figsize=(width / MM_PER_INCH, height / MM_PER_INCH))
        FigureCanvasPdf(figure)
        axes = figure.add_axes((0, 0, 1, 1))
        axes.set_xlim(0, width)
        axes.set_ylim(height, 0)
        axes.axis("off")
        _grid(axes, what, top=_words(axes, what))
        data = BytesIO()
        figure.savefig(data, format="pdf", metadata={"CreationDate": None, "Creator": None, "Producer": None})
    return data.getvalue()


def _legend(lots: Sequence[str]) -> list[str]:
    return [f"{letter(k)}  {shortened(name, 44)}" for k, name in enumerate(lots)]


def _words(axes: Axes, what: _Map) -> float:
    """Title, lots and what the numbers show; returns how far down it reaches, mm."""
    left, y, right = PAGE_EDGE_MM, PAGE_EDGE_MM + 6, what.page[0] - PAGE_EDGE_MM
    legend = _legend(what.lots)
    axes.text(left, y, "Sowing map", size=20)
    axes.text(right, y, f"shuffle {what.number}", size=11, ha="right")
    y += 7
    each = f"{counted(what.seeds, 'seed')} in each cell" if what.seeds > 1 else "One seed in each cell"
    axes.text(left, y, f"{each}. Turn the lower edge towards the camera.    Sown on: ________________", size=10)
    half = -(-len(legend) // 2) if len(legend) > 3 else len(legend)
    for k, line in enumerate(legend):
        axes.text(left + (k // half) * (right - left) / 2, y + 7 + 5.2 * (k % half), line, size=11)
    y += 7 + 5.2 * half
    for line in what.told:
        axes.text(left, y + 1, line, size=8.5)
        y += 4.4
    return y + 3


def _grid(axes: Axes, what: _Map, *, top: float) -> None:
    """The cells below the words, as large as the page bears."""
    cells, lots, page = what.cells, what.lots, what.page
    rows, columns = max(c.row for c in cells), max(c.column for c in cells)
    number_mm = 6.0
    wide, high = page[0] - 2 * PAGE_EDGE_MM - number_mm, page[1] - PAGE_EDGE_MM - top - number_mm
    side = min(wide / columns, high / rows, 42.0)
    left, y0 = PAGE_EDGE_MM + number_mm, top + number_mm
    for c in cells:
        x, y = left + (c.column - 1) * side, y0 + (c.row - 1) * side
        shade = "white" if c.lot == FREE else SHADES[c.lot % len(SHADES)]
        axes.add_patch(Rectangle((x, y), side, side, facecolor=shade, edgecolor=INK, linewidth=0.6))
        if c.lot == FREE:
            axes.text(x + side / 2, y + side / 2, "free", size=min(9, side), ha="center", va="center", color="#777777")
            continue
        axes.text(x + side / 2, y + side * 0.44, letter(c.lot), size=min(30, 1.5 * side), ha="center", va="center")
        if side >= 20:
            axes.text(x + side / 2, y + side * 0.84, shortened(lots[c.lot], round(side / 2.1)), size=6.5, ha="center")
    _block_lines(axes, cells, left, y0, side)
    for k in range(1, columns + 1):
        axes.text(left + (k - 0.5) * side, y0 - 1.5, str(k), size=8, ha="center", color=INK)
    for k in range(1, rows + 1):
        axes.text(left - 1.5, y0 + (k - 0.5) * side, str(k), size=8, ha="right", va="center", color=INK)


def _block_lines(axes: Axes, cells: Sequence[Cell], left: float, top: float, side: float) -> None:
    """Thick lines between blocks."""
    block = {(c.row, c.column): c.block for c in cells}
    for (row, column), own in block.items():
        x, y = left + column * side, top + row * side
        if block.get((row, column + 1), own) != own:
            axes.plot([x, x], [y - side, y], color=INK, linewidth=2.2)
        if block.get((row + 1, column), own) != own:
            axes.plot([x - side, x], [y, y], color=INK, linewidth=2.2)
