"""What the line below the caption tells and for how long: long enough to be read, no longer than it is news."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sproutlapse.film.look import MARGIN, SMALL, fitted, font
from sproutlapse.film.told import Happening

Floats = NDArray[np.float64]

# What happened stands for so many seconds of film or hours of photo time, whichever is over first: "watered" must not
# stand over soil that is dry again. Below LEAST_S nobody reads it. Own proposal, looked at in films of 10 to 30 s.
NEWS_S, NEWS_H, LEAST_S = 2.5, 12.0, 1.2
MOST_LINES = 2
BETWEEN = " · "
# Letters are whole pixels high, so that a line may come out so much wider than planned.
SPARE = 0.95


class News:
    """The happenings of a film and when each is told.

    Parameters
    ----------
    happenings
        In time order, hours as in the film's time.
    hours
        Of each film picture.
    span_h
        Hours that a film picture stands for: it reaches half of that beyond its own time.
    fps
        Film pictures a second.
    """

    def __init__(self, happenings: Sequence[Happening], hours: Floats, span_h: float, fps: float) -> None:
        rising = np.maximum.accumulate(hours)
        self._texts = [one.text for one in happenings]
        times = np.array([one.hours for one in happenings], dtype=np.float64)
        self._starts = np.searchsorted(rising, times - span_h / 2 - 1e-9)
        self._read = self._starts + int(np.ceil(LEAST_S * fps))
        old = np.searchsorted(rising, times + NEWS_H, side="right")
        self._ends = np.maximum(np.minimum(self._starts + round(NEWS_S * fps), old), self._read)

    def at(self, number: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """What is told in a film picture: what came last, and what came before and could not be read yet."""
        shown = np.flatnonzero((self._starts <= number) & (number < self._ends))
        if not shown.size:
            return (), ()
        newest = self._starts[shown].max()
        last = tuple(self._texts[k] for k in shown if self._starts[k] == newest)
        return last, tuple(self._texts[k] for k in shown if self._starts[k] < newest and number < self._read[k])


def lines_of(last: Sequence[str], before: Sequence[str], width: float, letters: int, most: int) -> list[str]:
    """The lines, each at most `width` pixels wide: whole sentences where they have room, else how many more there are.

    Parameters
    ----------
    last, before
        What came last, and what came before it: that goes first where there is not room for all.
    letters
        Their height, pixels.
    most
        How many lines there may be.
    """
    if not last:
        return []
    for first in range(len(before) + 1):
        lines = wrapped(BETWEEN.join([*before[first:], *last]), letters, width)
        if len(lines) <= most:
            return lines
    for count in range(len(last) - 1, 0, -1):
        lines = wrapped(BETWEEN.join([*last[:count], f"and {len(last) - count} more"]), letters, width)
        if len(lines) <= most:
            return lines
    lines = wrapped(last[0], letters, width)
    return [*lines[: most - 1], fitted(" ".join(lines[most - 1 :]), letters, width)]


def wrapped(text: str, letters: int, width: float) -> list[str]:
    """A text in lines at most `width` pixels wide, broken between words; a word that is wider is cut."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and font(letters).getlength(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(fitted(word, letters, width))
    return [line.removesuffix(BETWEEN.rstrip()) for line in lines]


def lines_needed(happenings: Sequence[Happening], span_h: float) -> int:
    """How many lines a film of any size needs to tell each of these, those of one picture together: 1 or 2."""
    width = 1000.0
    room, letters = SPARE * width * (1 - 2 * MARGIN), round(width * SMALL)
    together: list[str] = []
    since = -np.inf
    for one in happenings:
        together = [*together, one.text] if one.hours - since < span_h else [one.text]
        since = since if len(together) > 1 else one.hours
        if font(letters).getlength(BETWEEN.join(together)) > room:
            return MOST_LINES
    return 1
