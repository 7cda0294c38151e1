"""Colours of charts and outlines: told apart by people with any kind of colour sight, on light and on dark paper."""

from __future__ import annotations

from typing import Final

INK: Final = "#2b2a26"
RULE: Final = "#cfc8b6"
PAPER: Final = "#fbf8f0"
# Okabe and Ito, "Color Universal Design", 2008: blue, vermilion, bluish green, reddish purple, orange, sky blue.
SERIES: Final = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9")
# The same hues, lighter, for lines on dark paper.
SERIES_DARK: Final = ("#5cb3ea", "#f28a45", "#3fc89c", "#e3a3c6", "#f0b840", "#9ad4f7")
# Never colour alone: each line has its own dashes and marker too.
DASHES: Final = ("solid", (0, (6, 2)), (0, (1.5, 1.5)), (0, (6, 2, 1.5, 2)), (0, (3, 1.5)), (0, (8, 2, 1, 2, 1, 2)))
MARKERS: Final = ("o", "s", "^", "D", "v", "X")


def rgb_of(colour: str) -> tuple[int, int, int]:
    """(red, green, blue) 0..255 of `#rrggbb`."""
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)
