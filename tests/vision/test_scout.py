"""What stands in view is found without a tray.toml, what the person said wins, and nothing is made up."""

import cv2
import numpy as np
import pytest
from scout_drawings import shelf, tray

from sproutlapse.errors import TrayError
from sproutlapse.tray import Plant, Scale, Tray, View
from sproutlapse.vision.scout import pot_names, scout

BARE = Tray()
ROW = [220, 400, 580, 760]


def test_a_row_of_pots_before_a_board_is_a_side_view_with_pots_named_from_left_to_right():
    found = scout([shelf(ROW)], given=BARE)
    assert found.tray.view.from_ == "side"
    assert [p.name for p in found.tray.plants] == ["A", "B", "C", "D"]
    for plant, x in zip(found.tray.plants, ROW, strict=True):
        left, top, right, bottom = plant.box_px
        assert left < x - 55 and right > x + 55 and top == 0
        assert bottom > plant.soil_y_px


def test_a_grid_of_cells_is_a_view_from_above_with_cells_named_by_row_and_column():
    found = scout([tray(3, 5)], given=BARE)
    assert found.tray.view.from_ == "above"
    assert [p.name for p in found.tray.plants][:6] == ["r1c1", "r1c2", "r1c3", "r1c4", "r1c5", "r2c1"]
    assert all(p.soil_y_px is None for p in found.tray.plants)


def test_running_again_with_the_plants_found_changes_nothing():
    pictures = [shelf(ROW, seed=k) for k in (1, 2, 3)]
    first = scout(pictures, given=BARE)
    assert scout(pictures, given=first.tray).tray == first.tray
    assert first.tray.plants[0].box_px == tuple(round(v) for v in first.tray.plants[0].box_px)


def test_what_the_person_said_wins_over_what_is_seen():
    given = Tray(plants=(Plant(name="basil", box_px=(10, 0, 90, 300), soil_y_px=290),), scale=Scale(marker_mm=28.8))
    found = scout([shelf(ROW)], given=given)
    assert found.tray.plants == given.plants
    assert found.tray.scale == given.scale
    assert found.tray.view.from_ == "side"


def test_a_view_that_was_given_is_not_doubted():
    with pytest.raises(TrayError):
        scout([shelf(ROW)], given=Tray(view=View(from_="above")))


def test_the_printed_mark_is_taken_as_30_mm_and_that_is_said():
    found = scout([shelf(ROW)], given=BARE)
    assert found.tray.scale.marker_mm == 30.0
    assert any("taken as 30 mm" in note for note in found.notes)


def test_without_a_mark_no_millimetre_is_made_up():
    found = scout([shelf(ROW, mark=False)], given=BARE)
    assert found.tray.scale.marker_mm is None
    assert any("pixels" in note for note in found.notes)


@pytest.mark.parametrize("scene", ["nothing", "shaded board", "noise", "one bare line"])
def test_a_picture_without_pots_is_an_error_with_a_remedy_and_no_ghost(scene):
    picture = np.full((600, 900, 3), 190, np.uint8)
    if scene == "shaded board":
        picture = (picture * np.linspace(0.5, 1, 900)[None, :, None]).astype(np.uint8)
    if scene == "noise":
        picture = np.random.default_rng(1).integers(0, 255, picture.shape).astype(np.uint8)
    if scene == "one bare line":
        picture[400:] = 120
    with pytest.raises(TrayError) as caught:
        scout([picture], given=BARE)
    assert "tray.toml" in caught.value.remedy


def test_no_photo_at_all_is_an_error():
    with pytest.raises(TrayError):
        scout([], given=BARE)


def test_a_photo_of_three_times_the_size_gives_the_same_places_three_times_as_far():
    small = shelf(ROW)
    large = cv2.resize(small, None, fx=3, fy=3, interpolation=cv2.INTER_CUBIC)
    one, three = scout([small], given=BARE).tray, scout([large], given=BARE).tray
    for a, b in zip(one.plants, three.plants, strict=True):
        assert b.soil_y_px == pytest.approx(3 * a.soil_y_px, abs=5)
        assert np.allclose(np.array(b.box_px), 3 * np.array(a.box_px), atol=9)


def test_no_habit_is_guessed_from_the_first_photos():
    found = scout([shelf(ROW, plants=[(220, "blades"), (400, "blades"), (580, "leaves")])], given=BARE)
    assert [p.habit for p in found.tray.plants] == [None] * 4


def test_names_go_on_after_z():
    assert pot_names(28)[-3:] == ["Z", "AA", "AB"]
