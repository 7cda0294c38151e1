"""Pots at the edge of a tray and pots in its middle: light and warmth differ there."""

from dataclasses import replace

import numpy as np
import pytest
from compared_pots import pot

from sproutlapse.compare.words import verdict
from sproutlapse.growth.compared import Compared, compared


def tray(at_edge: str, seed: int, *, rows: int = 2, taller: float = 6.0) -> Compared:
    """Equal lots in rows of ten, A in the columns `at_edge`; in the columns 2 to 7 all grow taller."""
    rng = np.random.default_rng(seed)
    pots = []
    for row in range(rows):
        for x in range(10):
            height = 40 + taller * (2 <= x <= 7) + float(rng.normal(0, 2.5))
            own = pot("A" if str(x) in at_edge else "B", x, height=height)
            pots.append(replace(own, plant=f"{row}{x}", y=float(3 * row)))
    return compared(pots, "lot")


def test_a_lot_at_the_edge_and_one_in_the_middle_are_named():
    for seed in range(8):
        c = tray("012789", seed)
        assert c.pairs[0].design.entangled == ("edge",)
        assert not any(h.claimed for h in c.pairs[0].held)
    assert "the other in the middle: light and warmth differ, so lot and place" in verdict(c.pairs[0], "lot")


def test_what_the_distance_from_the_middle_does_is_taken_out():
    """In one tray of two a lot stands at the edge, in the other both are mixed: too little to be named."""
    claimed = 0
    for seed in range(12):
        rng = np.random.default_rng(seed)
        pots = [
            replace(
                pot("A" if str(x) in edge else "B", x, tray=edge, height=40 + 10 * (2 <= x <= 7) + rng.normal(0, 2.5)),
                plant=f"{row}{x}", y=float(3 * row),
            )
            for edge in ("01789", "02468") for row in range(2) for x in range(10)
        ]  # fmt: skip
        pair = compared(pots, "lot").pairs[0]
        assert pair.design.entangled == ()
        claimed += any(h.claimed for h in pair.held)
    assert claimed == 0


def test_an_edge_that_is_a_step_makes_no_difference_by_being_taken_out_along_a_line():
    assert sum(any(h.claimed for h in tray("14589", seed, taller=10.0).pairs[0].held) for seed in range(12)) <= 1


@pytest.mark.parametrize("rows", [1, 2])
def test_two_rows_have_no_middle_of_their_own(rows):
    places = tray("02468", 1, rows=rows).pairs[0].design.places
    assert np.ptp(places[:, 2]) == pytest.approx(4 / 9)


def test_the_ring_round_a_tray_from_above_is_its_edge():
    pots = [
        replace(pot("A" if x in (0, 5) or y in (0, 3) else "B", x, height=40 + 0.3 * ((x + 2 * y) % 5)),
                plant=f"{x}{y}", y=float(y))
        for x in range(6) for y in range(4)
    ]  # fmt: skip
    assert compared(pots, "lot").pairs[0].design.entangled == ("edge",)
