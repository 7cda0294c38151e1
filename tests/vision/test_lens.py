"""A lens that bows straight lines is measured from them, and places are put where they belong."""

from math import hypot

import cv2
import numpy as np
import pytest

from sproutlapse.tray import Plant
from sproutlapse.vision.lens import Lens
from sproutlapse.vision.plumb import USUAL_LONG, USUAL_UNKNOWN, USUAL_WIDE, bend_of, find_edges, read_lens
from sproutlapse.vision.scale import lens_share

SIZE = (960, 720)
FINE = 3


def bent_picture(bend, *, pots=True, table=True, seed=1):
    """Linear light of a board, a table, a card and pots as a lens of this bend shows them; sampled finely, blurred."""
    lens = Lens(SIZE, bend)
    columns, rows = np.meshgrid(np.arange(SIZE[0] * FINE), np.arange(SIZE[1] * FINE))
    seen = (np.column_stack([columns.ravel(), rows.ravel()]) + 0.5) / FINE - 0.5
    x, y = lens.straight(seen).T
    light = np.full(len(seen), 0.6)
    if table:
        light[y > 500.3 + 0.004 * x] = 0.42
    light[(np.abs(x - 75) < 50) & (np.abs(y - 480) < 60)] = 0.8
    light[(np.abs(x - 75) < 28) & (np.abs(y - 470) < 28)] = 0.03
    if pots:
        for at in (250, 430, 610, 790):
            light[(np.abs(x - at) < 62 - 0.1 * (y - 420)) & (y > 420) & (y < 560)] = 0.03
    out = light.reshape(SIZE[1], FINE, SIZE[0], FINE).mean(axis=(1, 3))
    out = cv2.GaussianBlur(out, (0, 0), 0.7) + np.random.default_rng(seed).normal(0, 0.002, out.shape)
    return np.repeat(out[..., None], 3, axis=2).astype(np.float32)


def edges_of(light):
    grey = np.sqrt(np.clip(light[..., 0], 0, 1))
    return find_edges(grey, None), grey


@pytest.mark.parametrize("bend", [-0.08, -0.03, 0.04])
def test_the_bend_of_a_lens_is_told_from_table_card_and_pots(bend):
    lens, notes = read_lens(bent_picture(bend), film_mm=26)
    assert lens.bend == pytest.approx(bend, abs=min(0.012, 2 * lens.sd + 0.002))
    assert 0.001 < lens.sd < 0.012
    assert any("outwards" in note if bend < 0 else "inwards" in note for note in notes)


def test_a_lens_without_distortion_changes_nothing():
    lens, notes = read_lens(bent_picture(0.0), film_mm=26)
    assert lens.bend == 0.0 and notes == ()
    assert 0.001 < lens.sd < 0.012
    places = np.array([[3.0, 4.0], [900.0, 10.0]])
    assert (lens.straight(places) == places).all() and (lens.area(places) == 1.0).all()


def test_a_smaller_bend_than_can_be_told_is_not_corrected_but_makes_lengths_less_sure():
    lens, _ = read_lens(bent_picture(-0.006))
    assert lens.bend == 0.0
    assert lens.sd > 0.004


@pytest.mark.parametrize(("film_mm", "sd"), [(26.0, USUAL_WIDE), (70.0, USUAL_LONG), (None, USUAL_UNKNOWN)])
def test_without_straight_lines_what_is_usual_for_the_lens_is_taken_as_unsure(film_mm, sd):
    light = np.full((*SIZE[::-1], 3), 0.6, np.float32)
    lens, notes = read_lens(light, film_mm=film_mm)
    assert (lens.bend, lens.sd) == (0.0, sd)
    assert any("wide" in note for note in notes) == (film_mm == 26.0)


def test_rims_and_other_curves_are_not_taken_for_bowed_lines():
    light = bent_picture(0.0)
    for x in (250, 430, 610, 790):
        cv2.ellipse(light, (x, 420), (62, 9), 0, 0, 360, (0.2, 0.2, 0.2), 2, cv2.LINE_AA)
    found = bend_of(*edges_of(light))
    assert found is not None and abs(found.bend) < 3 * found.sd


def test_straight_and_bowed_undo_each_other_to_a_thousandth_of_a_pixel():
    lens = Lens(SIZE, -0.09)
    places = np.random.default_rng(3).uniform((0, 0), SIZE, (200, 2))
    assert np.abs(lens.bowed(lens.straight(places)) - places).max() < 1e-3


def test_areas_follow_the_places_of_their_corners():
    lens = Lens(SIZE, -0.07)
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * 0.5
    for corner in ((30.0, 40.0), (480.0, 360.0), (900.0, 500.0)):
        x, y = lens.straight(square + corner).T
        area = abs(float(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))) / 2 / 0.25
        assert lens.area(np.array([corner]) + 0.25)[0] == pytest.approx(area, rel=1e-3)


def test_what_is_not_known_of_the_lens_grows_towards_the_edge_and_falls_beside_the_mark():
    lens = Lens(SIZE, 0.0, 0.02)
    middle, edge = (Plant(name="A", box_px=(x - 40, 0, x + 40, 400), soil_y_px=380) for x in (480, 900))
    assert lens_share([middle], lens, None) < 0.001 < lens_share([edge], lens, None)
    beside = np.array([[900.0, 380.0]])
    assert lens_share([edge], lens, beside) == pytest.approx(0.0, abs=1e-6)
    assert lens_share([edge], Lens(SIZE), None) == 0.0


@pytest.mark.parametrize("bend", [-0.06, 0.05])
def test_lengths_at_the_edge_are_right_once_freed_from_distortion(bend):
    lens = Lens(SIZE, bend)
    upright = np.array([[100.0, 300.0], [100.0, 500.0]])
    seen = lens.bowed(upright)
    assert abs(hypot(*(seen[1] - seen[0])) / 200 - 1) > 0.015
    straight = lens.straight(seen)
    assert hypot(*(straight[1] - straight[0])) == pytest.approx(200, abs=0.01)
