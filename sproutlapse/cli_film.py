"""The command `film`: its many options, each off unless asked, except the caption."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from sproutlapse.cli_options import Quiet
from sproutlapse.plainly import plainly
from sproutlapse.progress import progress_for

# ruff: noqa: PLC0415, PLR0917 - imports stand inside the command, and it has as many parameters as options


class Gaps(StrEnum):
    """What the film does where photos are missing."""

    HOLD = "hold"
    BLEND = "blend"


class Night(StrEnum):
    """What the film does where the lamps were off."""

    SKIP = "skip"
    HOLD = "hold"
    SHOW = "show"


class StartAt(StrEnum):
    """Where the film starts."""

    FIRST_PHOTO = "first-photo"
    EMERGENCE = "emergence"


class Shape(StrEnum):
    """The film's width to its height."""

    SOURCE = "source"
    WIDE = "16:9"
    UPRIGHT = "9:16"
    SQUARE = "1:1"


class Kind(StrEnum):
    """The film's file."""

    MP4 = "mp4"
    WEBP = "webp"
    GIF = "gif"


class InStep(StrEnum):
    """How several run in step."""

    AGE = "age"
    DATE = "date"


# For chats: small enough to be sent, and a rate whose pictures stand for whole hundredths of a second.
CHAT_FPS, CHAT_HEIGHT = 12.5, {Kind.WEBP: 480, Kind.GIF: 360}


def film(
    results: Annotated[
        list[Path],
        typer.Argument(metavar="RESULTS", help="The results folder that `run` made; several: side by side."),
    ],
    fps: Annotated[
        float | None, typer.Option(metavar="N", help="Pictures a second, 1 to 60.", show_default="24; 12.5 for chats")
    ] = None,
    seconds: Annotated[
        float | None,
        typer.Option(
            metavar="S", help="Length of the film, s.", show_default="a picture a photo, at least 8 s if it can"
        ),
    ] = None,
    since: Annotated[
        str | None, typer.Option("--from", metavar="DATE", help='First day or time: 2026-03-05, "2026-03-05 14:00", 5.')
    ] = None,
    until: Annotated[str | None, typer.Option("--to", metavar="DATE", help="Last day or time, included.")] = None,
    start_at: Annotated[StartAt, typer.Option(help="Where the film starts.")] = StartAt.FIRST_PHOTO,
    gaps: Annotated[Gaps, typer.Option(help="Where photos are missing: hold the picture, or lead over.")] = Gaps.HOLD,
    night: Annotated[
        Night, typer.Option(help="Time without light: leave out, hold the last picture, or show it dim.")
    ] = Night.SKIP,
    smooth: Annotated[bool, typer.Option("--smooth", help="Lead over from photo to photo everywhere.")] = False,
    calm: Annotated[
        bool, typer.Option("--calm", help="One hour of each day only, so that leaves do not pulse.")
    ] = False,
    heights: Annotated[
        bool, typer.Option("--heights", help="A millimetre scale beside each plant, where a scale is known.")
    ] = False,
    outlines: Annotated[
        bool, typer.Option("--outlines", help="A line around each plant from its sprouting on.")
    ] = False,
    curve: Annotated[bool, typer.Option("--curve", help="A growth curve that draws itself.")] = False,
    moments: Annotated[bool, typer.Option("--moments", help="What happened, as a line of words.")] = False,
    note: Annotated[
        list[str] | None, typer.Option(metavar="NOTE", help='A note of yours: "2026-03-05 potted on"; may come again.')
    ] = None,
    title: Annotated[str, typer.Option(metavar="WORDS", help="A title card first.", show_default=False)] = "",
    end_card: Annotated[bool, typer.Option("--end-card", help="A card with the figures last.")] = False,
    plant: Annotated[
        list[str] | None, typer.Option(metavar="NAME", help="Follow this plant closely; several: side by side.")
    ] = None,
    in_step: Annotated[
        InStep, typer.Option(help="Several run in step by age since they came up, or by date.")
    ] = InStep.AGE,
    no_caption: Annotated[bool, typer.Option("--no-caption", help="No date and day below the picture.")] = False,
    then_and_now: Annotated[
        bool,
        typer.Option(
            "--then-and-now",
            help="Also one picture of the first and the last photo, with a rule in mm where a scale is known.",
        ),
    ] = False,
    height: Annotated[
        int | None,
        typer.Option(metavar="PX", help="Height of the film, pixels.", show_default="up to 1080; less for chats"),
    ] = None,
    shape: Annotated[Shape, typer.Option(help="Shape of the film; no plant is cut off for it.")] = Shape.SOURCE,
    kind: Annotated[Kind, typer.Option("--format", help="A film, or a moving picture for chats.")] = Kind.MP4,
    quiet: Quiet = False,
) -> None:
    """Make the film again, without measuring.

    Several RESULTS, or several --plant, stand side by side. The film is written to the first RESULTS; of several
    RESULTS as film-together.mp4, of --plant A as film-A.mp4, so that the whole tray keeps its own.
    """
    with plainly():
        from sproutlapse.film.options import FilmOptions, note_of
        from sproutlapse.job import film_job

        chat = kind is not Kind.MP4
        options = FilmOptions(
            fps=fps if fps is not None else (CHAT_FPS if chat else 24.0),
            seconds=seconds,
            height_px=height if height is not None else CHAT_HEIGHT.get(kind),
            caption=not no_caption,
            gaps=gaps.value,
            night=night.value,
            smooth=smooth,
            calm=calm,
            since=since,
            until=until,
            start_at="emergence" if start_at is StartAt.EMERGENCE else "first photo",
            heights=heights,
            outlines=outlines,
            curve=curve,
            moments=moments,
            notes=tuple(note_of(text) for text in note or ()),
            title=title,
            end_card=end_card,
            plants=tuple(plant or ()),
            in_step=in_step.value,
            shape=shape.value,
            kind=kind.value,
            then_and_now=then_and_now,
        )
        summary = film_job(results[0], options=options, progress=progress_for(quiet=quiet), beside=results[1:])
        if not quiet:
            print("\n".join(summary.lines), flush=True)
