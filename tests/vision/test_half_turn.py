"""A tray seen from above that was turned end for end is found so, by its own soil."""

import cv2
import numpy as np
import pytest

from sproutlapse.tray import Plant, Tray, View
from sproutlapse.vision import align, tray_lies

CELLS = [(x, y) for y in (100, 190) for x in (120, 210, 300, 390)]
TRAY = Tray(
    view=View(from_="above"),
    plants=tuple(Plant(name=f"c{k}", box_px=(x, y, x + 80, y + 80)) for k, (x, y) in enumerate(CELLS)),
)
STILL = align.Placement(np.eye(2, 3), moved=False, residual_px=0.0)


def tray_photo(turned=False, leaves=0, off=(0.0, 0.0)):
    """Light of a tray of eight cells on a table: crumbs that no two cells share, walls that all share."""
    rng = np.random.default_rng(3)
    light = np.full((380, 600), 0.35)
    light[92:278, 112:478] = 0.6
    for x, y in CELLS:
        soil = cv2.GaussianBlur(rng.uniform(0.0, 0.22, (80, 80)), (0, 0), 1.2)
        light[y : y + 80, x : x + 80] = soil
    for x, y in CELLS[:leaves]:
        cv2.ellipse(light, (x + 40, y + 40), (34, 22), 20, 0, 360, 0.3, -1)
    if turned:
        half = np.array([[-1.0, 0.0, 590.0 + off[0]], [0.0, -1.0, 370.0 + off[1]]])
        whole = cv2.warpAffine(light, half, (600, 380), flags=cv2.INTER_CUBIC)
        part = np.zeros(light.shape, bool)
        part[92 + int(off[1]) : 278 + int(off[1]), 112 + int(off[0]) : 478 + int(off[0])] = True
        light = np.where(part, whole, 0.35)
    light = np.clip(light + rng.normal(0, 0.004, light.shape), 0, 1)
    return np.repeat(light[..., None], 3, axis=2).astype(np.float32)


MARKS = tray_lies.tray_marks(tray_photo(), TRAY)


@pytest.mark.parametrize("leaves", [0, 5])
def test_a_tray_turned_end_for_end_keeps_the_places_of_its_cells(leaves):
    lies = tray_lies.tray_place(tray_photo(turned=True, leaves=leaves, off=(6.0, -4.0)), STILL, MARKS)
    at = align.move(lies.matrix, np.array([[590.0 + 6 - 160, 370.0 - 4 - 140], [590.0 + 6 - 430, 370.0 - 4 - 230]]))
    assert at == pytest.approx(np.array([[160.0, 140.0], [430.0, 230.0]]), abs=0.4)


@pytest.mark.parametrize("leaves", [0, 8])
def test_a_tray_that_nobody_turned_is_left_as_it_lies(leaves):
    lies = tray_lies.tray_place(tray_photo(leaves=leaves), STILL, MARKS)
    assert align.move(lies.matrix, np.array([[160.0, 140.0]])) == pytest.approx(np.array([[160.0, 140.0]]), abs=0.3)
