"""Intervals hold the truth where errors of scale and soil line were planted, shared as they are on a shelf.

The planted errors are drawn with a fixed seed: 4 % of scale a tray, 2 mm of soil line a plant, 0.4 mm a photo.
"""

import sys
from pathlib import Path

import numpy as np
import pytest
from seedling_tables import every, plant_rows, together, tray_of

from sproutlapse.growth.curves import growth_per_day
from sproutlapse.growth.intervals import Figure, of_plant, own_part
from sproutlapse.growth.judge import judge
from sproutlapse.growth.tracks import tracks
from sproutlapse.tray import Judge

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "scripts"))
from differences import of_two_plants, of_two_trays

SCALE, SOIL_MM, PHOTO_MM = 0.04, 2.0, 0.4
HOURS = every(6, 17)
RATES = (3.0, 5.0, 8.0)
LIMITS = Judge()
DRAWS = 400


def true_heights(rate):
    return 20 + rate * HOURS / 24 + 2 * np.sin(2 * np.pi * HOURS / 24)


@pytest.fixture(scope="module")
def trays():
    """Trays as measured, each with its plants' last height and growth, as the judging reads them."""
    rng = np.random.default_rng(20)
    drawn = []
    for _ in range(DRAWS):
        scale = 1 + rng.normal(0, SCALE)
        rows = []
        for name, rate in zip("ABC", RATES, strict=True):
            seen = true_heights(rate) * scale + rng.normal(0, SOIL_MM) + rng.normal(0, PHOTO_MM, len(HOURS))
            sd = np.sqrt(PHOTO_MM**2 + SOIL_MM**2 + (SCALE * seen) ** 2)
            rows.append(plant_rows(name, HOURS, seen).assign(height_sd_mm=sd))
        drawn.append([_figures(track) for track in tracks(together(*rows), tray_of("A", "B", "C"))])
    return drawn


def _figures(track):
    rate = growth_per_day(track, LIMITS)
    return own_part(track.height[-1], track.height_sd[-1], SCALE), Figure(rate.per_day, rate.sd)


TRUE = [[true_heights(rate)[-1] for rate in RATES], list(RATES)]


def held(intervals, truths):
    return np.mean([i.low <= t <= i.high for i, t in zip(intervals, truths, strict=True)])


@pytest.mark.parametrize("kind", [0, 1], ids=["height", "growth"])
def test_a_plants_own_interval_holds_the_truth_19_times_of_20(trays, kind):
    for plant in range(3):
        own = [of_plant(tray[plant][kind], SCALE) for tray in trays]
        assert 0.92 <= held(own, [TRUE[kind][plant]] * DRAWS) <= 0.98


@pytest.mark.parametrize("kind", [0, 1], ids=["height", "growth"])
def test_so_does_the_difference_of_two_plants_of_a_tray(trays, kind):
    less = [of_two_plants(tray[2][kind], tray[0][kind], SCALE) for tray in trays]
    assert 0.92 <= held(less, [TRUE[kind][2] - TRUE[kind][0]] * DRAWS) <= 0.98


@pytest.mark.parametrize("kind", [0, 1], ids=["height", "growth"])
def test_so_does_the_difference_of_two_trays(trays, kind):
    half = DRAWS // 2
    pairs = zip(trays[:half], trays[half:], strict=True)
    less = [of_two_trays(*([p[kind] for p in tray] for tray in pair), (SCALE, SCALE)) for pair in pairs]
    assert 0.91 <= held(less, [0.0] * half) <= 0.99


def test_a_shared_scale_counted_twice_would_be_padded_and_left_out_would_be_too_sure(trays):
    wide = [of_two_trays([t[2][0]], [t[0][0]], (SCALE, SCALE)) for t in trays]
    assert held(wide, [TRUE[0][2] - TRUE[0][0]] * DRAWS) > 0.98
    thin = [of_plant(Figure(t[2][1].value, t[2][1].own_sd), 0.0) for t in trays]
    assert held(thin, [RATES[2]] * DRAWS) < 0.8


def test_the_scales_part_is_taken_out_and_put_back():
    whole = of_plant(Figure(50.0, 1.2), 0.01)
    assert own_part(50.0, whole.sd, 0.01).own_sd == pytest.approx(1.2)
    assert own_part(50.0, 0.3, 0.01).own_sd == 0.0  # rounding may leave less than the scale alone


def test_the_table_of_plants_tells_growth_with_the_scale_in_its_deviation():
    rng = np.random.default_rng(3)
    table = plant_rows("A", HOURS, true_heights(5.0) + rng.normal(0, PHOTO_MM, len(HOURS)))
    sure, rough = (judge(table, tray_of("A"), scale_sd=s).plants.iloc[0] for s in (0.0, SCALE))
    extra = SCALE * rough["growth_mm_per_day"]
    assert rough["growth_sd_mm_per_day"] == pytest.approx(np.hypot(sure["growth_sd_mm_per_day"], extra))
    moved = table.assign(view=1)
    later = judge(moved, tray_of("A"), scale_sd=0.0, later_sd=[SCALE]).plants.iloc[0]
    assert later["growth_sd_mm_per_day"] == pytest.approx(rough["growth_sd_mm_per_day"])
