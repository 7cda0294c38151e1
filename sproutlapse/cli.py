"""What a person types: each command reads its options, has the job done, and prints where the results are.

Everything heavy is imported inside the commands, so that `--help` answers at once.
"""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from sproutlapse import __version__
from sproutlapse.cli_compare import compare, plan, sheets
from sproutlapse.cli_film import film
from sproutlapse.cli_options import Begins, Quiet, Workers
from sproutlapse.cli_run import run
from sproutlapse.cli_watch import watch
from sproutlapse.plainly import EXIT_CODES, plainly
from sproutlapse.progress import progress_for

# ruff: noqa: PLC0415, PLR0917 - imports stand inside the commands, and a command has as many parameters as options


def _exit_codes() -> str:
    # \b keeps the lines as they stand; without it they are filled into one paragraph.
    return "\b\nExit status:\n" + "\n".join(f"{code:4d}  {meaning}" for code, meaning in EXIT_CODES.items())


app = typer.Typer(
    name="sproutlapse",
    help="Measure the seedlings in a folder of interval photos: when each came up, how tall it stands, which ones "
    "stretch, what to do today; with a page to read and a growth film.",
    epilog=_exit_codes(),
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["--help", "-h"]},
)


class Paper(StrEnum):
    """Sheets that the printed mark fits on."""

    A4 = "a4"
    LETTER = "letter"


Folder = Annotated[
    Path, typer.Argument(metavar="FOLDER", help="The folder with the photos, as the camera left it, or a film.")
]
Results = Annotated[Path, typer.Argument(metavar="RESULTS", help="The results folder that `run` made.")]


def _version(wanted: bool) -> None:
    if wanted:
        print(f"sproutlapse {__version__}")
        raise typer.Exit


@app.callback()
def _every_command(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Options that stand before any command."""


app.command()(run)


@app.command()
def check(
    folder: Annotated[
        Path | None, typer.Argument(metavar="FOLDER", help="The folder with the photos, a film, or --first PHOTO.")
    ] = None,
    first: Annotated[
        Path | None, typer.Option(metavar="PHOTO", help="Judge this one photo, before the season begins.")
    ] = None,
    tray: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="With --first: what stands in view.", show_default="tray.toml beside it, if there"
        ),
    ] = None,
    row_mm: Annotated[
        float | None,
        typer.Option(min=1, metavar="MM", help="With --first: middle of the first pot to that of the last, mm."),
    ] = None,
    every: Annotated[
        float | None,
        typer.Option(
            min=0.001,
            metavar="HOURS",
            help="With --first: hours from photo to photo. Of a film, as for run: MINUTES from frame to frame.",
        ),
    ] = None,
    begins: Begins = None,
    days: Annotated[float | None, typer.Option(min=0, metavar="N", help="With --first: days to photograph.")] = None,
    card_gb: Annotated[
        float | None, typer.Option(min=0, metavar="GB", help="With --first: free room on the card, GB.")
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Look through the photos without measuring.

    Prints how many there are, from when to when, gaps, and each bad file with its reason. With --first: whether one
    photo will do, and what to mend.
    """
    if (folder is None) == (first is None):
        raise typer.BadParameter("name a FOLDER, or one photo with --first")
    if first is None and any(told is not None for told in (tray, row_mm, days, card_gb)):
        raise typer.BadParameter("--tray, --row-mm, --days and --card-gb go with --first")
    if first is not None and begins is not None:
        raise typer.BadParameter("--begins goes with a film, not with --first")
    with plainly():
        if first is not None:
            from sproutlapse.first.check import check_first
            from sproutlapse.first.season import Plan

            found = check_first(first, tray=tray, plan=Plan(every, days, card_gb), row_mm=row_mm)
            _tell(found.lines, quiet)
            raise SystemExit(0 if found.ok else 1)
        assert folder is not None
        from sproutlapse.frames.reel_times import film_times
        from sproutlapse.job import audit_job

        audit = audit_job(folder, progress=progress_for(quiet=quiet), film_times=film_times(begins, every))
        _tell(audit.lines, quiet)
        if not audit.ok:
            raise SystemExit(1)


@app.command()
def tray(
    folder: Folder,
    out: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Where picture and tray.toml go.", show_default="FOLDER-tray beside FOLDER"),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Draw what is seen, with rulers, and write a tray.toml.

    For trays where places or soil lines are not found rightly: correct the file by hand and run with --tray.
    """
    with plainly():
        from sproutlapse.job_tray_sight import tray_job

        sight = tray_job(folder, out, progress_for(quiet=quiet))
        _tell(sight.lines, quiet)


@app.command()
def card(
    mm: Annotated[
        float | None,
        typer.Option(metavar="MM", help="Side of the black square, mm.", show_default="30; 12 for pots"),
    ] = None,
    pots: Annotated[
        int | None, typer.Option(metavar="N", help="Marks for so many pots instead, which keep their names.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="The PDF to write.", show_default="card.pdf; pot-marks.pdf for pots"),
    ] = None,
    paper: Annotated[Paper, typer.Option(help="The sheet in the printer.")] = Paper.A4,
) -> None:
    """Write the mark to print, which gives the scale.

    It stands among the plants and tells how many millimetres a pixel is.
    """
    with plainly():
        if pots is not None:
            from sproutlapse.card_pots import write_pot_marks

            out = out or Path("pot-marks.pdf")
            write_pot_marks(out, pots, marker_mm=12.0 if mm is None else mm, paper=paper.value)
            print(
                f"The marks are in {out}. Print at 100 %, stick one on each pot, and write its number into tray.toml."
            )
            return
        from sproutlapse.card import write_card

        out = out or Path("card.pdf")
        write_card(out, marker_mm=30.0 if mm is None else mm, paper=paper.value)
        print(f"The mark is in {out}. Print it at 100 %, then measure the black square with a ruler.")


@app.command()
def report(results: Results, quiet: Quiet = False) -> None:
    """Make report and charts again, without measuring."""
    with plainly():
        from sproutlapse.job import report_job

        summary = report_job(results, progress=progress_for(quiet=quiet))
        _tell(summary.lines, quiet)


@app.command()
def explain(
    results: Results,
    plant: Annotated[str, typer.Argument(metavar="PLANT", help="Its name, as in the report.")],
) -> None:
    """Tell the whole story of one plant, with times and numbers."""
    with plainly():
        from sproutlapse.job_explain import explain_job

        _tell(explain_job(results, plant), False)


@app.command()
def note(
    results: Results,
    text: Annotated[str, typer.Argument(metavar="TEXT", help="What photos cannot show.")],
    at: Annotated[
        str | None,
        typer.Option(metavar="TIME", help='2026-03-05 or "2026-03-05 14:00".', show_default="the last photo"),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """Write down what photos cannot show: "fan on, 2 h a day".

    It is kept in diary.csv in RESULTS, and stands on the page, its charts, and in a film with --moments.
    """
    with plainly():
        from sproutlapse.job_diary import note_job

        _tell(note_job(results, text, at=at, progress=progress_for(quiet=quiet)), quiet)


@app.command()
def done(
    results: Results,
    item: Annotated[str, typer.Argument(metavar="ITEM", help="Its short name, as on the page and the terminal.")],
    quiet: Quiet = False,
) -> None:
    """Say that something on the list was done.

    It comes back only if its cause does.
    """
    with plainly():
        from sproutlapse.job_diary import done_job

        _tell(done_job(results, item, progress=progress_for(quiet=quiet)), quiet)


@app.command()
def demo(
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where the example's photos and results go.")] = Path(
        "sproutlapse-demo"
    ),
    workers: Workers = None,
    quiet: Quiet = False,
) -> None:
    """Write the example to a folder and run it."""
    with plainly():
        from sproutlapse.demo import write_demo
        from sproutlapse.job import run_job

        photos = write_demo(out)
        progress = progress_for(quiet=quiet)
        progress.say(f"The example's photos are in {photos}; the same again by hand: sproutlapse run {photos}")
        summary = run_job(
            photos,
            tray_path=None,
            out=None,
            masks=False,
            film=True,
            report=True,
            workers=workers,
            progress=progress,
        )
        _tell(summary.lines, quiet)


app.command()(watch)
app.command()(film)
app.command()(compare)
app.command()(sheets)
app.command()(plan)


def _tell(lines: list[str], quiet: bool) -> None:
    if not quiet:
        print("\n".join(lines), flush=True)


def main() -> None:
    """Entry point of the command `sproutlapse`."""
    for stream in (sys.stdout, sys.stderr):
        # A terminal or pipe that lacks a letter (an arrow, a name of a file) must not end the work.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    with plainly():
        app()
