"""A pot that was turned in place shows other crumbs and specks, and its label stands elsewhere: none of it is plant."""

from functools import cache

import numpy as np
import pytest
from drawing import CENTRES, MM, SOIL_Y, WHITE, Stage, seedling, shelf_tray, square

from sproutlapse.vision.labels import read_labels
from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import make_reference
from sproutlapse.vision.regrained import OWN_PATTERN, without_crumbs

TRAY = shelf_tray()
STEMS = (80.0, 50.0, 110.0)
GROWN = tuple(seedling(x, h, plant=k) for k, (x, h) in enumerate(zip(CENTRES, STEMS, strict=True), 1))


def shelf(turned=(), *, label=0.0, written=False):
    """Three pots, those that were turned with other soil; a label so far beside the middle of the first, 0 for none."""
    stage = Stage().table(410)
    for k, x in enumerate(CENTRES):
        stage.pot(x, SOIL_Y, seed=500 if k in turned else 0)
        # White specks that are seen best from wherever the pot is looked at.
        for n in range(5):
            at = x - 38 + 17 * n + (9 if k in turned else 0)
            stage.box(at, SOIL_Y - 2, at + 3, SOIL_Y + 1, WHITE)
    if label:
        left = CENTRES[0] + label
        stage.box(left - 8, SOIL_Y - 90, left + 8, SOIL_Y + 2, (150, 149, 146))
        for line in (80, 72, 30) if written else ():
            stage.box(left - 5, SOIL_Y - line, left + 4, SOIL_Y - line + 3, (40, 38, 40))
    return stage.mark(square(543.0, 345.0))


@cache
def reference(label=0.0):
    return make_reference([shelf(label=label).photo(seed=k) for k in range(7)], TRAY, "turned")


def measured(stage, seed, label=0.0):
    return measure(stage.photo(seed=seed), reference(label), TRAY)


def test_soil_that_nobody_turned_shows_its_own_pattern_wet_or_dry():
    for wet in (1.0, 0.55):
        found = measure(shelf().with_(*GROWN).photo(seed=11, wet=wet), reference(), TRAY)
        assert min(p.soil_same for p in found.plants) > OWN_PATTERN + 0.1


def test_a_turned_pot_is_told_by_its_soil_and_its_plant_keeps_height_and_area():
    before, after = measured(shelf().with_(*GROWN), 12), measured(shelf((1,)).with_(*GROWN), 13)
    assert after.plants[1].soil_same < OWN_PATTERN < after.plants[0].soil_same
    for was, now in zip(before.plants, after.plants, strict=True):
        assert now.height_px * MM == pytest.approx(was.height_px * MM, abs=0.5)
        assert now.tissue_px == pytest.approx(was.tissue_px, rel=0.06)


def test_a_turned_pot_in_which_nothing_is_up_shows_no_plant():
    found = measured(shelf((0, 1, 2)), 14)
    assert [p.tissue_px for p in found.plants] == pytest.approx([0.0] * 3, abs=12.0)


def test_a_label_that_was_turned_along_is_no_plant():
    before = measured(shelf(label=30.0).with_(*GROWN), 15, 30.0)
    after = measured(shelf((0,), label=-30.0).with_(*GROWN), 16, 30.0)
    was, now = before.plants[0], after.plants[0]
    assert now.soil_same < OWN_PATTERN
    assert now.height_px == pytest.approx(was.height_px, abs=2.0)
    assert now.tissue_px == pytest.approx(was.tissue_px, rel=0.15)
    own = read_labels(after.labels_png)[: int(SOIL_Y) - 12]
    assert set(own[:, round(CENTRES[0]) - 39 : round(CENTRES[0]) - 36].ravel()) == {0}


def test_writing_on_a_turned_label_is_no_leaf_and_a_leaf_before_it_is_no_writing():
    def leaf(stage):
        stage.ellipse(CENTRES[0] - 24, SOIL_Y - 52, 26, 5, (70, 135, 50), plant=1)

    photo = shelf((0,), label=-30.0, written=True).with_(*GROWN, leaf).photo(seed=17)
    own = read_labels(measure(photo, reference(30.0), TRAY).labels_png)[: int(SOIL_Y)]
    label = slice(round(CENTRES[0]) - 38, round(CENTRES[0]) - 21)
    assert {own[int(SOIL_Y) - line + 1, label].max() for line in (80, 72, 30)} == {0}
    assert own[int(SOIL_Y) - 52, round(CENTRES[0]) - 44] == 1
    assert (own[int(SOIL_Y) - 52, label] == 1).all()


def test_crumbs_of_stirred_soil_are_no_part_of_a_plant_that_rises_above_them():
    own = np.zeros((60, 80), bool)
    own[10:50, 40:43] = True
    own[46:49, 10:16] = True
    kept = without_crumbs(own, (0.0, 42.0, 80.0, 56.0))
    assert kept[10:50, 40:43].all()
    assert not kept[:, :30].any()
    own[:42] = False
    assert (without_crumbs(own, (0.0, 42.0, 80.0, 56.0)) == own).all(), "nothing rises: a sprout may be among them"
