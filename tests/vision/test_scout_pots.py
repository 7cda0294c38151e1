"""Pots of any colour are found, labels, cards and plants are no pots, and the soil line is the rim's middle."""

import cv2
import numpy as np
import pytest
from scout_drawings import shelf

from sproutlapse.errors import TrayError
from sproutlapse.tray import Tray
from sproutlapse.vision.scout import scout

ROW = [220, 400, 580, 760]
BLACK, GREEN, TERRACOTTA, GREY, WHITE = (25, 25, 27), (60, 110, 55), (176, 96, 60), (120, 120, 120), (232, 231, 228)


def soil_lines(picture):
    return [p.soil_y_px for p in scout([picture], given=Tray()).tray.plants]


@pytest.mark.parametrize("colour", [BLACK, GREEN, TERRACOTTA, GREY, WHITE])
def test_pots_of_any_colour_are_found_with_their_soil_line(colour):
    lines = soil_lines(shelf(ROW, pot=colour))
    assert len(lines) == 4
    # The soil stands a little below the rim's middle, by a good millimetre: two pixels for these pots.
    assert lines == pytest.approx([332] * 4, abs=2.5)


@pytest.mark.parametrize("flat", [0.04, 0.1, 0.25])
def test_the_soil_line_does_not_depend_on_how_high_the_camera_stands(flat):
    assert soil_lines(shelf(ROW, flat=flat)) == pytest.approx([332] * 4, abs=2.5)


def test_pots_whose_rims_touch_are_told_apart():
    assert len(soil_lines(shelf([220, 341, 462, 583, 704]))) == 5


@pytest.mark.parametrize("centres", [[300, 600], [150 + 62 * k for k in range(12)]])
def test_two_pots_and_twelve_are_found(centres):
    half = 60 if len(centres) == 2 else 27
    assert len(soil_lines(shelf(centres, half=half))) == len(centres)


def test_a_label_and_plants_that_stand_already_do_not_move_the_soil_line():
    plants = [(220, "leaves"), (400, "blades"), (580, "leaves")]
    lines = soil_lines(shelf(ROW, plants=plants, label=770))
    assert lines == pytest.approx([332] * 4, abs=2.5)


def test_the_scale_card_is_no_pot():
    tray = scout([shelf(ROW)], given=Tray()).tray
    assert all(p.box_px[0] > 110 for p in tray.plants)


def test_a_box_ends_half_way_to_the_neighbouring_pot():
    boxes = [p.box_px for p in scout([shelf(ROW)], given=Tray()).tray.plants]
    for (_, _, right, _), (left, _, _, _), middle in zip(boxes, boxes[1:], (310, 490, 670), strict=False):
        assert right == pytest.approx(middle, abs=4)
        assert left == pytest.approx(middle, abs=4)


def paper(width=900, height=500):
    """A sheet of paper lit a little more strongly on the left, with the noise of a small sensor."""
    light = 215 * np.linspace(1.03, 0.95, width)[None, :, None] * np.ones((height, 1, 3))
    return light + np.random.default_rng(3).normal(0, 1.2, light.shape)


def as_photo(picture):
    return np.clip(np.round(picture), 0, 255).astype(np.uint8)


def test_a_leaf_on_paper_is_no_pot():
    picture = paper()
    outline = [
        (60, 260),
        (180, 150),
        (400, 110),
        (620, 150),
        (840, 260),
        (620, 370),
        (480, 400),
        (430, 440),
        (370, 400),
    ]
    cv2.fillPoly(picture, [np.array([*outline, (180, 350)])], (70, 120, 45))
    with pytest.raises(TrayError, match="neither pots nor the cells"):
        scout([as_photo(cv2.GaussianBlur(picture, (0, 0), 1.0))], given=Tray())


def test_posts_that_run_out_of_the_picture_at_the_top_are_no_pots():
    picture = paper()
    for left in (60, 300, 700):
        picture[:420, left : left + 60] = (90, 92, 95)
    with pytest.raises(TrayError, match="neither pots nor the cells"):
        scout([as_photo(picture)], given=Tray())


def test_a_dark_cloth_instead_of_a_board_is_named():
    cloth = np.random.default_rng(3).normal(28, 1.5, (500, 900, 3))
    with pytest.raises(TrayError, match="what lies behind is dark"):
        scout([as_photo(cloth)], given=Tray())


def test_one_pot_alone_is_named_as_doubtful():
    alone = scout([shelf([420])], given=Tray())
    assert len(alone.tray.plants) == 1
    assert any("Only one thing that looks like a pot" in note for note in alone.notes)


def test_a_card_whose_mark_cannot_be_read_is_no_pot():
    picture = shelf(ROW)
    card = slice(370, 490), slice(0, 128)  # where the drawn card stands
    blurred = picture.copy()
    blurred[card] = cv2.GaussianBlur(picture, (0, 0), 4)[card]
    found = scout([blurred], given=Tray())
    assert len(found.tray.plants) == 4
    assert any("too small, blurred or partly hidden" in note for note in found.notes)


def test_a_board_that_ends_within_the_picture_still_shows_the_pots_before_it():
    picture = shelf(ROW)
    picture[:40] = 30
    picture[:, :60] = 30
    picture[:, -60:] = 30
    assert len(soil_lines(picture)) == 4
