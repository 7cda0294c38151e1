"""Growth curves against the certified values of NIST's Statistical Reference Datasets, nonlinear regression.

Rat42 (pasture yield) and Rat43 (dry weight of onion bulbs), from Ratkowsky, Nonlinear Regression Modeling, 1983, pages
61, 62 and 88; certified values of NIST/ITL StRD. Both are of the higher level of difficulty.
"""

import numpy as np
import pytest

from sproutlapse.growth.sigmoids import fitted, gompertz, logistic

RAT42_X = np.array([9.0, 14, 21, 28, 42, 57, 63, 70, 79])
RAT42_Y = np.array([8.93, 10.80, 18.59, 22.33, 39.35, 56.11, 61.73, 64.62, 67.08])
RAT43_X = np.arange(1.0, 16)
RAT43_Y = np.array(
    [16.08, 33.83, 65.80, 97.20, 191.55, 326.20, 386.87, 520.53, 590.03, 651.92, 724.93, 699.56, 689.96, 637.56, 717.41]
)  # fmt: skip


def richards(t, a, b, k, v):
    """The form of Rat43, which shows that the fitting holds with four parameters too."""
    return a / (1 + np.exp(b - k * t)) ** (1 / v)


@pytest.mark.parametrize("start", [(100, 1, 0.1), (75, 2.5, 0.07)])  # the two published starts
def test_pasture_yield_to_six_digits(start):
    fit = fitted(logistic, RAT42_X, RAT42_Y, np.array(start, float))
    assert fit.parameters == pytest.approx([7.2462237576e01, 2.6180768402, 6.7359200066e-02], rel=1e-6)
    assert fit.sd == pytest.approx([1.7340283401, 8.8295217536e-02, 3.4465663377e-03], rel=1e-6)
    assert fit.residual_sum == pytest.approx(8.0565229338, rel=1e-6)
    assert fit.residual_sd == pytest.approx(1.1587725499, rel=1e-6)  # 9 data, 3 parameters: 6 degrees of freedom


@pytest.mark.parametrize("start", [(100, 10, 1, 1), (700, 5, 0.75, 1.3)])
def test_onion_bulbs_to_six_digits(start):
    fit = fitted(richards, RAT43_X, RAT43_Y, np.array(start, float))
    assert fit.parameters == pytest.approx([6.9964151270e02, 5.2771253025, 7.5962938329e-01, 1.2792483859], rel=1e-6)
    assert fit.sd == pytest.approx([1.6302297817e01, 2.0828735829, 1.9566123451e-01, 6.8761936385e-01], rel=1e-6)
    assert fit.residual_sum == pytest.approx(8.7864049080e03, rel=1e-6)
    # 15 data less 4 parameters leave 11 degrees of freedom; the 9 printed there is a misprint, for the certified
    # residual standard deviation fits 11 alone.
    assert fit.residual_sd == pytest.approx(2.8262414662e01, rel=1e-6)
    assert (fit.residual_sum / 9) ** 0.5 != pytest.approx(2.8262414662e01, rel=1e-2)


def test_worked_values_of_the_logistic_and_gompertz_curves():
    # Handbook 5: logistic a 100, c 50, b 0.3, that is a / (1 + exp(ln c - b t)).
    t = np.array([0.0, 10, 20])
    assert logistic(t, 100, np.log(50), 0.3) == pytest.approx([1.960784, 28.658605, 88.972910], abs=5e-7)
    assert np.log(50) / 0.3 == pytest.approx(13.040077, abs=5e-7)
    # Gompertz a 100, b 4, c 0.3, that is a exp(-exp(ln b - c t)); at its inflexion W = a / e.
    assert gompertz(t[:2], 100, np.log(4), 0.3) == pytest.approx([1.831564, 81.942838], abs=5e-7)
    middle = np.log(4) / 0.3
    assert middle == pytest.approx(4.620981, abs=5e-7)
    assert gompertz(np.array([middle]), 100, np.log(4), 0.3) == pytest.approx(36.787944, abs=5e-7)
