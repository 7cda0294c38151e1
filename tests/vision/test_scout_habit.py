"""Blades are told from leaves by their outlines, and nothing is said of what is too small to tell."""

import cv2
import numpy as np

from sproutlapse.vision.scout_habit import looks_from_labels


def labels():
    return np.zeros((300, 300), np.uint8)


def blades(picture, number):
    for x0, x1, top in ((40, 30, 150), (50, 52, 120), (58, 75, 180)):
        cv2.line(picture, (x0, 290), (x1, top), number, 5)


def leggy(picture, x, number):
    cv2.line(picture, (x, 290), (x, 150), number, 3)
    for rise, reach in ((150, 24), (180, 20)):
        cv2.ellipse(picture, (x - reach, rise), (22, 4), 8, 0, 360, number, -1)
        cv2.ellipse(picture, (x + reach, rise), (22, 4), -8, 0, 360, number, -1)


def test_upright_blades_of_unequal_height_look_like_blades():
    picture = labels()
    blades(picture, 1)
    assert looks_from_labels(picture, [1]) == ["blades"]


def test_a_leggy_seedling_with_leaves_on_edge_looks_like_leaves():
    picture = labels()
    leggy(picture, 150, 2)
    assert looks_from_labels(picture, [2]) == ["leaves"]


def test_a_bare_stem_with_folded_leaves_at_its_top_does_not_look_like_blades():
    picture = labels()
    cv2.line(picture, (150, 290), (150, 100), 1, 3)
    cv2.line(picture, (150, 130), (150, 104), 1, 9)
    assert looks_from_labels(picture, [1]) != ["blades"]


def test_a_seedling_barely_up_is_left_open():
    picture = labels()
    cv2.line(picture, (250, 290), (250, 275), 3, 4)
    assert looks_from_labels(picture, [3]) == [None]


def test_an_empty_picture_says_nothing():
    assert looks_from_labels(labels(), [1, 2]) == [None, None]
