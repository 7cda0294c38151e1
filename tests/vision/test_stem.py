"""The bare stem ends where the lowest leaf is attached, whichever way the leaves point."""

import numpy as np
import pytest
from drawing import MM, SOIL_Y, Stage, seedling

from sproutlapse.vision.stem import bare_stem, row_runs, stems_at

TALL = 80.0


def stem_mm(*drawings, x=300.0, foot_x=None):
    cover = Stage().with_(*drawings).coverage()
    found = bare_stem(cover > 0.5, cover, foot_x or x, SOIL_Y, mm_per_px=MM)
    return None if found is None else found.height_px * MM


@pytest.mark.parametrize("rise", [-12.0, 8.0, 20.0, 32.0])
def test_bare_stem_reaches_to_the_seed_leaves_whether_they_hang_or_rise(rise):
    assert stem_mm(seedling(300.0, TALL, rise=rise)) == pytest.approx(TALL * MM, abs=1.0)


def test_a_leaning_stem_is_followed_to_its_leaves():
    assert stem_mm(seedling(300.0, TALL, lean=40.0)) == pytest.approx(TALL * MM, abs=1.0)


def test_a_stem_without_leaves_is_bare_to_its_top():
    assert stem_mm(lambda s: s.stem(300, SOIL_Y, SOIL_Y - 60, 4.0)) == pytest.approx(60 * MM, abs=0.5)


def test_the_lower_pair_of_leaves_ends_the_bare_stem():
    def upper(stage):
        seedling(300.0, 120, reach=50)(stage)

    assert stem_mm(upper, seedling(300.0, 60, rise=10)) == pytest.approx(60 * MM, abs=1.0)


def test_stem_width_is_what_was_drawn():
    cover = Stage().with_(seedling(300.0, TALL)).coverage()
    found = bare_stem(cover > 0.5, cover, 300.0, SOIL_Y, mm_per_px=MM)
    assert found.width_px == pytest.approx(4.0, abs=0.3)


def test_no_tissue_has_no_stem():
    nothing = np.zeros((60, 60), np.float32)
    assert bare_stem(nothing > 0, nothing, 30, 50, mm_per_px=MM) is None


def test_runs_of_a_row_are_first_and_last_columns():
    assert row_runs(np.array([1, 1, 0, 1, 0, 0, 1], bool)) == [(0, 1), (3, 3), (6, 6)]
    assert row_runs(np.zeros(5, bool)) == []


def test_seedlings_of_a_pot_are_counted_by_their_stems():
    stage = Stage()
    for x in (280, 300, 320):
        stage.stem(x, SOIL_Y, SOIL_Y - 50, 4.0)
    assert stems_at(stage.coverage() > 0.5, SOIL_Y, 10.0) == 3
