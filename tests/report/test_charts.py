"""Charts: who shares one, what they say in words, and how lines are told apart."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sproutlapse.report.charts import charts_of, middle_line
from sproutlapse.report.colours import DASHES, MARKERS, SERIES, SERIES_DARK, rgb_of
from sproutlapse.report.facts import LINES_PER_PANEL, Curve, curve_of, groups_of, measure_of, plant_names
from sproutlapse.results import Results

MakeResults = Callable[..., Results]


def luminance(colour: str) -> float:
    """Relative luminance of WCAG 2.1 from sRGB."""
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in np.array(rgb_of(colour)) / 255]
    return float(np.dot([0.2126, 0.7152, 0.0722], linear))


def contrast(a: str, b: str) -> float:
    high, low = sorted((luminance(a), luminance(b)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_lines_are_told_apart_without_colour() -> None:
    assert len(SERIES) == len(set(map(str, DASHES))) == len(set(MARKERS)) == LINES_PER_PANEL


def test_lines_on_dark_paper_stand_out() -> None:
    assert min(contrast(colour, "#22241f") for colour in SERIES_DARK) > 4.5


def test_sowings_get_a_chart_each(make_results: MakeResults) -> None:
    results = make_results(names=tuple("ABCDEFGH"), sowings=("pepper", "basil"))
    growth = [chart for chart in charts_of(results) if chart.kind == "growth"]
    assert [chart.title for chart in growth] == ["pepper", "basil"]
    assert "A 100 mm" in growth[0].alt


def test_many_small_sowings_share_charts(make_results: MakeResults) -> None:
    names = tuple(f"P{i}" for i in range(24))
    results = make_results(names=names, sowings=tuple(f"packet {i}" for i in range(24)), photos=2)
    groups = groups_of(results, plant_names(results))
    assert [len(group.plants) for group in groups] == [6, 6, 6, 6]
    assert [name for group in groups for name in group.plants] == list(names)


def test_a_curve_starts_with_emergence_and_keeps_its_last_figure(make_results: MakeResults) -> None:
    results = make_results(photos=300, dark=None)
    curve = curve_of(results, "A", measure_of(results))
    assert curve.days.size <= 240
    assert curve.value.min() > 0
    assert curve.days[-1] == pytest.approx(299 * 6 / 24)


def test_middle_of_many_plants_counts_those_not_up_as_nothing() -> None:
    nothing = np.array([False, False])
    days, nan = np.array([0.0, 1.0]), np.full(2, np.nan)
    curves = [Curve(str(i), days, np.array([i, 2.0 * i]), nan, nothing) for i in range(1, 4)]
    late = Curve("late", np.array([1.0]), np.array([10.0]), np.array([np.nan]), np.array([False]))
    grid, quarters = middle_line([*curves, late])
    assert grid.tolist() == [0, 1]
    assert quarters[1].tolist() == [1.5, 5.0]


def test_height_to_leaf_says_where_leggy_begins(make_results: MakeResults) -> None:
    results = make_results()
    ratio = next(chart for chart in charts_of(results) if chart.kind == "ratio")
    assert f"leggy from {results.tray.judge.leggy_ratio:.1f}" in ratio.alt


def test_an_emergence_chart_counts_what_came_up(make_results: MakeResults) -> None:
    emergence = next(chart for chart in charts_of(make_results()) if chart.kind == "emergence")
    assert "2 of 3" in emergence.alt
