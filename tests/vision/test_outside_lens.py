"""The lens against the camera model of OpenCV, and the focal length against the angle of view of 36 x 24 mm film."""

from math import atan, degrees, hypot

import cv2
import numpy as np
import pytest

from sproutlapse.vision.lens import Lens
from sproutlapse.vision.pose import focal_of

SIZE = (1280, 960)


@pytest.mark.parametrize("k1", [-0.12, -0.04, 0.03])
@pytest.mark.parametrize("focal_px", [924.0, 1800.0])
def test_places_agree_with_the_camera_model_of_opencv(k1, focal_px):
    # cv2.projectPoints with k1 alone; documented as x (1 + k1 r^2) in units of the focal length.
    lens = Lens(SIZE, k1 * (hypot(*SIZE) / 2 / focal_px) ** 2)
    camera = np.array([[focal_px, 0, (SIZE[0] - 1) / 2], [0, focal_px, (SIZE[1] - 1) / 2], [0, 0, 1]])
    flat = np.random.default_rng(5).uniform((100, 100), (1180, 860), (50, 2))
    rays = np.column_stack([(flat - camera[:2, 2]) / focal_px, np.ones(50)])
    seen, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), camera, np.array([k1, 0, 0, 0]))
    assert np.abs(lens.bowed(flat) - seen.reshape(-1, 2)).max() < 1e-6
    assert np.abs(lens.straight(seen.reshape(-1, 2)) - flat).max() < 1e-3


@pytest.mark.parametrize(
    ("film_mm", "diagonal_deg"),
    # Diagonal angle of view of 36 x 24 mm film, 2 atan(43.27 / 2 f): 24 mm 84, 28 mm 75, 50 mm 47, 85 mm 29 degrees, as
    # printed in lens makers' tables.
    [(24, 84), (28, 75), (50, 47), (85, 29)],
)
def test_an_equivalent_focal_length_gives_the_angle_of_view_of_film(film_mm, diagonal_deg):
    focal = focal_of((4000, 3000), film_mm)
    assert 2 * degrees(atan(2500 / focal.px)) == pytest.approx(diagonal_deg, abs=0.6)
