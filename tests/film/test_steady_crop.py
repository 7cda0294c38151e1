"""One crop for the whole film, and photos moved into it."""

from __future__ import annotations

import numpy as np
import pytest

from sproutlapse.film.steady import Crop, as_seen, common_crop, into_crop, scaling, steady_crop, to_film

SIZE = (640, 480)


def shift(x: float, y: float) -> np.ndarray:
    return np.array([[1.0, 0.0, x], [0.0, 1.0, y]])


def test_a_camera_that_never_moved_keeps_its_whole_picture():
    crop, follows = steady_crop([SIZE] * 3, [shift(0, 0)] * 3, SIZE)
    assert crop == pytest.approx(Crop(0, 0, 640, 480))
    assert all(follows)


def test_shifts_to_two_sides_cost_their_span():
    crop = common_crop([SIZE] * 2, [shift(8, 0), shift(-8, 0)], SIZE)
    assert crop == pytest.approx((8, crop.top, 624, 468))
    assert 0 <= crop.top <= 12


def test_the_crop_lies_inside_every_turned_photo():
    angle = np.radians(1.5)
    turned = np.array([[np.cos(angle), np.sin(angle), -4.0], [-np.sin(angle), np.cos(angle), 9.0]])
    crop = common_crop([SIZE] * 2, [turned, shift(3, -5)], SIZE)
    corners = np.array([[x, y] for x in (0, crop.width) for y in (0, crop.height)]) + crop[:2] - 0.5
    for matrix in (turned, shift(3, -5)):
        back = np.linalg.inv(np.vstack([matrix, [0, 0, 1]]))[:2]
        there = corners @ back[:, :2].T + back[:, 2] + 0.5
        assert there.min() >= -1e-6
        assert (there <= np.array(SIZE) + 1e-6).all()


def test_no_crop_holds_photos_that_share_nothing():
    assert common_crop([SIZE] * 2, [shift(0, 0), shift(700, 0)], SIZE) is None


def test_thousands_of_photos_of_two_views_are_settled_quickly():
    rng = np.random.default_rng(1)
    matrices = [shift(*rng.normal(0, 3, 2)) for _ in range(3000)] + [shift(400, 0) for _ in range(1500)]
    crop, follows = steady_crop([SIZE] * 4500, matrices, SIZE)
    assert sum(follows) == 3000
    assert crop.width > 600


def test_a_photo_that_needs_no_move_keeps_its_pixels():
    picture = np.random.default_rng(2).integers(0, 256, (480, 640, 3), dtype=np.uint8)
    matrix = to_film(Crop(0, 0, 640, 480), SIZE) @ np.vstack([shift(0.03, 0.0), [0, 0, 1]])
    assert into_crop(picture, SIZE, matrix, SIZE) is picture


def test_a_dot_lands_where_the_matrix_says_at_full_and_reduced_size():
    fine = np.zeros((480, 640, 3), dtype=np.uint8)
    fine[200:216, 304:320] = 255
    half = fine[::2, ::2]
    matrix = to_film(Crop(10, 20, 600, 450), (300, 225)) @ np.vstack([shift(4.5, -2.25), [0, 0, 1]])
    expected = matrix @ [311.5, 207.5, 1]
    for picture in (fine, half):
        moved = into_crop(picture, SIZE, matrix, (300, 225))[:, :, 0].astype(float)
        y, x = np.indices(moved.shape)
        centre = ((x * moved).sum() / moved.sum(), (y * moved).sum() / moved.sum())
        assert centre == pytest.approx(tuple(expected), abs=0.05)


def test_plants_keep_their_names_when_the_picture_is_made_smaller():
    labels = np.zeros((400, 600), np.uint8)
    labels[100:300, 100:200], labels[100:300, 300:400] = 9, 4
    small = into_crop(labels, (600, 400), scaling(0.4, 0.4), (240, 160))
    assert set(np.unique(small)) == {0, 4, 9}


def test_a_tray_turned_end_for_end_is_not_shown_with_the_camera_upside_down():
    half = np.array([[-1.0, 0.0, 700.0], [0.0, -1.0, 450.0]])
    assert as_seen(half, SIZE) == pytest.approx(shift(0, 0))
    assert (as_seen(shift(3, 4), SIZE) == shift(3, 4)).all()
