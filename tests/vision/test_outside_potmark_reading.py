"""Marks of 12 mm are read at 0.3 mm a pixel. DICT_4X4_50 has four by four cells and a black border of one cell (from
the description of ArUco markers by OpenCV), so a cell is 2 mm or 6.7 pixels wide; asked for are 95 of 100 photos."""

import cv2
import numpy as np
import pytest

from sproutlapse.vision.stands import printed_marks

MARK_MM, MM_PER_PX = 12.0, 0.3
LEAST_SHARE = 0.95
PHOTOS = 40  # of each kind
KINDS = {
    "as it is": {},
    "out of focus": {"blur": 1.3},
    "noisy": {"noise": 9.0},
    "dim": {"gain": 0.35, "noise": 4.0},
    "bright": {"gain": 1.25},
    "tilted": {"tilt": 0.35},
    "all at once": {"blur": 0.9, "noise": 6.0, "gain": 0.6, "tilt": 0.25},
}


def photo(number, rng, *, blur=0.5, noise=2.0, gain=1.0, tilt=0.08):
    """A mark on a pot's wall, grey bytes: laid at any part of a pixel, turned by up to five degrees, seen at a slant of
    up to `tilt` radians to the side and bent round the pot; then blur, light, noise and a JPEG."""
    fine = 6
    side = round(MARK_MM / MM_PER_PX * fine)
    mark = cv2.aruco.generateImageMarker(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), number, 120)
    paper = np.full((180, 180), 235, np.uint8)
    paper[30:150, 30:150] = np.where(mark > 127, 235, 20)
    lean, turn = rng.uniform(-tilt, tilt), np.radians(rng.uniform(-5, 5))
    size = round(1.5 * side * np.cos(lean)), round(1.5 * side)
    # Paper of 18 mm round a pot of 72 mm reaches a quarter of a radian to each side.
    bent = (np.arcsin(np.linspace(-1, 1, size[0]) * np.sin(0.25)) / 0.25 + 1) / 2 * 179
    print_y = np.linspace(0, 179, size[1])
    seen = cv2.remap(paper, *(m.astype(np.float32) for m in np.meshgrid(bent, print_y)), cv2.INTER_LINEAR)
    wall = np.full((110 * fine, 110 * fine), 52, np.float32)
    c, s = np.cos(turn), np.sin(turn)
    middle = (np.array([55, 55]) + rng.uniform(-4, 4, 2)) * fine
    move = np.array([[c, -s, 0.0], [s, c, 0.0]])
    move[:, 2] = middle - move[:, :2] @ (np.array(size) / 2)
    whole = (wall.shape[1], wall.shape[0])
    cv2.warpAffine(seen.astype(np.float32), move, whole, dst=wall, borderMode=cv2.BORDER_TRANSPARENT)
    grey = cv2.GaussianBlur(cv2.resize(wall, (110, 110), interpolation=cv2.INTER_AREA), (0, 0), blur)
    bytes_ = np.clip(grey * gain + rng.normal(0, noise, grey.shape), 0, 255).astype(np.uint8)
    _, data = cv2.imencode(".jpg", bytes_, [cv2.IMWRITE_JPEG_QUALITY, 85])
    return cv2.imdecode(data, cv2.IMREAD_GRAYSCALE)


@pytest.mark.parametrize("kind", KINDS)
def test_marks_of_twelve_millimetres_are_read_at_three_tenths_of_a_millimetre_a_pixel(kind):
    rng = np.random.default_rng(17)
    numbers = rng.integers(0, 50, PHOTOS)
    read = [list(printed_marks(photo(int(n), rng, **KINDS[kind]))) == [n] for n in numbers]
    assert np.mean(read) >= LEAST_SHARE
