"""From above, cover belongs to the plant whose cell it grew from, even where it reaches beyond."""

import cv2
import numpy as np

from sproutlapse.tray import Plant, Tray, View
from sproutlapse.vision.cells import above_labels

PITCH = 80


def tray():
    plants = tuple(
        Plant(name=f"r1c{k + 1}", box_px=(20 + k * PITCH, 20, 20 + k * PITCH + PITCH - 1, 20 + PITCH - 1))
        for k in range(3)
    )
    return Tray(view=View(from_="above"), plants=plants)


def blob(mask, x, y, long, short=8):
    cv2.ellipse(mask, (x, y), (long, short), 0, 0, 360, 1, -1)


def labels_of(*blobs, matrix=None):
    mask = np.zeros((120, 280), np.uint8)
    for one in blobs:
        blob(mask, *one)
    return mask > 0, above_labels(mask > 0, tray(), np.eye(2, 3) if matrix is None else matrix)


def test_each_cell_has_its_own_plant():
    mask, labels = labels_of((60, 60, 20), (220, 60, 20))
    assert (labels[:, :100][mask[:, :100]] == 1).all() and (labels[:, 180:][mask[:, 180:]] == 3).all()


def test_cover_that_reaches_into_an_empty_cell_stays_its_own():
    mask, labels = labels_of((75, 60, 48))
    assert mask[:, 100:].any()
    assert (labels[mask] == 1).all()


def test_a_large_plant_over_its_neighbours_edge_takes_nothing_of_it_and_gives_nothing():
    mask, labels = labels_of((68, 50, 42), (140, 82, 14))
    assert (labels[40:60, 95:110][mask[40:60, 95:110]] == 1).all()
    assert (labels[74:90, 126:154][mask[74:90, 126:154]] == 2).all()


def test_plants_that_touch_are_shared_out_between_their_cells():
    mask, labels = labels_of((60, 60, 42), (140, 60, 42))
    assert (labels[:, :80][mask[:, :80]] == 1).all() and (labels[:, 120:][mask[:, 120:]] == 2).all()
    border = int(np.argmax(labels[60] == 2))
    assert abs(border - 100) <= 3


def test_tissue_away_from_all_cells_is_nobodys():
    mask, labels = labels_of((60, 60, 20), (140, 112, 6, 4))
    assert mask[112, 140] and not labels[108:, 130:150].any()


def test_cells_follow_a_camera_that_was_bumped():
    mask, labels = labels_of((60 + 30, 60, 20), matrix=np.array([[1, 0, -30.0], [0, 1, 0]]))
    assert (labels[mask] == 1).all()
