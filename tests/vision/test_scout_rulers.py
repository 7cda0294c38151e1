"""The drawing for correcting tray.toml keeps the photo's own pixels readable and leaves the photo as it is."""

import numpy as np

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.scout import draw_rulers


def test_the_photo_is_framed_by_rulers_and_not_changed():
    picture = np.full((400, 600, 3), 90, np.uint8)
    before = picture.copy()
    tray = Tray(plants=(Plant(name="A", box_px=(100, 0, 250, 300), soil_y_px=280.5),))
    drawn = draw_rulers(picture, tray)
    assert np.array_equal(picture, before)
    margin = (drawn.shape[1] - 600) // 2
    assert drawn.shape == (400 + 2 * margin, 600 + 2 * margin, 3)
    assert tuple(drawn[margin + 200, margin + 50]) == (90, 90, 90)
    assert (drawn[:margin].min(axis=2) < 128).any() and (drawn[:, :margin].min(axis=2) < 128).any()


def test_the_soil_line_is_drawn_across_its_own_box_only():
    picture = np.full((400, 600, 3), 90, np.uint8)
    tray = Tray(plants=(Plant(name="A", box_px=(100, 0, 250, 300), soil_y_px=280),))
    drawn = draw_rulers(picture, tray)
    margin = (drawn.shape[1] - 600) // 2
    row = drawn[margin + 280, margin : margin + 600].astype(int)
    marked = np.flatnonzero(np.abs(row - 90).sum(axis=1) > 60)
    assert marked.min() >= 98 and marked.max() <= 252 and len(marked) > 140
