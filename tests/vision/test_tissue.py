"""Leaves of any colour are tissue, to the edge; wet soil, shadows and specks are not."""

from functools import cache

import cv2
import numpy as np
import pytest
from drawing import GREEN, PALE, PURPLE_BLACK, SOIL_Y, bare_shelf

from sproutlapse.vision.colour import amplified_grain, to_lab, to_light
from sproutlapse.vision.tissue import clear_patches, fill_pinholes, find_tissue


@cache
def bare():
    light = np.median([to_light(bare_shelf().photo(seed=k)) for k in range(5)], axis=0).astype(np.float32)
    lab = to_lab(light)
    return light, lab, lab[..., 0] < 45


def tissue(photo):
    light, lab, dark = bare()
    sure = np.zeros(dark.shape, np.float32)
    return find_tissue(to_light(photo), light, lab, dark=dark, ground=np.zeros_like(dark), tolerance=sure)


def plain(colour):
    return lambda stage: stage.ellipse(300, 160, 40, 24, colour, plant=1, turn=20)


LEAVES = {"green": plain(GREEN), "purple and nearly black": plain(PURPLE_BLACK), "pale": plain(PALE)}


@pytest.mark.parametrize("kind", LEAVES)
def test_a_leaf_before_the_board_is_found_with_its_area(kind):
    stage = bare_shelf().with_(LEAVES[kind])
    found, true = tissue(stage.photo(seed=9)), stage.coverage()
    assert float(found.coverage.sum()) == pytest.approx(float(true.sum()), rel=0.03)
    both = found.mask & (true > 0.5)
    assert both.sum() / (found.mask | (true > 0.5)).sum() > 0.95


def test_a_stem_two_pixels_wide_is_found():
    stage = bare_shelf().with_(lambda s: s.stem(300.25, SOIL_Y, 200, 2.0))
    found = tissue(stage.photo(seed=9))
    before_board = slice(201, int(SOIL_Y) - 10)
    assert found.mask[before_board].any(axis=1).all()


def test_a_stem_before_dark_soil_is_found_down_to_its_foot():
    found = tissue(bare_shelf().with_(lambda s: s.stem(290, SOIL_Y, 250, 3.0)).photo(seed=9))
    assert found.mask[int(SOIL_Y) - 7 : int(SOIL_Y) - 1, 285:296].any(axis=1).all()


def test_wet_soil_is_no_tissue():
    assert not tissue(bare_shelf().photo(seed=9, wet=0.5)).mask.any()


def test_a_soft_shadow_on_the_board_is_no_tissue():
    shade = np.ones((480, 640), np.float32)
    cv2.ellipse(shade, (260, 150), (90, 60), 0, 0, 360, 0.85, -1)
    assert not tissue(bare_shelf().photo(seed=9, shade=cv2.GaussianBlur(shade, (0, 0), 8))).mask.any()


def test_the_bare_stage_again_holds_no_tissue():
    found = tissue(bare_shelf().photo(seed=9))
    assert not found.mask.any() and not found.coverage.any()


def test_coverage_is_whole_inside_and_nought_away_from_the_leaf():
    stage = bare_shelf().with_(plain(GREEN))
    found, true = tissue(stage.photo(seed=9)), stage.coverage()
    inside = cv2.erode((true == 1).astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
    away = cv2.dilate((true > 0).astype(np.uint8), np.ones((5, 5), np.uint8)) == 0
    assert (found.coverage[inside] == 1).all() and not found.coverage[away].any()


def test_small_holes_are_closed_and_large_ones_stay():
    mask = np.ones((40, 40), bool)
    mask[5:8, 5:8] = mask[20:30, 20:30] = False
    closed = fill_pinholes(mask, 30)
    assert closed[5:8, 5:8].all() and not closed[20:30, 20:30].any()


def test_specks_and_faint_patches_are_dropped():
    mask, distance = np.zeros((30, 30), bool), np.zeros((30, 30), np.float32)
    mask[2:4, 2:4] = mask[10:14, 10:14] = mask[20:24, 20:24] = True
    distance[mask] = 30.0
    distance[10:14, 10:14] = 9.0
    kept = clear_patches(mask, distance, np.ones_like(mask), -distance)
    assert kept[20:24, 20:24].all() and kept.sum() == 16


def test_before_the_board_the_parts_of_one_blade_hang_together_over_small_gaps():
    mask, distance = np.zeros((30, 60), bool), np.zeros((30, 60), np.float32)
    mask[10:12, 5:20], mask[10:12, 22:40], mask[25:27, 45:58] = True, True, True
    distance[mask] = 9.0
    distance[10:12, 5:20] = 30.0
    before_board = clear_patches(mask, distance, np.ones_like(mask), -distance)
    assert before_board[10:12, 22:40].all() and not before_board[25:27].any()
    assert not clear_patches(mask, distance, np.zeros_like(mask), -distance)[10:12, 22:40].any()
    bled = clear_patches(mask, distance, np.ones_like(mask), 0 * distance)
    assert not bled[10:12, 22:40].any(), "colour alone that bled over an edge is no leaf"


def test_grain_counts_more_where_white_balance_multiplied_it():
    soil = np.full((4, 4, 3), [0.05, 0.045, 0.03], np.float32)
    white, warm = amplified_grain(soil, (1.0, 1.0, 1.0)), amplified_grain(soil, (0.6, 1.1, 3.0))
    assert white == pytest.approx(0.0, abs=1e-4)
    assert (warm > 1.0).all()
    assert (amplified_grain(10 * soil, (0.6, 1.1, 3.0)) < warm).all(), "on a bright surface grain matters less"


def test_the_cream_margin_of_a_green_leaf_is_covered_by_leaf():
    bare = np.full((60, 60, 3), [0.52, 0.52, 0.52], np.float32)
    light = bare.copy()
    light[20:40, 10:50] = [0.55, 0.52, 0.30]
    light[24:36, 14:46] = [0.08, 0.19, 0.05]
    light = cv2.GaussianBlur(light, (0, 0), 0.7)
    none = np.zeros((60, 60), bool)
    found = find_tissue(light, bare, to_lab(bare), dark=none, ground=none, tolerance=np.zeros((60, 60), np.float32))
    assert found.mask[20:40, 10:50].mean() > 0.97
    assert found.coverage.sum() == pytest.approx(20 * 40, rel=0.07)
