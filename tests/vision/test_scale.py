"""The printed mark is measured without bias, and every doubt about it is said."""

import cv2
import numpy as np
import pytest
from drawing import Stage, shelf_tray, square

from sproutlapse.errors import TrayError
from sproutlapse.tray import Plant, Scale, Tray, View
from sproutlapse.vision.colour import to_light
from sproutlapse.vision.scale import Mark, find_marks, read_scale


def marks_of(stage, **how):
    photo = stage.photo(seed=3, **how)
    return find_marks(photo, to_light(photo))


def stage():
    return Stage().table(420)


def turned(corners, degrees):
    """Corners turned about their middle."""
    middle = corners.mean(axis=0)
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return (corners - middle) @ np.array([[c, s], [-s, c]]) + middle


@pytest.mark.parametrize("gain", [0.7, 1.0])
@pytest.mark.parametrize("side", [75.0, 120.0, 200.0])
def test_the_side_of_a_black_square_is_read_to_a_thousandth(side, gain):
    (mark,) = marks_of(stage().mark(square(200.25, 150.5, side)), gain=gain)
    assert mark.number == 5
    assert mark.side_px == pytest.approx(side, rel=0.001)


def test_a_turned_mark_is_read_to_a_thousandth():
    corners = turned(square(250.0, 150.0, 100.0), 11.0)
    (mark,) = marks_of(stage().mark(corners))
    assert mark.side_px == pytest.approx(100.0, rel=0.001)
    assert np.abs(mark.corners - corners).max() < 0.2


def test_a_mark_that_leans_back_keeps_its_upper_and_lower_side():
    corners = np.array([[203, 160], [297, 160], [300, 245], [200, 245]], float)
    (mark,) = marks_of(stage().mark(corners))
    assert mark.side_px == pytest.approx((94 + 100) / 2, rel=0.001)


def test_a_small_mark_is_read_to_a_hundredth():
    (mark,) = marks_of(stage().mark(square(300.25, 150.5, 28.0)))
    assert mark.side_px == pytest.approx(28.0, rel=0.01)


def test_a_mark_of_another_dictionary_is_not_read():
    assert marks_of(stage().mark(square(200, 150, 120.0), number=7, dictionary=cv2.aruco.DICT_6X6_50)) == []


def test_several_marks_come_largest_first():
    found = marks_of(stage().mark(square(100, 150, 60.0), number=2).mark(square(300, 150, 90.0), number=9))
    assert [mark.number for mark in found] == [9, 2]


def test_scale_is_the_typed_side_over_the_side_in_the_picture():
    scale = read_scale(shelf_tray(), [Mark(5, square(0, 0, 75.0))], (640, 480))
    assert scale.mm_per_px == pytest.approx(0.4, rel=1e-3)
    assert scale.at(shelf_tray().plants[0]) == pytest.approx(0.4, rel=1e-3)
    assert 0 < scale.sd_share < 0.02


def test_a_side_that_nobody_typed_is_taken_as_thirty_and_said():
    scale = read_scale(Tray(), [Mark(5, square(0, 0, 75.0))], (640, 480))
    assert scale.mm_per_px == pytest.approx(0.4, rel=1e-3)
    assert any("30 mm" in note for note in scale.notes)


def test_a_mark_that_is_too_small_is_said_and_gives_no_number():
    scale = read_scale(shelf_tray(), [Mark(5, square(0, 0, 12.0))], (640, 480))
    assert scale.mm_per_px is None
    assert any("too small" in note and "12 pixels" in note for note in scale.notes)


def test_without_a_mark_it_is_said_that_sizes_are_in_pixels():
    scale = read_scale(shelf_tray(), [], (640, 480))
    assert scale.mm_per_px is None and scale.at(shelf_tray().plants[0]) is None
    assert any("pixels only" in note for note in scale.notes)


def test_two_marks_that_contradict_each_other_are_said_with_which_and_how_much():
    scale = read_scale(shelf_tray(), [Mark(5, square(0, 0, 75.0)), Mark(8, square(200, 0, 72.0))], (640, 480))
    (note,) = [note for note in scale.notes if "Mark 8" in note]
    assert "4.0% smaller" in note and "mark 5" in note


def test_two_marks_that_agree_need_no_word():
    marks = [Mark(5, square(0, 0, 75.0)), Mark(8, square(200, 0, 74.8))]
    assert read_scale(shelf_tray(), marks, (640, 480)).notes == ()


def test_two_points_and_a_length_make_a_scale_without_a_mark():
    told = Scale(from_px=(100, 100), to_px=(400, 500), length_mm=200)
    assert read_scale(Tray(scale=told), [], (640, 480)).mm_per_px == pytest.approx(0.4)


def test_a_mark_behind_the_plants_makes_them_nearer_and_so_smaller_in_truth():
    tray = Tray(
        view=View(from_="above", camera_to_plants_mm=950),
        scale=Scale(marker_mm=30, behind_plants_mm=50),
        plants=(Plant(name="A", box_px=(0, 0, 9, 9)), Plant(name="B", box_px=(10, 0, 19, 9), behind_mm=100)),
    )
    scale = read_scale(tray, [Mark(5, square(0, 0, 75.0))], (640, 480))
    assert [scale.at(p) for p in tray.plants] == pytest.approx([0.4 * 950 / 1000, 0.4 * 1050 / 1000], rel=1e-3)


def test_a_depth_without_the_cameras_distance_ends_with_the_key_to_write():
    tray = Tray(scale=Scale(marker_mm=30, behind_plants_mm=50))
    with pytest.raises(TrayError, match="how far the camera stands"):
        read_scale(tray, [Mark(5, square(0, 0, 75.0))], (640, 480))


@pytest.mark.parametrize("told", [{"marker_mm": 30.0}, {"from_px": (10, 10), "to_px": (110, 10), "length_mm": 30.0}])
def test_a_length_that_the_person_is_unsure_of_makes_the_scale_so(told):
    marks = [Mark(5, square(250.0, 150.0, 100.0))]
    plain, rough = (
        read_scale(Tray(view=View(**{"from": "side"}), scale=Scale(**told, **more)), marks, (640, 480))
        for more in ({}, {"within_mm": 2.4})
    )
    assert rough.mm_per_px == plain.mm_per_px
    assert rough.sd_share**2 == pytest.approx(plain.sd_share**2 + 0.04**2)
