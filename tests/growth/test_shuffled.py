"""A fair plan: each lot once in each block, none on one side, and the same number gives the same plan."""

import pytest

from sproutlapse.growth.fair_design import APART
from sproutlapse.growth.shuffled import FREE, shuffled, unevenness


@pytest.mark.parametrize(("lots", "rows", "columns"), [(2, 1, 6), (3, 4, 6), (4, 7, 10), (5, 1, 12)])
def test_each_block_holds_each_lot_once(lots, rows, columns):
    cells = shuffled(lots, rows, columns, 1)
    assert len({(c.row, c.column) for c in cells}) == rows * columns
    for block in {c.block for c in cells} - {0}:
        own = [c for c in cells if c.block == block]
        assert sorted(c.lot for c in own) == list(range(lots))
        assert max(abs(a.row - b.row) + abs(a.column - b.column) for a in own for b in own) < lots
    assert sum(c.lot == FREE for c in cells) == rows * columns % lots


def test_no_lot_stands_apart():
    for number in range(20):
        assert 0.5 + unevenness(shuffled(2, 3, 4, number)) < APART


def test_a_number_names_a_plan():
    assert shuffled(3, 4, 6, 7) == shuffled(3, 4, 6, 7)
    assert shuffled(3, 4, 6, 7) != shuffled(3, 4, 6, 8)
