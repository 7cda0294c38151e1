"""The caption: a quiet band below the picture with the day, the date, and a line that grows with time.

It stands below and not over the picture, so that it never hides a plant or a pot.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

import matplotlib
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

# As shares of the film's width: at 360 pixels (a phone in the hand) the letters are still 14 pixels high.
BAND = 0.068
LETTERS = 0.040
MARGIN = 0.022
LINE = 0.006

GROUND = (27, 38, 33)
STRONG = (244, 241, 231)
QUIET = (178, 190, 180)
GROWN = (139, 190, 104)
TO_COME = (55, 69, 61)


@cache
def _font(size: int, weight: str) -> ImageFont.FreeTypeFont:
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return ImageFont.truetype(str(folder / f"DejaVuSans{weight}.ttf"), size)


@dataclass(frozen=True)
class Band:
    """The caption's band, `width` by `height` pixels."""

    width: int
    height: int

    def drawn(self, day: str, moment: str, progress: float) -> NDArray[np.uint8]:
        """The band with its words.

        Parameters
        ----------
        day, moment
            Left and right text, such as "Day 12" and "14 Mar 2025, 14:10".
        progress
            0 to 1, how far the line above the words has grown.

        Returns
        -------
        (height, width, 3) uint8
        """
        picture = Image.new("RGB", (self.width, self.height), GROUND)
        draw = ImageDraw.Draw(picture)
        line = max(2, round(self.width * LINE / 2) * 2)
        draw.rectangle((0, 0, self.width, line - 1), fill=TO_COME)
        draw.rectangle((0, 0, max(line, round(progress * self.width)) - 1, line - 1), fill=GROWN)
        margin = round(self.width * MARGIN)
        letters = max(8, round(self.width * LETTERS))
        middle = line + (self.height - line) / 2
        draw.text((margin, middle), day, font=_font(letters, "-Bold"), fill=STRONG, anchor="lm")
        draw.text((self.width - margin, middle), moment, font=_font(letters, ""), fill=QUIET, anchor="rm")
        return np.asarray(picture, dtype=np.uint8)
