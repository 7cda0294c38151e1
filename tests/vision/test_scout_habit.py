"""Blades are told from leaves by their outlines, and nothing is said of what is too small to tell."""

import cv2
import numpy as np

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.scout import habit_from_labels

TRAY = Tray(plants=tuple(Plant(name=n, box_px=(100 * k, 0, 100 * k + 99, 300)) for k, n in enumerate("ABC")))


def labels():
    return np.zeros((300, 300), np.uint8)


def leggy(picture, x, number):
    cv2.line(picture, (x, 290), (x, 150), number, 3)
    for rise, reach in ((150, 24), (180, 20)):
        cv2.ellipse(picture, (x - reach, rise), (22, 4), 8, 0, 360, number, -1)
        cv2.ellipse(picture, (x + reach, rise), (22, 4), -8, 0, 360, number, -1)


def test_upright_blades_are_grasslike():
    picture = labels()
    for x0, x1 in ((40, 30), (50, 52), (58, 75)):
        cv2.line(picture, (x0, 290), (x1, 150), 1, 5)
    assert habit_from_labels(picture, TRAY) == {"A": "grasslike"}


def test_a_leggy_seedling_with_leaves_on_edge_is_no_grass():
    picture = labels()
    leggy(picture, 150, 2)
    assert habit_from_labels(picture, TRAY) == {"B": "broadleaf"}


def test_a_seedling_barely_up_is_left_open():
    picture = labels()
    cv2.line(picture, (250, 290), (250, 275), 3, 4)
    assert habit_from_labels(picture, TRAY) == {}


def test_an_empty_picture_says_nothing():
    assert habit_from_labels(labels(), TRAY) == {}
