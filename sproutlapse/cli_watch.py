"""What a person types to watch a folder as it grows."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

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

# ruff: noqa: PLC0415, PLR0917 - imports stand inside the command, and it has as many parameters as options


def watch(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="The folder that photos arrive in; may be empty.")],
    tray: Tray = None,
    out: Out = None,
    masks: Masks = False,
    no_film: NoFilm = False,
    no_report: NoReport = False,
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
    workers: Workers = None,
    cluster: Cluster = None,
    begins: Begins = None,
    every: Every = None,
    quiet: Quiet = False,
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
