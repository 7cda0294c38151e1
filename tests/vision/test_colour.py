"""Light and colour: what a camera wrote becomes light again, and mere shading is no other colour."""

import numpy as np
import pytest

from sproutlapse.vision.colour import colour_distance, decode_srgb, encode_srgb, median_of, to_lab, to_light


def distance(one, other, dimmest=0.66, brightest=1.15):
    lab, bare = (to_lab(np.asarray(c, np.float32).reshape(1, 1, 3)) for c in (one, other))
    limits = (np.full((1, 1), v, np.float32) for v in (dimmest, brightest))
    return float(colour_distance(lab, bare, *limits)[0, 0])


def test_every_byte_comes_back_from_light():
    byte = np.arange(256)
    assert np.array_equal(np.round(encode_srgb(decode_srgb(byte / 255.0)) * 255), byte)


def test_the_balance_multiplies_light_and_not_bytes():
    picture = np.full((2, 2, 3), 128, np.uint8)
    light = to_light(picture, (2.0, 1.0, 0.5))
    assert np.allclose(light[0, 0] / to_light(picture)[0, 0], [2.0, 1.0, 0.5], rtol=1e-6)
    assert light.shape == picture.shape


def test_soil_that_was_watered_is_no_other_colour():
    soil = np.array([0.045, 0.03, 0.022])
    assert distance(0.5 * soil, soil) < 1.0


def test_a_soft_shadow_on_the_board_is_no_other_colour():
    board = np.array([0.62, 0.61, 0.58])
    assert distance(0.85 * board, board, 0.88, 1.06) < 1.0


def test_a_leaf_is_another_colour_than_board_and_soil_whatever_its_shade():
    leaf = np.array([0.06, 0.24, 0.03])
    for bare in ([0.62, 0.61, 0.58], [0.045, 0.03, 0.022]):
        for shade in (0.5, 1.0, 1.5):
            assert distance(shade * leaf, bare) > 15.0


def test_a_shadow_deeper_than_the_limits_counts():
    board = np.array([0.62, 0.61, 0.58])
    assert distance(0.2 * board, board, 0.88, 1.06) > 20.0


@pytest.mark.parametrize("count", range(1, 9))
def test_the_median_of_pictures_is_numpys(count: int):
    planes = [np.random.default_rng(k).random((31, 40, 3), np.float32) for k in range(count)]
    kept = [plane.copy() for plane in planes]
    assert np.array_equal(median_of(planes), np.median(np.stack(planes), axis=0).astype(np.float32))
    assert all(np.array_equal(a, b) for a, b in zip(planes, kept, strict=True))
