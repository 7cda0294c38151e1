"""sRGB and CIELAB against the standards, and against a library that many use."""

import numpy as np
import pytest
from skimage.color import rgb2lab

from sproutlapse.vision.colour import decode_srgb, encode_srgb, to_lab, to_light

# IEC 61966-2-1 (sRGB): the decoding and encoding formulas, worked out to nine digits.
DECODED = [(0.5, 0.214041140), (128 / 255, 0.215860500), (200 / 255, 0.577580440), (0.04045, 0.0031308050)]
ENCODED = [(0.18, 0.461356130), (0.5, 0.735356983)]

# CIE 15 (CIELAB), D65 and 2 degree observer (95.047, 100, 108.883), of sRGB bytes by the matrix of IEC 61966-2-1.
# Red is quoted as 53.24, 80.09, 67.20 in public test code of colour libraries; the rest is worked out by the formulas.
# A tolerance of 0.02 lets the matrix of four digits and that of seven pass.
LAB = [
    ((255, 0, 0), (53.2408, 80.0925, 67.2032)),
    ((0, 255, 0), (87.7347, -86.1827, 83.1793)),
    ((0, 0, 255), (32.2970, 79.1875, -107.8602)),
    ((255, 255, 255), (100.0, 0.0, 0.0)),
    ((128, 128, 128), (53.5850, 0.0, 0.0)),
    ((60, 140, 50), (51.776, -42.590, 39.730)),
    ((90, 40, 80), (24.547, 28.887, -14.113)),
]
TOLERANCE = 0.02


@pytest.mark.parametrize(("value", "light"), DECODED)
def test_srgb_is_decoded_as_the_standard_says(value, light):
    assert float(decode_srgb(np.array(value))) == pytest.approx(light, abs=1e-9)


@pytest.mark.parametrize(("light", "value"), ENCODED)
def test_srgb_is_encoded_as_the_standard_says(light, value):
    assert float(encode_srgb(np.array(light))) == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(("srgb", "lab"), LAB)
def test_cielab_of_srgb_colours(srgb, lab):
    found = to_lab(to_light(np.array(srgb, np.uint8).reshape(1, 1, 3)))[0, 0]
    assert found == pytest.approx(lab, abs=TOLERANCE)


def test_cielab_of_many_colours_agrees_with_another_library():
    """Reference: skimage.color.rgb2lab, D65 and 2 degree observer."""
    picture = np.random.default_rng(2).integers(0, 256, (40, 50, 3), dtype=np.uint8)
    assert np.abs(to_lab(to_light(picture)) - rgb2lab(picture)).max() < TOLERANCE
