"""Light conversions against published values: handbook 2.5."""

import pytest

from sproutlapse.growth.light_sum import Band, daily_light_band, daily_light_mol, ppfd_band, umol_from_lux


# "200 umol x 16 h = 11.52; 500 x 16 = 28.8; 150 x 12 = 6.48; 200 x 14 = 10.08; 300 x 16 = 17.28" (DERIVED)
@pytest.mark.parametrize(
    ("umol", "hours", "mol"), [(200, 16, 11.52), (500, 16, 28.8), (150, 12, 6.48), (200, 14, 10.08), (300, 16, 17.28)]
)
def test_daily_light_is_what_the_handbook_derives(umol, hours, mol):
    assert daily_light_mol(umol, hours) == pytest.approx(mol, abs=1e-9)


# "10,000 lux equals: sun 185.2; cool white 135.1; HPS 122.0; MH 140.8; incandescent 200.0 umol" (Thimijan & Heins 1983)
@pytest.mark.parametrize(
    ("source", "umol"),
    [
        ("sun", 185.2),
        ("cool white tube", 135.1),
        ("high-pressure sodium", 122.0),
        ("metal halide", 140.8),
        ("incandescent", 200.0),
    ],
)
def test_ten_thousand_lux_by_source(source, umol):
    assert umol_from_lux(10_000, source) == pytest.approx(umol, abs=0.05)


# A second data set (Deitzer 1994): cool white 78.75, which the band of a tube must hold.
def test_the_band_of_a_tube_holds_both_published_values():
    band = ppfd_band(10_000, "tube")
    assert band.least <= 10_000 / 78.75 <= 10_000 / 74 <= band.most


def test_the_band_of_any_lamp_holds_every_published_source():
    band = ppfd_band(10_000, None)
    assert band.least <= 122.0
    assert band.most >= 200.0


def test_a_days_band_holds_the_plain_product():
    band = daily_light_band(Band(190, 210), Band(15.5, 16.5))
    assert band.least < 11.52 < band.most
