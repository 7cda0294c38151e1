"""Lots, lamps and trays held against each other: what is claimed, what is not, and what stands in the way."""

import math
import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from compared_pots import mixed, pot

from sproutlapse.growth.compared import Compared, Held, compared
from sproutlapse.growth.fair_pots import Pot

SCRIPTS = Path(__file__).resolve().parents[2] / "scripts"


@pytest.fixture(scope="module")
def fair():
    """The simulated trays of `scripts/fair.py`."""
    sys.path.insert(0, str(SCRIPTS))
    try:
        import fair as script  # noqa: PLC0415
    finally:
        sys.path.remove(str(SCRIPTS))
    return script


def held(c: Compared, figure: str) -> Held:
    return next(h for h in c.pairs[0].held if h.figure == figure)


def test_two_of_nine_against_none_of_nine_is_what_chance_does():
    pots = [pot("A" if k % 2 else "B", k, up=5.0 if k in (5, 9) else None) for k in range(18)]
    c = compared(pots, "lot")
    assert held(c, "count").effect.chance == pytest.approx(0.47, abs=0.005)
    assert not any(h.claimed for h in c.pairs[0].held)
    assert c.pairs[0].design.entangled == ()


def test_a_lot_that_stays_shorter_is_found_and_its_interval_holds_the_difference():
    c = compared([*mixed(8, height=30.0)], "lot")
    h = held(c, "height")
    assert h.claimed
    assert h.effect.low < h.effect.difference < h.effect.high
    assert h.effect.low < 10 * h.at_days / 6 < h.effect.high


@pytest.mark.parametrize(
    ("change", "named"),
    [
        ({"lamp": "right"}, "lamp"),
        ({"place": "mat"}, "place"),
        ({"tray": "two"}, "tray"),
        ({"sown": datetime(2026, 3, 9)}, "day"),
        ({"seeds": None}, "units"),
    ],
)
def test_what_differs_along_with_the_lot_is_named_and_nothing_claimed(change, named):
    base = {"lamp": "left"} if named == "lamp" else {"place": "shelf"} if named == "place" else {}
    a, b = ([p for p in mixed(8) if p.group("lot") == lot] for lot in "AB")
    pots = [pot("A", p.x, **base) for p in a] + [pot("B", p.x, **{"height": 20.0, **base, **change}) for p in b]
    c = compared(pots, "lot")
    assert named in c.pairs[0].design.entangled
    assert not any(h.claimed for h in c.pairs[0].held)


def test_lots_in_halves_cannot_be_told_from_their_side():
    pots = [pot("A" if k < 8 else "B", k, height=40 if k < 8 else 20) for k in range(16)]
    c = compared(pots, "lot")
    assert c.pairs[0].design.entangled == ("side",)
    assert not any(h.claimed for h in c.pairs[0].held)


def test_a_word_of_its_own_for_each_place_does_not_part_the_lots():
    pots = [pot("A" if k % 2 else "B", k, place=f"place {k}") for k in range(12)]
    assert compared(pots, "lot").pairs[0].design.entangled == ()


def test_one_tray_a_lamp_is_no_comparison_of_lamps():
    pots = [pot("A", k, tray=f"tray {k % 2}", lamp=f"lamp {k % 2}", height=30 + 10 * (k % 2)) for k in range(16)]
    for by in ("lamp", "tray"):
        c = compared(pots, by)
        assert c.pairs[0].design.entangled
        assert not any(h.claimed for h in c.pairs[0].held)


def test_lamps_in_many_trays_are_compared_by_trays_as_wholes():
    """Each tray's difference counts once, however many plants it holds; the lamps change sides."""
    rng = np.random.default_rng(4)
    pots = []
    for t in range(6):
        less = 10 + rng.normal(0, 2)
        for k in range(8):
            near = (k < 4) == (t % 2 == 0)
            size = 40 + rng.normal(0, 1) - (less if near else 0)
            pots.append(pot("A", k, tray=f"tray {t}", lamp="near" if near else "far", height=size))
    c = compared(pots, "lamp")
    h = held(c, "height")
    assert c.pairs[0].design.unit == "tray"
    assert h.claimed
    assert abs(h.effect.difference) == pytest.approx(10 * h.at_days / 6, rel=0.2)
    same_side = [pot("A", p.x, tray=p.tray, lamp="near" if p.x < 4 else "far") for p in pots]
    assert "side" in compared(same_side, "lamp").pairs[0].design.entangled


def test_several_seeds_of_a_pot_count_as_one_witness():
    """All of a pot's seeds came up or none did: as single seeds they would look sure, as pots they are few."""
    up = {"A": (5.0, 5.0, 5.0, None), "B": (None, None, 5.0, None)}
    pots = [pot(lot, 2 * k + (lot == "B"), up=up[lot][k], seeds=10) for lot in "AB" for k in range(4)]
    h = held(compared(pots, "lot"), "count")
    assert (h.n_one, h.n_other) == (40, 40)
    assert h.effect.chance > 0.05


def test_no_sizes_are_compared_over_trays_without_a_scale():
    pots = [pot("AB"[k % 2], k, tray=f"tray {k // 8}", mm=k < 8) for k in range(16)]
    c = compared(pots, "lot")
    assert held(c, "height").silent == "no scale"
    assert held(c, "height_to_leaf").silent == ""
    one_tray = [pot("AB"[k % 2], k, mm=False) for k in range(16)]
    assert held(compared(one_tray, "lot"), "height").unit == "pixels"


def test_a_tray_from_above_and_one_from_the_side_show_different_things():
    pots = [pot("AB"[k % 2], k, tray=f"tray {k // 8}", above=k < 8) for k in range(16)]
    assert held(compared(pots, "lot"), "canopy").silent == "two views"


def test_all_are_counted_up_to_the_same_day():
    """What came up after the shorter tray's last photo counts for neither."""
    pots = [pot("AB"[k % 2], k, up=5.0 if k % 2 else 11.0) for k in range(12)]
    short = [p if k else Pot(**{**vars(p), "watched": 8.0}) for k, p in enumerate(pots)]
    c = compared(short, "lot")
    assert {g.name: g.up for g in c.groups} == {"A": 0, "B": 6}


def test_three_lots_are_asked_together_as_well():
    pots = [pot("ABC"[k % 3], k, height=(40, 41, 20)[k % 3] + 0.3 * (k % 5)) for k in range(24)]
    c = compared(pots, "lot")
    assert len(c.pairs) == 3
    assert c.any_of["height"] < 0.001
    assert c.looked_at == 15 - sum(math.isnan(h.effect.chance) for p in c.pairs for h in p.held)


def test_a_packets_promise_is_held_against_it_only_once_the_rest_is_overdue():
    pots = [pot("A", k, up=5.0 if k < 10 else None, packet_percent=85) for k in range(20)]
    told = compared(pots, "lot").promises[0]
    assert (told.up, told.of, told.settled) == (10, 20, True)
    assert told.chance == pytest.approx(0.00025, abs=5e-6)
    early = [Pot(**{**vars(p), "watched": 6.0}) for p in pots]
    assert not compared(early, "lot").promises[0].settled


@pytest.mark.parametrize("layout", ["halves", "blocks"])
def test_equal_lots_under_a_gradient(fair, layout):
    """A small part of what `scripts/fair.py equal` measures: halves are named, blocks are not, nothing is claimed."""
    results = [fair.equal_pair(layout, np.random.default_rng([11, n])) for n in range(2)]
    assert sum(any(h.claimed for h in c.pairs[0].held) for c in results) == 0
    assert [bool(c.pairs[0].design.entangled) for c in results] == [layout == "halves"] * 2


def test_two_trays_with_one_lot_truly_worse(fair):
    """Found, and the intervals hold the truth: the shares that come up, and the days between their middles."""
    c = fair.worse_pair(np.random.default_rng([12, 7]))
    pair = c.pairs[0]
    assert (pair.one, pair.other, pair.design.entangled) == ("good", "bad", ())
    count, days = held(c, "count"), held(c, "days")
    assert count.claimed and days.claimed
    assert count.effect.low < fair.GOOD.share - fair.BAD.share < count.effect.high
    assert days.effect.low < (fair.GOOD.middle_h - fair.BAD.middle_h) / 24 < days.effect.high


def test_lots_that_have_trays_of_their_own_are_compared_by_trays():
    """Three trays each: a tray counts once; two each cannot be told from their trays."""
    rng = np.random.default_rng(3)
    pots = [
        pot("AB"[t % 2], k, tray=f"tray {t}", height=(40, 25)[t % 2] + float(rng.normal(0, 2)))
        for t in range(6)
        for k in range(6)
    ]
    c = compared(pots, "lot")
    assert (c.pairs[0].design.unit, c.pairs[0].design.entangled) == ("tray alone", ())
    assert held(c, "height").claimed
    assert "tray" in compared([p for p in pots if p.tray < "tray 4"], "lot").pairs[0].design.entangled


def test_where_nothing_came_up_the_days_are_silent():
    c = compared([pot("AB"[k % 2], k, up=None if k % 2 else 5.0) for k in range(12)], "lot")
    assert held(c, "days").silent == "few"
    assert held(c, "count").claimed
    assert not compared([pot("AB"[k % 2], k, up=None) for k in range(12)], "lot").pairs[0].held[0].claimed
