"""Where a camera that was set up anew begins to show another view, and whether the plants there can be the same."""

from pathlib import Path

import numpy as np
import pytest

from sproutlapse.tray import Tray
from sproutlapse.vision.findings import Findings
from sproutlapse.work.settle import ViewScale
from sproutlapse.work.store import Store
from sproutlapse.work.views import View, begins, measured, past_view, same_plants, unlike

LOST = "camera moved: what stands still was not found again in this photo"


def test_three_photos_in_a_row_begin_another_view_and_dark_ones_between_say_nothing():
    assert begins(["", "", LOST, "dark: no light", LOST, LOST]) == 2


@pytest.mark.parametrize("why", [["", LOST, LOST], ["", LOST, LOST, "", LOST, LOST], [""] * 5])
def test_fewer_in_a_row_do_not(why):
    assert begins(why) is None


@pytest.mark.parametrize(("shown", "end"), [("oooxxx", 3), ("oxoxxx", 3), ("oo o", 4), ("oxxo", 4)])
def test_a_view_that_cannot_be_told_ends_with_its_last_photo_before_three_of_others(shown, end):
    photos = list(range(len(shown)))
    why = ["" if one == " " else LOST for one in shown]
    assert past_view(photos, why, 0, lambda k: shown[k] == "o") == end


def heights(*mm):
    return [np.array(mm, float)] * 3


@pytest.mark.parametrize("after", [heights(52, 21, 0), heights(47, 24, 3), heights(54, 5, 0)])
def test_plants_of_about_the_same_heights_are_the_same(after):
    assert same_plants(unlike(heights(50, 20, 0), after, 0.5))


@pytest.mark.parametrize("after", [heights(20, 50, 0), heights(0, 0, 0), heights(90, 70, 60)])
def test_plants_of_other_heights_are_of_another_tray(after):
    assert not same_plants(unlike(heights(50, 20, 0), after, 0.5))


def test_bare_pots_contradict_nothing():
    assert same_plants(unlike(heights(0, 0, 0), heights(0, 2, 1), 0.5))


def test_a_plant_of_which_a_piece_is_seen_is_told_from_those_that_agree():
    assert unlike(heights(57, 23, 16, 2), heights(4, 23, 16, 2), 0.5)[:3].tolist() == [1.0, 0.0, 0.0]


def test_a_view_comes_back_from_the_store_as_it_was():
    view = View(
        "abc", "IMG_0031.JPG", Tray(), ViewScale((0.4, 0.41), 0.01, (1,)), ("d1", "d2"), (1, 0, 3.5, 0, 1, 2.25)
    )
    assert View.from_values(view.to_values()) == view


def test_a_late_photo_that_is_gone_is_passed_over_when_an_earlier_one_makes_the_first_view_anew(tmp_path: Path):
    view = View("view", "IMG_0031.JPG", Tray(), ViewScale((), 0.01), ())
    with Store(tmp_path) as store:
        for digest in ("there", "gone"):
            store.keep(digest, "", {}, "view", Findings("", shift_px=2.0))
        store.keep("there", "", {}, "first anew", Findings(LOST))  # the other was gone before that view was made anew
        told = measured(store, "first anew", [view])
    assert dict(told.view) == {"there": 1}
    assert set(told.found) == {"there"}
