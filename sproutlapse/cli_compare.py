"""The commands `compare`, `sheets` and `plan`: which did better, who must be shown it, and how to sow so that it can be
told."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from sproutlapse.cli_options import Quiet
from sproutlapse.plainly import plainly
from sproutlapse.progress import progress_for

# ruff: noqa: PLC0415, PLR0917 - imports stand inside the commands, and a command has as many parameters as options


class By(StrEnum):
    """What groups are named by."""

    SOWING = "sowing"
    CROP = "crop"
    VARIETY = "variety"
    LOT = "lot"
    LAMP = "lamp"
    PLACE = "place"
    TRAY = "tray"


class SheetBy(StrEnum):
    """What a sheet is for."""

    SOWING = "sowing"
    LOT = "lot"


class Paper(StrEnum):
    """Sheets that a plan is printed on."""

    A4 = "a4"
    LETTER = "letter"


Several = Annotated[list[Path], typer.Argument(metavar="RESULTS", help="Results folders that `run` made.")]


def compare(
    results: Several,
    by: Annotated[By, typer.Option(help="What the groups are named by in tray.toml.")] = By.SOWING,
    crop: Annotated[str | None, typer.Option(metavar="NAME", help="Only this crop.", show_default="all")] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Where page, tables and charts go.", show_default="compare-BY in RESULTS"),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Tell which did better, and whether that may be chance.

    Compares counts, days and sizes within one tray or over several. Where lot and lamp, place or tray cannot be told
    apart, that is said, and nothing is claimed.
    """
    with plainly():
        from sproutlapse.job_compare import compare_job

        _tell(compare_job(results, by=by.value, crop=crop, out=out, progress=progress_for(quiet=quiet)), quiet)


def sheets(
    results: Several,
    by: Annotated[SheetBy, typer.Option(help="A page for each sowing, or for each lot.")] = SheetBy.SOWING,
    csv: Annotated[bool, typer.Option("--csv", help="Also all its figures as tables.")] = False,
    out: Annotated[
        Path | None, typer.Option(metavar="DIR", help="Where the pages go.", show_default="sheets in RESULTS")
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Write a page for each sowing or lot to show others.

    Each holds the counts, the curve, and of each seedling the photo before and the photo that shows it.
    """
    with plainly():
        from sproutlapse.job_compare import sheets_job

        _tell(sheets_job(results, by=by.value, out=out, csv=csv, progress=progress_for(quiet=quiet)), quiet)


def plan(
    lots: Annotated[list[str], typer.Argument(metavar="LOT", help="Two or more lots, in your own words.")],
    rows: Annotated[int, typer.Option(min=1, max=40, metavar="N", help="Rows of cells or pots.")] = 1,
    columns: Annotated[int, typer.Option(min=1, max=40, metavar="N", help="Cells or pots in a row.")] = 6,
    seeds: Annotated[int, typer.Option(min=1, max=1000, metavar="N", help="Seeds in each.")] = 1,
    shuffle: Annotated[
        int | None,
        typer.Option(min=0, metavar="N", help="Number of a plan, to make it again.", show_default="a new one"),
    ] = None,
    paper: Annotated[Paper, typer.Option(help="The sheet in the printer.")] = Paper.A4,
    out: Annotated[Path, typer.Option(metavar="FILE", help="The PDF to write; a CSV beside it.")] = Path(
        "sowing-plan.pdf"
    ),
    quiet: Quiet = False,
) -> None:
    """Shuffle lots over a tray before sowing, and tell what the numbers can show.

    Every few cells hold each lot once, in an order left to chance, so that no lot gets the bright side.
    """
    with plainly():
        from sproutlapse.compare.plan import write_plan

        _tell(write_plan(out, lots, rows=rows, columns=columns, seeds=seeds, number=shuffle, paper=paper.value), quiet)


def _tell(lines: list[str], quiet: bool) -> None:
    if not quiet:
        print("\n".join(lines), flush=True)
