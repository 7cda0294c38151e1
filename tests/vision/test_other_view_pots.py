"""Pots found again by a camera that was set up anew keep their names, or it is said why that would be a guess."""

import cv2
import numpy as np
import pytest
from scout_drawings import shelf

from sproutlapse.tray import Plant, Tray, View
from sproutlapse.vision.other_view import NamesInDoubt, OldView, carried, straight_row

CENTRES = (260, 420, 580, 740)
NAMES = ("west", "b", "C", "last")
SIDE = View.model_validate({"from": "side"})


def old_view(picture):
    plants = tuple(
        Plant(name=name, box_px=(x - 80, 0, x + 80, 350), soil_y_px=336.0)
        for name, x in zip(NAMES, CENTRES, strict=True)
    )
    tray = Tray(view=SIDE, plants=plants)
    return OldView([picture], picture, np.eye(2, 3), np.eye(2, 3), tray)


def seen_from(picture, *, turn=8.0, scale=0.85, shift=(20, 40)):
    size = (picture.shape[1], picture.shape[0])
    matrix = cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), turn, scale)
    matrix[:, 2] += shift
    return cv2.warpAffine(picture, matrix, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE), matrix


@pytest.fixture(scope="module")
def picture():
    return shelf(CENTRES)


def test_each_pot_keeps_its_name_and_its_soil_line(picture):
    now, matrix = seen_from(picture)
    new = carried(old_view(picture), [now], "IMG_9.JPG")
    assert [plant.name for plant in new.tray.plants] == list(NAMES)
    assert new.upright is not None
    for plant, x in zip(new.tray.plants, CENTRES, strict=True):
        there = np.vstack([new.upright, [0, 0, 1]]) @ np.append(matrix @ (x, 336.0, 1), 1)
        assert plant.soil_y_px == pytest.approx(there[1], abs=2.5)
        assert (plant.box_px[0] + plant.box_px[2]) / 2 == pytest.approx(there[0], abs=5)
    back = new.to_old @ np.array([[(p.box_px[0] + p.box_px[2]) / 2, p.soil_y_px, 1] for p in new.tray.plants]).T
    assert np.abs(back[0] - CENTRES).max() < 6


def test_a_pot_that_is_missing_leaves_the_names_in_doubt(picture):
    now, _ = seen_from(shelf(CENTRES[:3]))
    with pytest.raises(NamesInDoubt, match="4 pots are known and 3 are found"):
        carried(old_view(picture), [now], "IMG_9.JPG")


def test_the_row_from_behind_shows_no_mark_and_is_asked_about(picture):
    with pytest.raises(NamesInDoubt):
        carried(old_view(picture), [np.ascontiguousarray(picture[:, ::-1])], "IMG_9.JPG")


def test_cells_from_above_are_asked_about(picture):
    old = old_view(picture)
    above = old.tray.model_copy(update={"view": View.model_validate({"from": "above"})})
    with pytest.raises(NamesInDoubt, match="from above"):
        carried(OldView(old.first, old.last, old.matrix, old.upright, above), [picture], "IMG_9.JPG")


def test_the_first_view_gives_the_row_in_millimetres(picture):
    row = straight_row([picture], old_view(picture).tray, [0.5] * 4)
    assert row is not None
    assert np.abs(row.middles - np.array(CENTRES) * 0.5).max() < 2
