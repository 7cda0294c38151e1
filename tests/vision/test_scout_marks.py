"""A square mark of another kind is named, so that nobody wonders where the millimetres are."""

import cv2
import numpy as np
import pytest
from scout_drawings import shelf

from sproutlapse.tray import Tray
from sproutlapse.vision.scout import scout
from sproutlapse.vision.scout_marks import other_mark


def _photo(family: int, number: int, side: int = 90) -> np.ndarray:
    picture = np.full((300, 400), 215.0)
    code = cv2.aruco.generateImageMarker(cv2.aruco.getPredefinedDictionary(family), number, side)
    picture[100 : 100 + side, 150 : 150 + side] = 20 + 0.78 * code
    picture = cv2.GaussianBlur(picture, (0, 0), 0.7) + np.random.default_rng(2).normal(0, 1.0, picture.shape)
    return np.dstack([np.clip(np.round(picture), 0, 255).astype(np.uint8)] * 3)


@pytest.mark.parametrize(
    ("family", "number", "kind"),
    [
        (cv2.aruco.DICT_5X5_100, 7, "5 x 5"),
        (cv2.aruco.DICT_6X6_250, 40, "6 x 6"),
        (cv2.aruco.DICT_4X4_250, 200, "above 49"),
    ],
)
def test_a_mark_of_another_kind_is_named_with_its_place(family, number, kind):
    told = other_mark(_photo(family, number))
    assert "another kind" in told
    assert kind in told
    assert f"number {number}" in told
    assert "x 19" in told


def test_where_no_mark_is_seen_nothing_is_said():
    noise = np.random.default_rng(5).integers(0, 256, (300, 400, 3)).astype(np.uint8)
    assert other_mark(noise) == ""
    assert other_mark(np.full((300, 400, 3), 215, np.uint8)) == ""


def test_the_notes_name_the_other_mark_and_leave_out_the_millimetres():
    picture = shelf([220, 400, 580, 760], mark=False)
    picture[20:130, 20:130] = 235
    code = cv2.aruco.generateImageMarker(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_100), 7, 80)
    picture[35:115, 35:115] = (20 + 0.78 * code).astype(np.uint8)[..., None]
    notes = " ".join(scout([picture], given=Tray()).notes)
    assert "another kind" in notes
    assert "without millimetres" in notes
