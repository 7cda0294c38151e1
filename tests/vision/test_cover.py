"""A cover with fog hides soil that is dark and crumbly by itself; a dark, bright or bare photo is no cover."""

import cv2
import numpy as np

from sproutlapse.tray import Plant, Tray, View
from sproutlapse.vision.cover import covered_plants, something_clear

NAMES = ("A", "B", "C")
TRAY = Tray(
    view=View(from_="side"),
    plants=tuple(
        Plant(name=n, box_px=(40 + 200 * k, 0, 240 + 200 * k, 270), soil_y_px=260) for k, n in enumerate(NAMES)
    ),
)


def shelf(exposure: float = 1.0) -> np.ndarray:
    """Three pots of crumbly soil before a bright board, as sRGB bytes."""
    picture = np.full((400, 680, 3), 205.0)
    crumbs = np.random.default_rng(3).uniform(20, 60, (150, 180, 3))
    crumbs[::7, ::9] = 200
    for k in range(3):
        picture[248:398, 50 + 200 * k : 230 + 200 * k] = crumbs
    return np.clip(picture * exposure, 0, 255).astype(np.uint8)


def fogged(picture: np.ndarray, left: int, right: int, share: float = 0.45) -> np.ndarray:
    out = picture.copy()
    part = cv2.GaussianBlur(picture[120:400, left:right], (0, 0), 2.2)
    out[120:400, left:right] = np.clip((1 - share) * part + share * 185, 0, 255).astype(np.uint8)
    return out


def test_bare_pots_are_not_covered_however_they_are_lit():
    assert all(covered_plants(shelf(e), TRAY) == (False,) * 3 for e in (0.4, 1.0, 1.2))


def test_a_hood_over_all_and_over_one_pot_is_told():
    assert covered_plants(fogged(shelf(), 20, 660), TRAY) == (True,) * 3
    one = fogged(shelf(), 242, 438)
    assert covered_plants(one, TRAY) == (False, True, False)
    assert something_clear(one)


def test_where_a_pot_was_taken_away_there_is_no_cover():
    empty = shelf()
    empty[240:, 242:438] = 205
    assert covered_plants(empty, TRAY) == (False,) * 3


def test_fog_on_the_lens_leaves_nothing_clear():
    assert not something_clear(fogged(np.vstack([shelf()[:120] * 0 + 205, shelf()[120:]]), 0, 680))


def test_a_camera_put_back_elsewhere_looks_at_the_same_soil():
    moved = np.roll(fogged(shelf(), 242, 438), (6, -9), axis=(0, 1))
    assert covered_plants(moved, TRAY, np.array([[1.0, 0, 9], [0, 1.0, -6]])) == (False, True, False)


def test_pots_of_any_colour_that_show_no_soil_are_not_covered():
    for colour in ((120, 120, 120), (190, 110, 75), (70, 135, 60)):
        picture = np.full((400, 680, 3), 205.0)
        for k in range(3):
            picture[258:398, 50 + 200 * k : 230 + 200 * k] = colour
        photo = cv2.GaussianBlur(picture, (0, 0), 0.9).astype(np.uint8)
        assert covered_plants(photo, TRAY) == (False,) * 3
