"""What came up when, drawn sowing by sowing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from sproutlapse.report.charts import charts_of
from sproutlapse.report.emergence_charts import sowing_steps
from sproutlapse.results import Results

MakeResults = Callable[..., Results]


def emergence(results: Results) -> list[tuple[str, str]]:
    return [(chart.title, chart.alt) for chart in charts_of(results) if chart.kind == "emergence"]


def test_each_sowing_has_a_chart_that_says_how_many_and_when(make_results: MakeResults) -> None:
    charts = emergence(make_results(names=tuple("ABCDEFG"), sowings=("pepper", "basil"), dark=None))
    assert [title for title, _ in charts] == ["pepper", "basil"]
    assert "3 of 4 pots in pepper. The first by 1 Mar, the last by 2 Mar." in charts[0][1]


def test_many_sowings_share_charts_by_four(make_results: MakeResults) -> None:
    names = tuple(f"P{k}" for k in range(9))
    charts = emergence(make_results(names=names, sowings=tuple(f"packet {k}" for k in range(9))))
    assert [title for title, _ in charts] == ["What came up when"] * 2
    assert "1 of 1 pot in packet 0" in charts[0][1]


def test_seeds_and_pots_do_not_share_a_chart(make_results: MakeResults) -> None:
    names = tuple(f"P{k}" for k in range(9))
    results = make_results(names=names, sowings=tuple(f"packet {k}" for k in range(9)))
    counted = tuple(
        s.model_copy(update={"seeds_per_cell": 1 if k % 2 else None}) for k, s in enumerate(results.tray.sowings)
    )
    charts = emergence(replace(results, tray=results.tray.model_copy(update={"sowings": counted})))
    assert len(charts) == 2
    assert [("seed" in alt, "pot" in alt) for _, alt in charts] == [(False, True), (True, False)]


def test_a_sowing_with_nothing_up_has_no_chart(make_results: MakeResults) -> None:
    assert emergence(make_results(sowings=("pepper",), grown=False)) == []


def test_a_step_stands_between_the_photo_before_and_the_photo_with_it(make_results: MakeResults) -> None:
    (steps,) = sowing_steps(make_results(names=tuple("ABCDEF"), sowings=("pepper",), dark=None))
    assert np.allclose(steps.by - steps.after, 0.25)
    assert steps.by == pytest.approx([0.5, 0.75, 1.0, 1.25, 1.5])
    assert (steps.of, steps.units, steps.sown) == (6, "pots", 0)


def test_the_smooth_curve_is_the_one_of_the_table_and_none_where_that_has_none(make_results: MakeResults) -> None:
    results = make_results(names=tuple("ABCDEF"), sowings=("pepper",), dark=None)
    fit = {"fit_median_days": 1.0, "fit_median_sd_days": 0.1, "fit_log_sd": 0.3, "fit_final_share": 0.8}
    (steps,) = sowing_steps(replace(results, sowings=results.sowings.assign(**fit)))
    assert steps.fit is not None
    assert steps.fit.share_by([1.0])[0] == pytest.approx(0.4)
    (none,) = sowing_steps(replace(results, sowings=results.sowings.assign(**dict.fromkeys(fit, np.nan))))
    assert none.fit is None
