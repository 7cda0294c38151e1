"""Shadows that leaves cast on labels and the board."""

import numpy as np
import pytest
from drawing import INK, SOIL_Y, WHITE, bare_shelf, shelf_tray

from sproutlapse.vision.colour import to_lab
from sproutlapse.vision.reference import make_reference
from sproutlapse.vision.shade import cast_shade

TRAY = shelf_tray()
PAPER, BOARD = np.float32([0.6, 0.6, 0.58]), np.float32([0.62, 0.60, 0.55])


def on_surface(change, cast=1.0):
    """Shade found on a bright surface (80 x 80 pixels) that `change` alters; a label covers the left half."""
    bare = np.full((80, 80, 3), BOARD, np.float32)
    bare[:, :40] = PAPER
    light = bare.copy()
    change(light)
    labels = np.zeros((80, 80), bool)
    labels[:, :40] = True
    return cast_shade(
        (light, to_lab(light)), (bare, to_lab(bare)), np.ones((80, 80), bool), labels, wide_px=9.0, cast=cast
    )


def dim(rows, columns, share):
    def change(light):
        light[rows, columns] *= np.float32(share)

    return change


def test_a_wide_neutral_shadow_is_known_with_its_depth():
    shade = on_surface(dim(slice(20, 50), slice(50, 75), 0.6))
    assert shade[25:45, 55:70] == pytest.approx(0.6, abs=0.01)
    assert shade[60:, 50:] == pytest.approx(1.0)


def test_a_stem_of_the_boards_own_tint_is_no_shadow():
    assert on_surface(dim(slice(0, 80), slice(55, 60), 0.5)) is None


def test_a_shadow_on_a_label_may_be_narrow():
    shade = on_surface(dim(slice(30, 37), slice(5, 35), 0.5))
    assert shade[33, 20] == pytest.approx(0.5, abs=0.02)


def test_under_a_lamp_of_strong_colour_a_deep_shadow_on_a_label_may_be_tinted():
    def under_a_leaf(light):
        light[20:50, 5:35] *= np.float32([0.45, 0.5, 0.38])

    assert on_surface(under_a_leaf) is None
    shade = on_surface(under_a_leaf, cast=4.0)
    assert shade[35, 20] == pytest.approx([0.45, 0.5, 0.38], abs=0.02)


def test_a_pale_leaf_before_a_label_is_no_shadow():
    assert on_surface(lambda light: light.__setitem__((slice(20, 50), slice(5, 35)), [0.45, 0.55, 0.28])) is None


def test_a_green_leaf_is_no_shadow():
    assert on_surface(lambda light: light.__setitem__((slice(20, 50), slice(50, 75)), [0.09, 0.2, 0.06])) is None


def test_a_nearly_black_leaf_is_no_shadow():
    assert on_surface(dim(slice(20, 50), slice(50, 75), 0.08)) is None


def test_without_change_there_is_no_shadow():
    assert on_surface(lambda light: None) is None


def test_the_writing_on_a_label_does_not_break_it():
    def stick(stage):
        stage.box(300, 200, 340, SOIL_Y, WHITE)
        for k in range(4):
            stage.box(306, 215 + 12 * k, 330, 218 + 12 * k, INK)

    stage = bare_shelf().with_(stick)
    first = make_reference([stage.photo(seed=k) for k in range(7)], TRAY, "x")
    assert first.labels[210:300, 305:335].mean() > 0.95
    assert first.occupied == (False, False, False)
