"""The caption: a quiet band below the picture with the day, the date, and a line that grows with time.

It stands below and not over the picture, so that it never hides a plant or a pot.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from sproutlapse.film.look import GROUND, GROWN, LETTERS, MARGIN, QUIET, SMALL, STRONG, TO_COME, fitted, font
from sproutlapse.film.news import MOST_LINES, lines_of

# As shares of the film's width.
BAND = 0.068
STRIP = 0.056
STRIP_MORE = 0.044  # a second line
LINE = 0.006


@dataclass(frozen=True)
class Band:
    """The caption's band, `width` by `height` pixels."""

    width: int
    height: int

    def drawn(
        self,
        day: str,
        moment: str,
        progress: float,
        mark: str = "",
        ticks: Sequence[float] = (),
        *,
        since: str = "",
    ) -> NDArray[np.uint8]:
        """The band with its words.

        Parameters
        ----------
        day, moment
            Left and right text, such as "Day 12" and "14 Mar 2025, 14:10".
        progress
            0 to 1, how far the line above the words has grown.
        mark
            What is to be said of a picture that is no photo of this time, such as "held".
        ticks
            0 to 1, where on the line something happened.
        since
            What the day counts from, beside it in small letters where nothing else has to be said; may be nothing.

        Returns
        -------
        (height, width, 3) uint8
        """
        picture = Image.new("RGB", (self.width, self.height), GROUND)
        draw = ImageDraw.Draw(picture)
        line = max(2, round(self.width * LINE / 2) * 2)
        draw.rectangle((0, 0, self.width, line - 1), fill=TO_COME)
        draw.rectangle((0, 0, max(line, round(progress * self.width)) - 1, line - 1), fill=GROWN)
        for tick in ticks:
            at = round(tick * (self.width - line))
            draw.rectangle((at, 0, at + line - 1, line - 1), fill=STRONG if tick <= progress else QUIET)
        margin = round(self.width * MARGIN)
        letters = max(8, round(self.width * LETTERS))
        middle = line + (self.height - line) / 2
        draw.text((margin, middle), day, font=font(letters, "-Bold"), fill=STRONG, anchor="lm")
        draw.text((self.width - margin, middle), moment, font=font(letters), fill=QUIET, anchor="rm")
        left = margin + font(letters, "-Bold").getlength(day)
        right = self.width - margin - font(letters).getlength(moment)
        small = max(8, round(self.width * SMALL))
        if mark:
            draw.text(((left + right) / 2, middle), mark, font=font(small), fill=GROWN, anchor="mm")
        elif since:
            small = next(
                (size for size in range(small, 7, -1) if font(size).getlength(since) < right - left - small), 8
            )
            draw.text((left + 0.4 * small, middle), since, font=font(small), fill=QUIET, anchor="lm")
        return np.asarray(picture, dtype=np.uint8)


def strip(width: int, height: int, last: Sequence[str], before: Sequence[str] = ()) -> NDArray[np.uint8]:
    """What happened last, and before it what is still news, in as many lines as have room; (height, width, 3) uint8."""
    picture = Image.new("RGB", (width, height), GROUND)
    letters = max(8, round(width * SMALL))
    margin = round(width * MARGIN)
    most = MOST_LINES if height > (STRIP + 0.5 * STRIP_MORE) * width else 1
    for number, words in enumerate(lines_of(last, before, width - 2 * margin, letters, most)):
        place = (margin, (0.42 * STRIP + number * STRIP_MORE) * width)
        ImageDraw.Draw(picture).text(place, words, font=font(letters), fill=GROWN, anchor="lm")
    return np.asarray(picture, dtype=np.uint8)


def header(
    widths: Sequence[int], gap: int, height: int, names: Sequence[str], asides: Sequence[str]
) -> NDArray[np.uint8]:
    """A line above pictures that stand side by side: the name of each, and what is said of it, which is never cut.

    Returns
    -------
    (height, sum, 3) uint8
    """
    width = sum(widths) + gap * (len(widths) - 1)
    picture = Image.new("RGB", (width, height), GROUND)
    draw = ImageDraw.Draw(picture)
    letters = max(8, round(width * SMALL))
    at = 0
    for own, name, aside in zip(widths, names, asides, strict=True):
        beside = font(letters).getlength(aside)
        words = fitted(name, letters, own - 8 - beside, "-Bold")
        left = at + (own - beside - font(letters, "-Bold").getlength(words)) / 2
        draw.text((left, height / 2), words, font=font(letters, "-Bold"), fill=STRONG, anchor="lm")
        left += font(letters, "-Bold").getlength(words)
        draw.text((left, height / 2), aside, font=font(letters), fill=QUIET, anchor="lm")
        at += own + gap
    return np.asarray(picture, dtype=np.uint8)
