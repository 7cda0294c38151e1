"""The size of the film: even, never enlarged, and small enough for the H.264 level that common players know."""

from __future__ import annotations

import math
from typing import NamedTuple

MACROBLOCK = 16


class Level(NamedTuple):
    """One H.264 level: its name, and most macroblocks a second and in a picture."""

    name: str
    blocks_per_s: int
    blocks: int


# ITU-T H.264, table A-1 (the rows that a film of photos can meet).
LEVELS = (
    Level("3.0", 40_500, 1_620),
    Level("3.1", 108_000, 3_600),
    Level("3.2", 216_000, 5_120),
    Level("4.0", 245_760, 8_192),
    Level("4.2", 522_240, 8_704),
    Level("5.0", 589_824, 22_080),
    Level("5.1", 983_040, 36_864),
    Level("5.2", 2_073_600, 36_864),
)


def macroblocks(width: int, height: int) -> int:
    """Macroblocks of 16 by 16 pixels that a picture of this size takes."""
    return math.ceil(width / MACROBLOCK) * math.ceil(height / MACROBLOCK)


def lowest_level(width: int, height: int, fps: float) -> str | None:
    """The lowest H.264 level for pictures of this size at this rate, or None if none holds them.

    Besides the two limits of the table no side may be longer than sqrt(8 x most macroblocks) macroblocks
    (ITU-T H.264, A.3.1).
    """
    blocks = macroblocks(width, height)
    longest = math.ceil(max(width, height) / MACROBLOCK)
    for level in LEVELS:
        fits = blocks <= level.blocks and longest**2 <= 8 * level.blocks
        if fits and blocks * fps <= level.blocks_per_s * (1 + 1e-9):
            return level.name
    return None
