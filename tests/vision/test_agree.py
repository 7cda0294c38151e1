"""Several marks in view: those that agree are averaged, of the others it is said which and by how much."""

import numpy as np
import pytest
from drawing import shelf_tray, square

from sproutlapse.tray import Plant, Scale, Tray, View
from sproutlapse.vision.agree import Reading, agreed
from sproutlapse.vision.scale import Mark, read_scale

SIZE = (640, 480)


def reading(number, mm_per_px, sd=0.002):
    return Reading(number, mm_per_px, sd, 0.008)


def test_marks_that_agree_are_averaged_and_surer_than_one():
    one, two = reading(5, 0.400), reading(8, 0.402)
    both = agreed([one, two], 30.0)
    assert both.mm_per_px == pytest.approx(0.401, abs=1e-6)
    assert both.sd_share == pytest.approx(one.whole_sd / np.sqrt(2), rel=1e-6)
    assert both.notes == () and both.used == (5, 8)


def test_a_mark_that_is_read_roughly_counts_less():
    assert agreed([reading(5, 0.400), reading(8, 0.404, sd=0.03)], 30.0).mm_per_px < 0.4005


def test_of_three_marks_the_two_that_agree_are_used():
    out = agreed([reading(5, 0.416), reading(8, 0.400), reading(9, 0.401)], 30.0)
    assert out.used == (8, 9)
    (note,) = out.notes
    assert note.startswith("Mark 5 looks 3.7% smaller than marks 8 and 9")


def test_two_marks_that_contradict_leave_the_scale_unsure_by_half_of_it():
    out = agreed([reading(5, 0.400), reading(8, 0.416)], 30.0)
    assert out.used == (5,)
    assert out.sd_share > 0.02
    assert "Nothing in view tells which is right" in out.notes[0]


@pytest.mark.parametrize(("row_mm_per_px", "right"), [(0.401, 5), (0.417, 8)])
def test_the_row_of_pots_decides_between_two_marks(row_mm_per_px, right):
    out = agreed([reading(5, 0.400), reading(8, 0.416)], 30.0, (row_mm_per_px, 0.01))
    assert out.used == (right,)
    assert out.sd_share < 0.01
    assert f"Mark {right} was used" in out.notes[0] and "Nothing in view" not in out.notes[0]


def test_small_marks_of_another_print_are_left_alone():
    assert agreed([reading(5, 0.4), reading(17, 1.0)], 30.0).notes == ()


def row_tray(row_mm, marker_mm=30.0):
    tray = shelf_tray()
    return tray.model_copy(update={"scale": Scale(marker_mm=marker_mm, row_mm=row_mm)})


def test_a_print_that_is_four_percent_small_is_found_by_the_row_of_pots():
    # Pots 340 pixels apart at 0.4 mm a pixel; the mark was typed as 30 mm and is 28.8.
    scale = read_scale(row_tray(136.0), [Mark(5, square(543, 345, 72.0))], SIZE)
    (note,) = [note for note in scale.notes if "row_mm" in note]
    assert "4.2 % more" in note and scale.sd_share > 0.02
    assert not [n for n in read_scale(row_tray(136.0), [Mark(5, square(543, 345, 75.0))], SIZE).notes if "row_mm" in n]


def test_without_a_mark_the_row_of_pots_is_the_scale():
    scale = read_scale(row_tray(136.0), [], SIZE)
    assert scale.mm_per_px == pytest.approx(0.4)
    assert 0.01 < scale.sd_share < 0.02


def lying(number, middle, wide=80.0):
    """A mark flat on the table, seen at a low slant."""
    x, y = middle
    return Mark(number, np.array([[x - wide * 0.46, y - 9], [x + wide * 0.46, y - 9], [x + wide * 0.54, y + 9],
                                  [x - wide * 0.54, y + 9]]))  # fmt: skip


def test_a_mark_that_lies_before_the_pots_is_said_and_not_used_beside_one_that_stands():
    scale = read_scale(shelf_tray(), [lying(8, (300, 450)), Mark(5, square(543, 345, 75.0))], SIZE)
    assert scale.mm_per_px == pytest.approx(0.4, rel=2e-3)
    assert any("Mark 8 lies flat" in note and "not used" in note for note in scale.notes)


def test_a_mark_that_lies_alone_gives_a_rough_scale():
    scale = read_scale(shelf_tray(), [lying(8, (300, 450))], SIZE)
    assert scale.mm_per_px is not None and scale.sd_share > 0.04
    assert any("lengths are rough" in note for note in scale.notes)


def test_the_distance_is_told_by_the_mark_and_the_cameras_own_focal_length():
    tray = Tray(
        view=View(from_="side"), scale=Scale(marker_mm=30), plants=(Plant(name="A", box_px=(0, 0, 9, 9), soil_y_px=9),)
    )
    mark = Mark(5, square(300, 200, 75.0))
    scale = read_scale(tray, [mark], SIZE, film_mm=26)
    assert scale.distance_mm == pytest.approx(26 / 43.27 * 800 * 30 / 75, rel=0.02)
    assert scale.distance_sd_mm == pytest.approx(0.05 * scale.distance_mm, rel=0.2)
    assert read_scale(tray, [mark], SIZE).distance_mm is None
    told = tray.model_copy(update={"view": View(from_="side", camera_to_plants_mm=400)})
    assert read_scale(told, [mark], SIZE, film_mm=26).distance_mm == 400
