"""What can be asked of a film, and what is said of it when it is done."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Literal, get_args

from sproutlapse.errors import ResultsError
from sproutlapse.results import DiaryEntry

Gaps = Literal["hold", "blend"]
Night = Literal["skip", "hold", "show"]
Start = Literal["first photo", "emergence"]
Shape = Literal["source", "16:9", "9:16", "1:1"]
Kind = Literal["mp4", "webp", "gif"]
Step = Literal["age", "date"]
FPS_RANGE = (1.0, 60.0)
HEIGHT_RANGE = (120, 2160)
LONGEST_S = 24 * 3600.0
# A day of the film's count ("5") or of the calendar, with or without the time.
DAY_NUMBER = re.compile(r"[+-]?\d{1,4}")


@dataclass(frozen=True)
class Note:
    """A grower's own words about a moment."""

    when: datetime
    text: str


@dataclass(frozen=True)
class FilmOptions:
    """How the film is to be.

    Attributes
    ----------
    fps
        Film pictures a second, 1 to 60, constant over the film.
    seconds
        Length of the film in seconds; every film picture still stands for the same span of time. None: one picture a
        photo, or a few where that would make less than 8 seconds.
    height_px
        Height of the film in pixels, caption included, 120 to 2160; never enlarged beyond the photos. None: up to 1080.
    caption
        Whether date and day number stand in a band below the picture.
    day_zero
        The date that counts as day 0, such as the day of sowing. None: the first photo is on day 1.
    day_words
        What is said beside the day, such as "since first sowing" where there were several.
    gaps
        Where photos are missing or bad: "hold" keeps the picture standing, "blend" leads over from the photo before the
        gap to the one after it. Either way the caption says so.
    night
        "skip" leaves the time without light out, "hold" keeps the last picture by light standing, "show" shows the dark
        photos, dimmed.
    smooth
        Lead over from photo to photo everywhere, not only in gaps.
    calm
        One hour of the day only, each day led over to the next, so that leaves that fold daily do not pulse.
    since, until
        The part to show: a date, a date with time, or a day number as in the caption; None: first to last.
    start_at
        "emergence" starts shortly before the first plant came up.
    steady, even
        Whether a bumped camera and changes of light are undone.
    heights, outlines, curve, moments
        Height marks beside the plants, outlines around them, a growth curve and a line that tells what happened.
    notes
        The grower's own notes, told as moments.
    title
        Words of a title card before the film.
    end_card
        Whether a card with the figures stands at the end.
    plants
        Plants to follow closely, side by side if several.
    in_step
        Several trays or plants run in step by their "age" since they came up, or by "date".
    shape
        Shape of the film; plants are never cut off for it.
    kind
        "mp4", or "webp" or "gif" for chats.
    then_and_now
        Whether one picture with the first and the last photo is written, too.
    """

    fps: float = 24.0
    seconds: float | None = None
    height_px: int | None = None
    caption: bool = True
    day_zero: date | None = None
    day_words: str = ""
    gaps: Gaps = "hold"
    night: Night = "skip"
    smooth: bool = False
    calm: bool = False
    since: str | None = None
    until: str | None = None
    start_at: Start = "first photo"
    steady: bool = True
    even: bool = True
    heights: bool = False
    outlines: bool = False
    curve: bool = False
    moments: bool = False
    notes: tuple[Note, ...] = ()
    title: str = ""
    end_card: bool = False
    plants: tuple[str, ...] = ()
    in_step: Step = "age"
    shape: Shape = "source"
    kind: Kind = "mp4"
    then_and_now: bool = False

    def __post_init__(self) -> None:
        _within("film pictures a second", self.fps, FPS_RANGE)
        if self.seconds is not None:
            _within("length of the film in seconds", self.seconds, (1.0 / self.fps, LONGEST_S))
        if self.height_px is not None:
            _within("height of the film in pixels", self.height_px, HEIGHT_RANGE)
        for name, value, kinds in (
            ("gaps", self.gaps, Gaps),
            ("night", self.night, Night),
            ("shape", self.shape, Shape),
            ("format", self.kind, Kind),
            ("in step", self.in_step, Step),
        ):
            _one_of(name, value, get_args(kinds))
        for text in (self.since, self.until):
            if text is not None:
                moment_of(text)
        self._no_contradiction()

    def _no_contradiction(self) -> None:
        if self.calm and self.night == "show":
            raise ResultsError(
                "calm shows one hour of each day, so it has no night to show", remedy="leave out --calm or --night show"
            )
        if self.start_at == "emergence" and self.since is not None:
            raise ResultsError("the film cannot start at two places", remedy="leave out --from or --start-at emergence")
        if self.kind == "gif" and self.fps > GIF_FPS:
            raise ResultsError(
                f"a GIF cannot show {self.fps:g} pictures a second",
                remedy=f"ask for {GIF_FPS:g} or fewer, or take --format webp",
            )


# Browsers slow down a GIF whose pictures stand for less than 2 hundredths of a second.
GIF_FPS = 50.0


def moment_of(text: str, *, end: bool = False) -> datetime | int:
    """A date, a date with time, or a day number, as a person types it.

    Parameters
    ----------
    text
        "2026-03-05", "2026-03-05 14:00", "2026-03-05T14:00" or "5".
    end
        Whether a date without time means the end of that day.

    Raises
    ------
    ResultsError
        If it is none of these.
    """
    word = text.strip()
    if DAY_NUMBER.fullmatch(word):
        return int(word)
    try:
        when = datetime.fromisoformat(word).replace(tzinfo=None)
    except ValueError:
        raise ResultsError(
            f'"{text}" is no date', remedy='write a date as 2026-03-05, with time as "2026-03-05 14:00", or a day as 5'
        ) from None
    return when + timedelta(days=1) if end and len(word) <= len("2026-03-05") else when


def note_of(text: str) -> Note:
    """A note as typed: "2026-03-05 potted on", "2026-03-05 14:00 potted on" or "2026-03-05T14:00 potted on".

    Raises
    ------
    ResultsError
        If it does not begin with a date, or says nothing.
    """
    found = re.fullmatch(r"\s*(\d{4}-\d{2}-\d{2}(?:[T ]\d{1,2}:\d{2})?)[\s:,=]+(\S.*?)\s*", text)
    if found is None:
        raise ResultsError(f'the note "{text}" does not begin with a date', remedy='write it as "2026-03-05 potted on"')
    when = moment_of(found[1])
    assert isinstance(when, datetime)
    return Note(when, found[2])


def with_diary(options: FilmOptions, diary: Sequence[DiaryEntry]) -> FilmOptions:
    """The options with the diary's notes, where the film tells moments; those on the command line stay."""
    if not options.moments:
        return options
    own = tuple(Note(datetime.fromisoformat(e.time).replace(tzinfo=None), e.text) for e in diary if e.kind == "note")
    return replace(options, notes=(*own, *options.notes))


def _within(name: str, value: float, limits: tuple[float, float]) -> None:
    low, high = limits
    if not (math.isfinite(value) and low <= value <= high):
        raise ResultsError(f"the {name} cannot be {value:g}", remedy=f"give a number from {low:g} to {high:g}")


def _one_of(name: str, value: str, kinds: tuple[str, ...]) -> None:
    if value not in kinds:
        said = ", ".join(f'"{kind}"' for kind in kinds[:-1]) + f' or "{kinds[-1]}"'
        raise ResultsError(f'{name} can be {said}, not "{value}"', remedy="choose one of these")


@dataclass(frozen=True)
class FilmSummary:
    """The finished film.

    Attributes
    ----------
    path
        The film's file.
    frames
        Pictures in the film.
    seconds
        Its length, seconds.
    width, height
        Its size, pixels.
    sentence
        How long it is and why, in plain words.
    notes
        What a person should know about this film, in plain words.
    beside
        Further files written with it: subtitles, poster.
    """

    path: Path
    frames: int
    seconds: float
    width: int
    height: int
    sentence: str
    notes: tuple[str, ...] = ()
    beside: tuple[Path, ...] = ()
