"""What a person types to have photos measured: those of one folder, or of all trays of a season."""

from __future__ import annotations

from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from sproutlapse.cli_options import (
    Begins,
    Cluster,
    Every,
    Masks,
    NoFilm,
    NoReport,
    Out,
    Quiet,
    Tray,
    Workers,
)  # fmt: skip
from sproutlapse.plainly import plainly
from sproutlapse.progress import progress_for
from sproutlapse.spent import noting, part, table

if TYPE_CHECKING:
    from sproutlapse.work.crew import Crew

# ruff: noqa: PLC0415, PLR0917 - imports stand inside the command, and it has as many parameters as options

Folder = Annotated[
    Path | None, typer.Argument(metavar="FOLDER", help="The folder with the photos, a film, or --all ROOT.")
]
All = Annotated[
    Path | None,
    typer.Option("--all", metavar="ROOT", help="Every folder below ROOT with photos and a tray.toml, in one go."),
]
Timings = Annotated[bool, typer.Option("--timings", help="Print at the end where the time went.")]


def run(
    folder: Folder = None,
    season: All = None,
    tray: Tray = None,
    out: Out = None,
    masks: Masks = False,
    no_film: NoFilm = False,
    no_report: NoReport = False,
    workers: Workers = None,
    cluster: Cluster = None,
    timings: Timings = False,
    begins: Begins = None,
    every: Every = None,
    quiet: Quiet = False,
) -> None:
    """Measure the photos: tables, report and film.

    Run it again on a folder that grew: only new photos are measured. With --all: every tray below ROOT, and a page over
    all of them.
    """
    if (folder is None) == (season is None):
        raise typer.BadParameter("name a FOLDER, or the folder above all trays with --all")
    if season is not None:
        _of_one_folder(tray=tray is not None, timings=timings, film=begins is not None or every is not None)
    if workers is not None and cluster is not None:
        raise typer.BadParameter("--workers is for this machine, --cluster for others: give one of them")
    with plainly(), noting(timings) as spent:
        with part("start"):
            from sproutlapse.frames.reel_times import film_times
            from sproutlapse.job import run_job
            from sproutlapse.work.cluster import joined

        made = {"masks": masks, "film": not no_film, "report": not no_report}
        with joined(cluster) if cluster else nullcontext() as crew:
            if season is not None:
                _all_trays(season, out, made, workers, crew, quiet=quiet)
            assert folder is not None
            summary = run_job(
                folder, film_times=film_times(begins, every), tray_path=tray, out=out, **made, workers=workers,
                progress=progress_for(quiet=quiet), crew=crew,
            )  # fmt: skip
        if not quiet:
            print("\n".join(summary.lines), flush=True)
        if timings:
            print("\n".join(["", *table(spent, spent.whole(), summary.photos)]), flush=True)


def _of_one_folder(*, tray: bool, timings: bool, film: bool) -> None:
    """Refuse with --all what makes sense of one folder only."""
    if tray:
        raise typer.BadParameter("--tray goes with one FOLDER; with --all each tray has its own tray.toml")
    if timings:
        raise typer.BadParameter("--timings goes with one FOLDER: several trays are worked on at once")
    if film:
        raise typer.BadParameter("--begins and --every go with one film, not with --all")


def _all_trays(
    season: Path, out: Path | None, made: dict[str, bool], workers: int | None, crew: Crew | None, *, quiet: bool
) -> NoReturn:
    """All trays below a folder; 1 is the exit status if one of them failed."""
    from sproutlapse.job_season import Wanted, season_job

    told = season_job(
        season, out=out, wanted=Wanted(**made), workers=workers, progress=progress_for(quiet=quiet), crew=crew
    )
    if not quiet:
        print("\n".join(told.lines), flush=True)
    raise SystemExit(1 if told.failed else 0)
