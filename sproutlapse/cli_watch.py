"""What a person types to watch a folder as it grows."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sproutlapse.plainly import plainly

# ruff: noqa: PLC0415, PLR0917 - imports stand inside the command, and it has as many parameters as options


def watch(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="The folder that photos arrive in; may be empty.")],
    tray: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="What stands in view.", show_default="FOLDER/tray.toml if it is there"),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="RESULTS", help="Where results go.", show_default="FOLDER-results beside FOLDER"),
    ] = None,
    masks: Annotated[bool, typer.Option("--masks", help="Write a picture of what was taken for plant, too.")] = False,
    no_film: Annotated[bool, typer.Option("--no-film", help="Make no film.")] = False,
    no_report: Annotated[bool, typer.Option("--no-report", help="Make no report and no charts.")] = False,
    notify: Annotated[
        list[str] | None,
        typer.Option(
            metavar="URL", envvar="SPROUTLAPSE_NOTIFY",
            help="Send what is new to this address, such as mailto://... or ntfy://...; may come again.",
            show_default=False,
        ),
    ] = None,
    command: Annotated[
        str | None,
        typer.Option("--exec", metavar="COMMAND", help="Run this with what is new, as JSON on its standard input."),
    ] = None,
    night: Annotated[
        str | None,
        typer.Option(metavar="HOURS", help="Send nothing in these hours, but after them: 22:00-07:00."),
    ] = None,
    workers: Annotated[
        int | None, typer.Option(min=1, metavar="N", help="Processor cores to use.", show_default="all there are")
    ] = None,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help="Measure on the workers of this Dask scheduler: tcp://HOST:8786."),
    ] = None,
    begins: Annotated[
        str | None,
        typer.Option(
            metavar="TIME", help='Of a film: when its first frame was taken, "2026-03-01 09:00".',
            show_default="its own date",
        ),
    ] = None,
    every: Annotated[
        float | None, typer.Option(min=0.001, metavar="MINUTES", help="Of a film: minutes from frame to frame.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Say nothing but errors.")] = False,
) -> None:  # fmt: skip
    """Watch a folder while photos arrive: each is measured as it comes.

    Tables, report and film are kept as `run` would write them. Ctrl-C ends it; start it again at any time.
    """
    if workers is not None and cluster is not None:
        raise typer.BadParameter("--workers is for this machine, --cluster for others: give one of them")
    with plainly():
        from sproutlapse.frames.reel_times import film_times
        from sproutlapse.job_watch import Wishes, watch_job
        from sproutlapse.watch.night import read_night
        from sproutlapse.watch.post import Asked
        from sproutlapse.work.cluster import joined
        from sproutlapse.work.crew import LocalCrew

        hours = read_night(night) if night is not None else None
        wishes = Wishes(not no_film, not no_report, Asked(tuple(notify or ()), command), hours, quiet)
        watch_job(
            folder, tray_path=tray, out=out, masks=masks, crew=joined(cluster) if cluster else LocalCrew(workers),
            wishes=wishes, film_times=film_times(begins, every),
        )  # fmt: skip
