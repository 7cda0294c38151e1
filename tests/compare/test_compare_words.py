"""A comparison as a grower reads it."""

import re

import numpy as np
import pytest
from compared_pots import mixed, pot

from sproutlapse.compare.charts import comparison_charts
from sproutlapse.compare.page import comparison_page
from sproutlapse.compare.tables import groups_table, pairs_table, pots_table
from sproutlapse.compare.words import (
    as_told,
    counted_told,
    figures_told,
    lines_of,
    promise_told,
    smallness,
    standing_on,
    times,
    verdict,
)
from sproutlapse.growth.compared import Promise, compared


@pytest.mark.parametrize(
    ("chance", "words"),
    [(0.4706, "47 times in 100"),
     (0.016, "2 times in 100"), (0.004, "4 times in 1,000"), (0.00025, "2 times in 10,000"),
     (0.0001, "once in 10,000"), (1e-9, "less than once in 10,000"), (1.0, "every time")],
)  # fmt: skip
def test_how_often_chance_would_do_it(chance, words):
    assert times(chance) == words


def test_two_of_nine_against_none_in_words():
    pots = [pot("A" if k % 2 else "B", k, up=5.0 if k in (5, 9) else None) for k in range(18)]
    c = compared(pots, "lot")
    pair = c.pairs[0]
    assert figures_told(pair)[0].startswith(
        "Came up: 2 of 9 seeds against 0 of 9; chance would do this 47 times in 100."
    )
    assert verdict(pair, "lot") == "“A” and “B”: no difference that chance would not make."
    assert "9 seeds against 9 would find 90 of 100 against 50 of 100 only" in smallness(pair, "lot")
    assert "this is said of this tray" in standing_on(pair, "lot")


def test_the_better_lot_stands_first():
    pair = compared(mixed(8, height=25.0), "lot").pairs[0]
    assert verdict(pair, "lot").startswith("“A” against “B”: taller")


def test_what_cannot_be_told_apart_stands_in_place_of_a_claim():
    halves = compared([pot("A" if k < 6 else "B", k, height=40 if k < 6 else 20) for k in range(12)], "lot")
    told = verdict(halves.pairs[0], "lot")
    assert told.startswith("“A” and “B”: no claim. “A” stood to the left")
    assert "lot and place cannot be told apart" in told
    assert not any("chance" in line for line in figures_told(halves.pairs[0]))
    trays = compared([pot("A", k, tray=f"tray {k % 2}") for k in range(12)], "tray")
    assert "These trays differ" in verdict(trays.pairs[0], "tray")
    lamps = compared([pot("A", k, lamp="near" if k < 6 else "far") for k in range(12)], "lamp")
    assert "lamp and place cannot be told apart" in verdict(lamps.pairs[0], "lamp")


@pytest.mark.parametrize(
    ("promise", "words"),
    [(Promise("x", 85, 10, 20, 0.00025, True), "so badly only 2 times in 10,000"),
     (Promise("x", 85, 9, 12, 0.264, True), "so badly 26 times in 100: no reason to complain"),
     (Promise("x", 85, 2, 12, 0.0001, False), "too soon"), (Promise("x", 85, 12, 12, 1.0, True), "kept")],
)  # fmt: skip
def test_a_packets_promise(promise, words):
    assert words in promise_told(promise)


def test_nothing_of_statistics_is_said():
    pots = mixed(8, height=30.0)
    c = compared(pots, "lot")
    page = comparison_page(c, pots, comparison_charts(c), [])
    said = " ".join([*lines_of(c), page[page.index("<main>") :]]).casefold()
    for word in ("p-value", "signific", "hypothes", "confidence", "null", "variance", "nan"):
        assert word not in said.replace("fill-opacity", "")


def test_tables_hold_every_pair_group_and_pot():
    pots = [pot("ABC"[k % 3], k) for k in range(12)]
    c = compared(pots, "lot")
    assert len(pairs_table(c)) == 3 * 5
    assert "<details>" not in comparison_page(c, pots, [], [])
    assert list(groups_table(c)["of"]) == [4, 4, 4]
    table = pots_table(pots)
    assert len(table) == 12
    assert np.isfinite(table["height"]).all()


def test_many_groups_still_make_charts_and_a_short_page():
    pots = [pot(f"lot {k % 14}", k, up=None) for k in range(28)]
    c = compared(pots, "lot")
    assert "<details>" in comparison_page(c, pots, [], [])
    assert len(lines_of(c)) < 2 * len(c.pairs)
    charts = comparison_charts(c)
    assert [chart.name for chart in charts] == ["came-up"]
    assert charts[0].png.startswith(b"\x89PNG")


def test_the_figures_stand_in_the_order_of_the_verdict():
    """As many of each come up, so that the taller one is named first whichever lot was sown first."""
    for a, b in ((40.0, 25.0), (25.0, 40.0)):
        rng = np.random.default_rng(8)
        pots = [pot("AB"[k % 2], k, height=(a, b)[k % 2] + float(rng.normal(0, 1))) for k in range(16)]
        c = compared(pots, "lot")
        first = "A" if a > b else "B"
        head, *figures = lines_of(c)
        assert head.startswith(f"“{first}” against “{'B' if first == 'A' else 'A'}”: taller")
        height = next(line for line in figures if line.strip().startswith("Height,"))
        tall, short = re.findall(r"([\d.]+) mm", height)[:2]
        assert float(tall) > float(short)
        assert "mm taller; it may be from" in height
        page = comparison_page(c, pots, [], [])
        assert f"<h3>“{first}” against" in page
    assert as_told(as_told(c.pairs[0])).one == as_told(c.pairs[0]).one


def test_a_difference_of_nothing_is_not_spelled_out():
    told = figures_told(compared([pot("AB"[k % 2], k) for k in range(12)], "lot").pairs[0])
    assert not any("The difference" in line for line in told)


def test_of_lamps_it_is_said_which_sowings_are_counted():
    """Only what both lamps hold is counted, while the chart shows all that stands under each."""
    own = {"near": ("pepper", "eggplant", "basil"), "far": ("eggplant", "pepper", "leek")}
    pots = [pot(crop, 10 * k + n, crop=crop, lamp=lamp)
            for k, (lamp, crops) in enumerate(own.items()) for n, crop in enumerate(crops)]  # fmt: skip
    pair = compared(pots, "lamp").pairs[0]
    assert counted_told(pair, "lamp") == ["Counted here: eggplant and pepper, which both hold."]
    assert figures_told(pair)[0].startswith("Came up: 2 of 2 seeds against 2 of 2")
