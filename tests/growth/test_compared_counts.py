"""Up to which day groups are counted: each pair has its own, and pots taken away make no difference."""

import math
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from compared_pots import SOWN, mixed, pot

from sproutlapse.compare.charts import comparison_charts
from sproutlapse.compare.page import comparison_page
from sproutlapse.compare.words import counted_told, lines_of, verdict
from sproutlapse.growth.compared import compared
from sproutlapse.growth.fair_pots import Pot


def late(lot: str, x: float, *, watched: float) -> Pot:
    """A pot sown eleven days after the others, watched so long."""
    own = pot(lot, x, up=None, sown=SOWN + timedelta(days=11))
    return replace(own, after=np.array([max(watched, 0.0)]), watched=watched)


def lost(own: Pot, day: float) -> Pot:
    """The same pot, taken away on a day."""
    return replace(own, after=np.where(np.isfinite(own.by), own.after, day))


def none_against_all() -> list[Pot]:
    return [pot("AB"[k % 2], k, up=5.0 if k % 2 else None) for k in range(20)]


def test_a_lot_sown_late_takes_no_days_from_the_others():
    c = compared([*none_against_all(), *(late("C", k, watched=1.0) for k in range(4))], "lot")
    pair = next(p for p in c.pairs if {p.one, p.other} == {"A", "B"})
    assert (pair.one, pair.held[0].one, pair.held[0].other, pair.held[0].claimed) == ("B", 1.0, 0.0, True)
    assert pair.counted.days == 12.0
    assert {g.name: (g.up, g.of, g.days) for g in c.groups} == {"B": (10, 10, 12), "A": (0, 10, 12), "C": (0, 4, 1)}
    assert all("day" in p.design.entangled for p in c.pairs if "C" in (p.one, p.other))
    assert "count" not in c.any_of
    assert "C 0 of 4 by day 1" in comparison_charts(c)[0].alt


def test_a_lot_without_a_photo_since_its_sowing_is_left_out_by_name():
    pots = [*none_against_all(), *(late("C", k, watched=-3.0) for k in range(4))]
    c = compared(pots, "lot")
    assert c.unwatched == ("C",)
    assert [(p.one, p.other, p.held[0].claimed) for p in c.pairs] == [("B", "A", True)]
    words = "Left out, for no photo was taken since the sowing: “C”."
    assert words in lines_of(c)
    assert words in comparison_page(c, pots, [], [])
    nothing = compared(pots[-4:], "lot")
    assert lines_of(nothing) == [words]
    assert "up to the last photo" in comparison_page(nothing, pots[-4:], comparison_charts(nothing), [])


@pytest.mark.parametrize("n", [60, 80])
def test_pots_taken_away_because_nothing_came_up_make_no_difference(n: int):
    """Equal lots, half up on day 5; what had not come up of the one was cleared away on day 6."""
    pots = [pot("AB"[k % 2], k, up=5.0 if (k // 2) % 2 else None) for k in range(n)]
    cleared = [lost(p, 6.0) if p.group("lot") == "A" else p for p in pots]
    c = compared(cleared, "lot")
    count = c.pairs[0].held[0]
    assert (count.one, count.n_one, count.other, count.n_other) == (0.5, n // 2, 0.5, n // 2)
    assert not any(h.claimed for h in c.pairs[0].held)
    told = counted_told(c.pairs[0], "lot")
    assert told == [f"Counted up to day 6.0: later {n // 4} pots not up by then were gone."]
    assert {g.name: (g.up, g.of) for g in c.groups} == {"A": (n // 4, n // 2), "B": (n // 4, n // 2)}


def test_what_comes_up_after_some_were_cleared_away_counts_for_neither():
    """Of two slow equal lots the one is cleared on day 6, and the other goes on to come up."""
    pots = [pot("AB"[k % 2], k, up=5.0 if k < 12 else 9.0) for k in range(36)]
    cleared = [lost(replace(p, by=np.array([math.inf])), 6.0) if p.x >= 12 and p.group("lot") == "A" else p
               for p in pots]  # fmt: skip
    pair = compared(cleared, "lot").pairs[0]
    assert pair.held[0].one == pair.held[0].other
    assert (pair.held[1].one, pair.held[1].other) == (4.875, 4.875)
    assert not any(h.claimed for h in pair.held)


def test_a_pot_gone_before_anything_came_up_is_left_out_and_said():
    pots = none_against_all()
    pots[0] = lost(pots[0], 2.0)
    c = compared(pots, "lot")
    count = c.pairs[0].held[0]
    assert (count.n_one, count.n_other, count.claimed) == (10, 9, True)
    assert counted_told(c.pairs[0], "lot") == ["1 pot gone before anything came up left out."]
    assert {g.name: (g.of, g.sown) for g in c.groups} == {"B": (10, 10), "A": (9, 10)}
    every = compared([lost(p, 2.0) if p.group("lot") == "A" else p for p in none_against_all()], "lot")
    assert not any(h.claimed for h in every.pairs[0].held)


def test_fair_pots_are_counted_to_the_last_day_as_before():
    c = compared(mixed(8, height=30.0), "lot")
    assert counted_told(c.pairs[0], "lot") == []
    assert verdict(c.pairs[0], "lot").startswith("“A” against “B”: taller")
