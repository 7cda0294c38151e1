"""A camera that looks down on an upright mark tells its tilt, and the scale of what stands above the mark."""

from math import cos, radians, sin

import cv2
import numpy as np
import pytest

from sproutlapse.errors import TrayError
from sproutlapse.tray import Plant, Scale, Tray, View
from sproutlapse.vision.scale import TYPICAL_MM, Mark, find_marks, lookdown, read_scale

SIDE_MM, FAR_MM, FOCAL_PX, SIZE = 30.0, 650.0, 1800.0, (1200, 900)


def seen(points_mm, down_deg):
    """Pixels of places (right, up, away) in mm from the lens, in a pinhole camera that looks down by `down_deg`."""
    a = radians(down_deg)
    right, up, away = np.asarray(points_mm, float).T
    depth = away * cos(a) - up * sin(a)
    fall = -up * cos(a) - away * sin(a)
    middle = (np.array(SIZE) - 1) / 2
    return np.column_stack([right, fall]) / depth[:, None] * FOCAL_PX + middle


def upright_mark(down_deg, *, away=FAR_MM, up=None):
    """The corners in pixels of an upright mark that faces the camera, near the middle of the picture."""
    high = -away * np.tan(radians(down_deg)) - 60.0 if up is None else up
    half = SIDE_MM / 2
    square = [(-half, high + half), (half, high + half), (half, high - half), (-half, high - half)]
    return seen([(x, y, away) for x, y in square], down_deg), high


def picture_of(corners):
    """A photo of a printed mark with its corners at these pixels: four times as fine, averaged, blurred, tone curve."""
    fine = 4
    marker = cv2.aruco.generateImageMarker(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), 5, 960)
    card = np.pad(np.where(marker > 127, 0.75, 0.03).astype(np.float32), 240, constant_values=0.75)
    source = np.array([[240, 240], [1200, 240], [1200, 1200], [240, 1200]], np.float32) - 0.5
    goal = ((corners + 0.5) * fine - 0.5).astype(np.float32)
    lay = cv2.getPerspectiveTransform(source, goal)
    big = np.full((SIZE[1] * fine, SIZE[0] * fine), 0.6, np.float32)
    cv2.warpPerspective(card, lay, big.shape[::-1], big, cv2.INTER_AREA, cv2.BORDER_TRANSPARENT)
    light = cv2.GaussianBlur(cv2.resize(big, SIZE, interpolation=cv2.INTER_AREA), (0, 0), 0.7)
    light = np.repeat(light[..., None], 3, axis=2)
    return np.round(255 * light ** (1 / 2.2)).astype(np.uint8), light


@pytest.mark.parametrize("down_deg", [5.0, 8.0, 12.0, 18.0])
def test_the_tilt_is_told_to_a_degree_and_the_scale_to_three_thousandths(down_deg):
    corners, high = upright_mark(down_deg)
    camera = lookdown(Mark(5, corners), SIDE_MM, FAR_MM, SIZE[1])
    assert camera is not None
    assert np.degrees(camera.down) == pytest.approx(down_deg, abs=1.0)
    soil = (0.0, high - SIDE_MM / 2, FAR_MM)
    middle = [(-0.5, soil[1] + TYPICAL_MM, FAR_MM), (0.5, soil[1] + TYPICAL_MM, FAR_MM)]
    pixels = seen([soil, *middle], down_deg)
    assert camera.mm_per_px(float(pixels[0, 1]), FAR_MM) == pytest.approx(1 / (pixels[2, 0] - pixels[1, 0]), rel=0.003)


def test_a_level_camera_looks_down_by_nothing():
    corners, _ = upright_mark(0.0)
    camera = lookdown(Mark(5, corners), SIDE_MM, FAR_MM, SIZE[1])
    assert camera is not None
    assert np.degrees(camera.down) == pytest.approx(0.0, abs=1.0)


def test_a_mark_that_leans_far_back_tells_no_tilt():
    corners, _ = upright_mark(8.0)
    corners[2:, 1] -= 0.5 * (corners[2:, 1] - corners[:2, 1])
    assert lookdown(Mark(5, corners), SIDE_MM, FAR_MM, SIZE[1]) is None


@pytest.mark.parametrize("down_deg", [8.0, 12.0])
def test_the_same_from_a_photo_of_the_mark(down_deg):
    corners, high = upright_mark(down_deg)
    marks = find_marks(*picture_of(corners))
    assert [mark.number for mark in marks] == [5]
    true = (np.hypot(*(corners[1] - corners[0])) + np.hypot(*(corners[2] - corners[3]))) / 2
    assert marks[0].side_px == pytest.approx(true, rel=0.002)
    soil_y = float(seen([(0.0, high - SIDE_MM / 2, FAR_MM)], down_deg)[0, 1])
    plant = Plant(name="A", box_px=(0, 0, 100, 100), soil_y_px=soil_y)
    tray = Tray(view=View(from_="side", camera_to_plants_mm=FAR_MM), scale=Scale(marker_mm=SIDE_MM), plants=(plant,))
    own = read_scale(tray, marks, SIZE)
    at = high - SIDE_MM / 2 + TYPICAL_MM
    pixels = seen([(-0.5, at, FAR_MM), (0.5, at, FAR_MM)], down_deg)
    assert own.camera is not None
    assert own.at(plant) == pytest.approx(1 / (pixels[1, 0] - pixels[0, 0]), rel=0.003)


@pytest.mark.parametrize("behind", ["mark", "plant"])
def test_a_depth_without_the_cameras_distance_is_an_error_of_the_tray(behind):
    corners, _ = upright_mark(8.0)
    plant = Plant(name="A", box_px=(0, 0, 10, 10), soil_y_px=500, behind_mm=20 if behind == "plant" else 0)
    scale = Scale(marker_mm=SIDE_MM, behind_plants_mm=20 if behind == "mark" else 0)
    with pytest.raises(TrayError, match="camera_to_plants_mm"):
        read_scale(Tray(view=View(from_="side"), scale=scale, plants=(plant,)), [Mark(5, corners)], SIZE)


def test_a_mark_behind_the_camera_is_an_error_of_the_tray():
    corners, _ = upright_mark(8.0)
    tray = Tray(view=View(from_="side", camera_to_plants_mm=300), scale=Scale(marker_mm=30, behind_plants_mm=-400))
    with pytest.raises(TrayError, match="behind the camera"):
        read_scale(tray, [Mark(5, corners)], SIZE)


@pytest.mark.parametrize("mark_row", [650, 560, 480, 330])
@pytest.mark.parametrize("down_deg", [0.0, 4.0, 8.0])
def test_errors_of_height_stay_within_what_is_told_wherever_the_mark_stands(mark_row, down_deg):
    """A hundred readings of a small mark with 0.1 pixel of noise in each corner: 95 % of the heights lie within 2 sd.

    Only what the reading of the mark brings counts: the sd told also covers how well the pots are set.
    """
    rng = np.random.default_rng(7)
    focal, far, size = 1200.0, 850.0, (1280, 960)
    centre, a = (np.array(size) - 1) / 2, radians(down_deg)

    def place(points):
        x, up, away = np.asarray(points, float).T
        depth = away * cos(a) - up * sin(a)
        return np.column_stack([x, -up * cos(a) - away * sin(a)]) / depth[:, None] * focal + centre

    def up_at(row):
        return -far * np.tan(a + np.arctan((row - centre[1]) / focal))

    soil_up, mark_up = up_at(850), up_at(mark_row)
    foot, tip = place([(0, soil_up, far), (0, soil_up + 60.0, far)])[:, 1]
    square = [(-15, mark_up + 15), (15, mark_up + 15), (15, mark_up - 15), (-15, mark_up - 15)]
    true = place([(x, y, far) for x, y in square])
    tray = Tray(
        view=View(from_="side", camera_to_plants_mm=far),
        scale=Scale(marker_mm=30),
        plants=(Plant(name="A", box_px=(500, 0, 780, 900), soil_y_px=float(foot)),),
    )
    within = []
    for _ in range(100):
        scale = read_scale(tray, [Mark(5, true + rng.normal(0, 0.1, (4, 2)))], size)
        mm = scale.at(tray.plants[0])
        px = foot - tip if scale.camera is None else scale.camera.levelled_px(foot, tip, mm)
        within.append(abs(px * mm / 60.0 - 1) <= 2 * scale.sd_share)
    assert np.mean(within) >= 0.93
