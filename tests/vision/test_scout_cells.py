"""The cells of a seed tray are found from above, whatever its size, turn and growth."""

import cv2
import numpy as np
import pytest
from scout_drawings import tray

from sproutlapse.tray import Tray
from sproutlapse.vision.scout import scout


def boxes(picture):
    return {p.name: p.box_px for p in scout([picture], given=Tray()).tray.plants}


def true_box(row, column, pitch, left=70.0, top=60.0):
    x, y = left + column * pitch, top + row * pitch
    return np.array([x, y, x + pitch, y + pitch]) - 0.5


@pytest.mark.parametrize(("rows", "columns", "pitch"), [(4, 6, 84.0), (3, 5, 110.0), (6, 12, 52.5), (2, 3, 120.0)])
@pytest.mark.parametrize("plants", [False, True])
def test_every_cell_is_found_to_three_pixels(rows, columns, pitch, plants):
    found = boxes(tray(rows, columns, pitch=pitch, plants=plants))
    assert len(found) == rows * columns
    for row in range(rows):
        for column in range(columns):
            away = np.abs(np.array(found[f"r{row + 1}c{column + 1}"]) - true_box(row, column, pitch))
            assert away.max() <= 3


def test_a_green_tray_on_a_dark_table_is_found():
    assert len(boxes(tray(4, 6, colour=(60, 110, 55), floor=40))) == 24


def test_a_tray_lying_two_degrees_askew_has_its_cells_about_their_true_centres():
    picture = tray(4, 6, turn=2.0)
    found = boxes(picture)
    centre = ((picture.shape[1] - 1) / 2, (picture.shape[0] - 1) / 2)
    turning = cv2.getRotationMatrix2D(centre, 2.0, 1)
    assert len(found) == 24
    for row, column in ((0, 0), (0, 5), (3, 0), (3, 5)):
        left, top, right, bottom = true_box(row, column, 84.0)
        true = turning @ np.array([(left + right) / 2, (top + bottom) / 2, 1])
        left, top, right, bottom = found[f"r{row + 1}c{column + 1}"]
        assert np.hypot((left + right) / 2 - true[0], (top + bottom) / 2 - true[1]) < 4
