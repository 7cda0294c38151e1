"""By what scripts that take long judge a run: plain figures in, words out."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "scripts"))

from growth import tell
from kill_runs import MOST_IDLE, Killed, Leftover, all_rounds
from memory import Peak, shortcomings


def test_memory_is_flat_for_workers_main_process_and_all_together():
    few = Peak(200.0, {1: 390.0}, 900.0)
    assert shortcomings({50: few, 800: Peak(219.0, {1: 399.0}, 989.0)}) == []
    assert "worker held more than 400" in shortcomings({50: few, 800: Peak(200.0, {1: 401.0}, 900.0)})[0]
    assert "main process held 230" in shortcomings({800: Peak(230.0, {}, 900.0), 50: few})[0]
    assert "all held 1000" in shortcomings({50: few, 800: Peak(200.0, {}, 1000.0)})[0]
    assert "the limit" in shortcomings({50: Peak(200.0, {}, 900.0, over=True)})[0]


@pytest.mark.parametrize(("seconds", "ok"), [((4.0, 5.0, 8.0, 16.0), True), ((4.0, 5.0, 8.0, 20.0), False),
                                             ((1.0, 2.2, 4.8, 9.8), False)])  # fmt: skip
def test_a_last_doubling_that_costs_more_than_twice_is_not_hidden_by_a_fixed_start(seconds, ok):
    assert tell({100 * 2**k: {"everything": value} for k, value in enumerate(seconds)}) is ok


def test_rounds_in_which_nothing_is_killed_come_to_an_end():
    asked: list[int] = []

    def never(number: int, most: int) -> list[Killed]:
        asked.append(most)
        return []

    with pytest.raises(Leftover, match="before any kill"):
        all_rounds(never, 5)
    assert asked == [5] * MOST_IDLE
    now_and_then = lambda number, most: [Killed(1.0, "start", 0, [])] if number % MOST_IDLE == 0 else []  # noqa: E731
    kills, rounds = all_rounds(now_and_then, 4)
    assert (len(kills), rounds) == (4, 4 * MOST_IDLE)
