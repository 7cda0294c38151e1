"""A mark that leans or is turned shows its full side once its pose is told, with and without a known focal length."""

from functools import cache

import cv2
import numpy as np
import pytest

from sproutlapse.vision.marks import Mark, find_marks
from sproutlapse.vision.pose import focal_of, pose_of

SIDE_MM, SIZE, FILM_MM = 30.0, (640, 480), 26.0
FINE, PX_MM = 6, 16
FOCAL_PX = focal_of(SIZE, FILM_MM).px


def turn(back_deg, turned_deg):
    """Rotation of a card whose upper edge leans away from the camera, then turned about the upright axis."""
    lean = cv2.Rodrigues(np.radians([-back_deg, 0, 0]))[0]
    return cv2.Rodrigues(np.radians([0, turned_deg, 0]))[0] @ lean


def seen(square_mm, rotation, far_mm, at=(0.0, 0.0)):
    """Pixels of places on the card (mm from the mark's middle; right, down) in a pinhole camera."""
    middle = np.array([at[0] / FOCAL_PX, at[1] / FOCAL_PX, 1.0]) * far_mm
    there = np.column_stack([square_mm, np.zeros(len(square_mm))]) @ rotation.T + middle
    return there[:, :2] / there[:, 2:] * FOCAL_PX + (np.array(SIZE) - 1) / 2


@cache
def card():
    """The print in linear light: black square on white with a margin, PX_MM pixels a millimetre."""
    marker = cv2.aruco.generateImageMarker(
        cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), 5, int(SIDE_MM * PX_MM)
    )
    return np.pad(np.where(marker > 127, 0.75, 0.03).astype(np.float32), 8 * PX_MM, constant_values=0.75)


def photo(rotation, far_mm, at, seed):
    """A photo of the card: its exact projection FINE times as fine, averaged, blurred, noise, sRGB."""
    edge = SIDE_MM / 2 + 8
    source = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], np.float32) * card().shape[0] - 0.5
    goal = seen(np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * edge, rotation, far_mm, at)
    lay = cv2.getPerspectiveTransform(source, ((goal + 0.5) * FINE - 0.5).astype(np.float32))
    big = np.full((SIZE[1] * FINE, SIZE[0] * FINE), 0.55, np.float32)
    cv2.warpPerspective(card(), lay, big.shape[::-1], big, cv2.INTER_LINEAR, cv2.BORDER_TRANSPARENT)
    light = cv2.GaussianBlur(cv2.resize(big, SIZE, interpolation=cv2.INTER_AREA), (0, 0), 0.7)
    light = np.clip(light + np.random.default_rng(seed).normal(0, 0.004, light.shape), 0, 1)
    srgb = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    picture = np.repeat(np.round(srgb * 255).astype(np.uint8)[..., None], 3, axis=2)
    linear = np.where(picture <= 10, picture / 255 / 12.92, ((picture / 255 + 0.055) / 1.055) ** 2.4)
    return picture, linear.astype(np.float32)


SLANTS = [(0, 0), (10, 0), (25, 0), (-15, 0), (0, 12), (0, -25), (15, 15)]


@pytest.mark.parametrize(("back_deg", "turned_deg"), SLANTS)
@pytest.mark.parametrize(("film_mm", "share"), [(FILM_MM, 0.003), (None, 0.006)])
def test_a_slanted_mark_in_a_photo_shows_its_full_side(back_deg, turned_deg, film_mm, share):
    far_mm, at = 200.0, (-40.25, 30.5)
    (mark,) = find_marks(*photo(turn(back_deg, turned_deg), far_mm, at, seed=back_deg + 100))
    pose = pose_of(mark, SIZE, focal_of(SIZE, film_mm))
    true = FOCAL_PX * SIDE_MM / far_mm
    assert pose.side_px == pytest.approx(true, rel=share)
    assert abs(pose.side_px / true - 1) < 2.5 * pose.sd_share
    if film_mm is not None:
        assert pose.back_deg == pytest.approx(back_deg, abs=5)
        assert pose.turned_deg == pytest.approx(turned_deg, abs=5)
        far, sd = pose.distance_mm(SIDE_MM)
        assert far == pytest.approx(far_mm, abs=2 * sd) and 0.02 < sd / far < 0.07


def test_a_turned_mark_would_be_read_short_by_its_upper_and_lower_side():
    (mark,) = find_marks(*photo(turn(0, 25), 200.0, (0.0, 0.0), seed=9))
    true = FOCAL_PX * SIDE_MM / 200.0
    assert mark.across_px < 0.93 * true
    assert mark.side_px == pytest.approx(true, rel=0.01)


@pytest.mark.parametrize("film_mm", [FILM_MM, None])
def test_errors_of_the_side_lie_within_its_uncertainty(film_mm):
    rng = np.random.default_rng(11)
    square = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * SIDE_MM / 2
    off = []
    for _ in range(40):
        rotation = turn(*rng.uniform(-25, 25, 2))
        corners = seen(square, rotation, 250.0, rng.uniform(-150, 150, 2)) + rng.normal(0, 0.08, (4, 2))
        pose = pose_of(Mark(5, corners), SIZE, focal_of(SIZE, film_mm))
        off.append((pose.side_px / (FOCAL_PX * SIDE_MM / 250.0) - 1) / pose.sd_share)
    assert np.mean(np.abs(off) < 2) >= 0.93
    assert 0.3 < np.sqrt(np.mean(np.square(off))) < 1.3


def test_a_mark_on_the_table_before_the_pots_lies():
    square = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * SIDE_MM / 2
    lying = pose_of(Mark(5, seen(square, turn(75, 0), 250.0, (0, 100))), SIZE, focal_of(SIZE, FILM_MM))
    standing = pose_of(Mark(5, seen(square, turn(20, 10), 250.0, (0, 100))), SIZE, focal_of(SIZE, FILM_MM))
    assert lying.lies and not standing.lies
