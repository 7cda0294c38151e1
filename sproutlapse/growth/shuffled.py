"""Which lot goes into which cell, so that none gets the bright or the warm side: shuffled blocks of neighbouring cells,
each with every lot once."""

from __future__ import annotations

import random
from dataclasses import dataclass
from itertools import combinations

from sproutlapse.growth.chance import ahead

TRIES = 50  # the evenest of so many shuffles is taken
FREE = -1


@dataclass(frozen=True)
class Cell:
    """One cell: row and column from 1, its block from 1 (0: free), and the lot's number (`FREE`: none)."""

    row: int
    column: int
    block: int
    lot: int


def shuffled(lots: int, rows: int, columns: int, number: int) -> list[Cell]:
    """The cells of a tray, row by row; the same number gives the same plan.

    Parameters
    ----------
    lots
        How many, at least two.
    rows, columns
        Of the tray. Cells that do not make a whole block stay free.
    number
        Names the shuffle.
    """
    chance = random.Random(number)
    drawn = [_once(lots, rows, columns, chance) for _ in range(TRIES)]
    return min(drawn, key=unevenness)


def _once(lots: int, rows: int, columns: int, chance: random.Random) -> list[Cell]:
    way = _snake(rows, columns)
    out = []
    for block in range(1, len(way) // lots + 1):
        order = list(range(lots))
        chance.shuffle(order)
        own = way[(block - 1) * lots : block * lots]
        out += [Cell(row, column, block, lot) for (row, column), lot in zip(own, order, strict=True)]
    out += [Cell(row, column, 0, FREE) for row, column in way[len(out) :]]
    return sorted(out, key=lambda c: (c.row, c.column))


def _snake(rows: int, columns: int) -> list[tuple[int, int]]:
    """All cells on one way from neighbour to neighbour, so that a block stands together; along the shorter side."""
    if rows <= columns:
        return [(r if c % 2 else rows + 1 - r, c) for c in range(1, columns + 1) for r in range(1, rows + 1)]
    return [(r, c if r % 2 else columns + 1 - c) for r in range(1, rows + 1) for c in range(1, columns + 1)]


def unevenness(cells: list[Cell]) -> float:
    """How far the most uneven two lots stand apart along rows or columns: 0 evenly mixed, 0.5 wholly apart."""
    worst = 0.0
    for one, other in combinations(sorted({c.lot for c in cells} - {FREE}), 2):
        both = [c for c in cells if c.lot in (one, other)]
        second = [c.lot == other for c in both]
        for along in ([c.row for c in both], [c.column for c in both]):
            if len(set(along)) > 1:
                worst = max(worst, abs(ahead(along, second, [0] * len(both)) - 0.5))
    return worst
