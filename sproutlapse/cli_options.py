"""Options that several commands have in common, with their words."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

Tray = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="What stands in view.", show_default="tray.toml in FOLDER, beside a film"),
]
Out = Annotated[
    Path | None,
    typer.Option(metavar="RESULTS", help="Where results go.", show_default="FOLDER-results beside FOLDER"),
]
Masks = Annotated[bool, typer.Option("--masks", help="Write a picture of what was taken for plant, too.")]
NoFilm = Annotated[bool, typer.Option("--no-film", help="Make no film.")]
NoReport = Annotated[bool, typer.Option("--no-report", help="Make no report and no charts.")]
Workers = Annotated[
    int | None, typer.Option(min=1, metavar="N", help="Processor cores to use.", show_default="all there are")
]
Cluster = Annotated[
    str | None,
    typer.Option(metavar="ADDRESS", help="Measure on the workers of this Dask scheduler: tcp://HOST:8786."),
]
Begins = Annotated[
    str | None,
    typer.Option(
        metavar="TIME",
        help='Of a film: when its first frame was taken, "2026-03-01 09:00".',
        show_default="its own date",
    ),
]
Every = Annotated[
    float | None, typer.Option(min=0.001, metavar="MINUTES", help="Of a film: minutes from frame to frame.")
]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Say nothing but errors.")]
