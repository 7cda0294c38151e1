"""Curves through a plant's heights: found where the plant shows one, and left out where it does not."""

import numpy as np
import pytest
from seedling_tables import every, plant_rows, tray_of

from sproutlapse.growth.sigmoids import CURVE_COLUMNS, curves_table, fitted, gompertz, grown, logistic
from sproutlapse.growth.tracks import tracks

H = every(6, 60)


def track_of(height):
    return tracks(plant_rows("A", H, height), tray_of("A"))[0]


@pytest.mark.parametrize(("form", "curve"), [("logistic", logistic), ("gompertz", gompertz)])
def test_the_curve_that_a_plant_grew_by_is_found(form, curve):
    noise = np.random.default_rng(1).normal(0, 0.5, 60)
    track = track_of(np.clip(curve(H / 24, 80, 2.4, 0.6) + noise, 0.5, None))
    fit, hour = grown(track, track.height, form)
    assert hour == 0
    assert fit.parameters[0] == pytest.approx(80, abs=3 * fit.sd[0])
    assert fit.parameters[2] == pytest.approx(0.6, abs=3 * fit.sd[2])
    assert fit.residual_sd == pytest.approx(0.5, abs=0.15)


def test_a_plant_that_has_shown_only_the_start_of_a_curve_has_none():
    track = track_of(5 * np.exp(0.15 * H / 24))
    assert grown(track, track.height, "logistic") is None


def test_few_photos_are_no_curve():
    track = tracks(plant_rows("A", H[:7], logistic(H[:7] / 24, 80, 2.4, 0.6)), tray_of("A"))[0]
    assert grown(track, track.height, "logistic") is None
    with pytest.raises(ValueError, match="more points"):
        fitted(logistic, np.arange(3.0), np.arange(3.0), np.ones(3))


def test_the_table_for_export_has_a_row_for_each_curve_that_shows():
    track = track_of(logistic(H / 24, 80, 2.4, 0.6) + 0.5)
    table = curves_table([(track, 0, 0)])
    assert list(table.columns) == CURVE_COLUMNS
    assert list(table["form"][table["of"] == "height"]) == ["logistic", "gompertz"]
    assert table["middle_days"].iloc[0] == pytest.approx(4.0, abs=0.2)
    assert (table["final_sd"] > 0).all()


def test_a_straight_line_is_no_curve():
    track = track_of(18 + 0.03 * H)
    assert grown(track, track.height, "logistic") is None
    assert grown(track, track.height, "gompertz") is None
