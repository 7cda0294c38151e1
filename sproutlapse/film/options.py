"""What can be asked of a film, and what is said of it when it is done."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Literal

from sproutlapse.errors import ResultsError

Gaps = Literal["skip", "hold"]
FPS_RANGE = (1.0, 60.0)
HEIGHT_RANGE = (120, 2160)
LONGEST_S = 24 * 3600.0


@dataclass(frozen=True)
class FilmOptions:
    """How the film is to be.

    Attributes
    ----------
    fps
        Film pictures a second, 1 to 60, constant over the film.
    seconds
        Length of the film in seconds; photos are then repeated or passed over evenly. None: one picture a photo.
    height_px
        Height of the film in pixels, caption included, 120 to 2160; never enlarged beyond the photos. None: up to 1080.
    caption
        Whether date and day number stand in a band below the picture.
    day_zero
        The date that counts as day 0, such as the day of sowing. None: the first photo shown is on day 1.
    gaps
        "skip" joins the photos directly; "hold" keeps a picture standing while photos are missing, dark or bad, so that
        every film picture stands for the same span of time.
    steady, even
        Whether a bumped camera and changes of light are undone.
    """

    fps: float = 24.0
    seconds: float | None = None
    height_px: int | None = None
    caption: bool = True
    day_zero: date | None = None
    gaps: Gaps = "skip"
    steady: bool = True
    even: bool = True

    def __post_init__(self) -> None:
        _within("film pictures a second", self.fps, FPS_RANGE)
        if self.seconds is not None:
            _within("length of the film in seconds", self.seconds, (1.0 / self.fps, LONGEST_S))
        if self.height_px is not None:
            _within("height of the film in pixels", self.height_px, HEIGHT_RANGE)
        if self.gaps not in ("skip", "hold"):
            raise ResultsError(f'gaps can be "skip" or "hold", not "{self.gaps}"', remedy="choose one of the two")


def _within(name: str, value: float, limits: tuple[float, float]) -> None:
    low, high = limits
    if not (math.isfinite(value) and low <= value <= high):
        raise ResultsError(f"the {name} cannot be {value:g}", remedy=f"give a number from {low:g} to {high:g}")


@dataclass(frozen=True)
class FilmSummary:
    """The finished film.

    Attributes
    ----------
    path
        The MP4 file.
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
    """

    path: Path
    frames: int
    seconds: float
    width: int
    height: int
    sentence: str
    notes: tuple[str, ...] = ()
