"""Pots and trays that were lifted for watering and put back a little off are followed, each by its own picture."""

from functools import cache

import numpy as np
import pytest
from drawing import CENTRES, GREEN, MM, SOIL_Y, STILL, Stage, bare_shelf, bump, seedling, shelf_tray, square

from sproutlapse.vision import align, lifted
from sproutlapse.vision.colour import to_light
from sproutlapse.vision.labels import read_labels
from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import growing_room, make_reference

TRAY = shelf_tray()
SIZE = (640, 480)
STEMS = (80.0, 60.0, 100.0)


def shelf(shifts=((0, 0), (0, 0), (0, 0)), *, without=(), grown=True):
    """The shelf with its three pots put back so many pixels off, seedlings in them; table and mark stay."""
    stage = Stage().table(410)
    for k, (x, (dx, dy)) in enumerate(zip(CENTRES, shifts, strict=True), 1):
        if k in without:
            continue
        pot = Stage().pot(x, SOIL_Y)
        if grown:
            seedling(x, STEMS[k - 1], plant=k, rise=24, reach=34)(pot)
        for shape in pot.shapes:
            stage.add(shape.points + np.array([dx, dy]), shape.colour, shape.plant, shape.wettable)
    return stage.mark(square(543.0, 345.0))


@cache
def reference():
    return make_reference([shelf(grown=False).photo(seed=k) for k in range(7)], TRAY, "lifted")


@cache
def usual():
    return measure(shelf().photo(seed=20), reference(), TRAY)


def shifts_of(photo):
    light = to_light(photo, reference().balance)
    placed = align.place(light, reference().marks)
    assert placed is not None
    return placed, lifted.pot_shifts(light, placed, reference().pots, reference().mm_per_px)


def miss(stood, shifts):
    return max(float(np.hypot(*(np.subtract(one.shift, shift)))) for one, shift in zip(stood, shifts, strict=True))


APART = ((12.0, 3.0), (-10.25, 0.0), (6.5, -4.75))  # up to 5 mm


@pytest.mark.parametrize("shifts", [APART, ((0, 0), (11.5, 2.25), (0, 0)), ((12.5, 2.0),) * 3])
def test_each_pot_is_found_to_a_fifth_of_a_pixel_and_the_camera_stood_still(shifts):
    placed, stood = shifts_of(shelf(shifts).photo(seed=21))
    assert not placed.moved
    assert miss(stood, shifts) < 0.2


def test_pots_that_nobody_touched_have_no_shift_at_all():
    for wet in (1.0, 0.6):
        _, stood = shifts_of(shelf().photo(seed=22, wet=wet, gain=0.8))
        assert [one.shift for one in stood] == [(0.0, 0.0)] * 3
    assert usual().pots_px == ()


def test_watered_soil_and_dimmer_light_hide_no_shift():
    _, stood = shifts_of(shelf(APART).photo(seed=23, wet=0.5, gain=0.7))
    assert miss(stood, APART) < 0.2


def test_heights_stay_and_plants_keep_their_names_where_pots_stand_elsewhere():
    found = measure(shelf(APART).photo(seed=24), reference(), TRAY)
    heights = [p.height_px * MM for p in found.plants]
    assert heights == pytest.approx([p.height_px * MM for p in usual().plants], abs=0.3)
    assert [p.tissue_px for p in found.plants] == pytest.approx([p.tissue_px for p in usual().plants], rel=0.04)
    assert found.pots_px == pytest.approx(np.array(APART), abs=0.2)
    assert found.shift_px == 0.0


def test_nothing_of_the_pots_themselves_becomes_tissue():
    stage = shelf(APART)
    labels = read_labels(measure(stage.photo(seed=25), reference(), TRAY).labels_png)
    beyond = np.ones(labels.shape, bool)
    rows, columns = np.nonzero(stage.coverage() > 0)
    for dy in range(-2, 3):
        for dx in range(-2, 3):
            beyond[np.clip(rows + dy, 0, 479), np.clip(columns + dx, 0, 639)] = False
    assert (labels[beyond] > 0).sum() <= 40


def test_camera_and_pots_moved_in_the_same_hour():
    moved = bump((30, -12), 1.5)
    found = measure(shelf(APART).photo(seed=26, bump=moved), reference(), TRAY)
    assert [p.height_px * MM for p in found.plants] == pytest.approx(
        [p.height_px * MM for p in usual().plants], abs=2.0
    )
    assert found.shift_px == pytest.approx(np.hypot(30, 12), abs=1.5)


def test_a_pot_that_was_taken_out_is_not_measured_and_the_others_are():
    found = measure(shelf(without=(2,)).photo(seed=27), reference(), TRAY)
    assert found.stood(1) is None
    assert found.stood(0) == (0.0, 0.0)
    assert [found.plants[k].height_px for k in (0, 2)] == pytest.approx(
        [usual().plants[k].height_px for k in (0, 2)], abs=0.5
    )
    assert found.plants[1].tissue_px == 0


def test_a_pot_hidden_by_leaves_is_taken_to_stand_with_the_others():
    def covered(stage):
        for k, dx in enumerate(np.linspace(-50, 50, 9)):
            stage.ellipse(290 + dx + 12.0, SOIL_Y + 42, 48, 14, GREEN, turn=70 + 7 * k, plant=2)

    shifts = ((12.0, 2.0),) * 3
    _, stood = shifts_of(shelf(shifts).with_(covered).photo(seed=28))
    assert stood[1].shift is not None
    assert miss(stood, shifts) < 0.4


def test_corners_of_pots_are_told_from_those_of_the_mark():
    marks = align.landmarks(to_light(shelf().photo(seed=1)), ~growing_room(TRAY, SIZE), lifted.lifted_room(TRAY, SIZE))
    places = marks.points.reshape(-1, 2)
    assert (marks.group[places[:, 0] > 530] == 0).all()
    for k, plant in enumerate(TRAY.plants, 1):
        own = (np.abs(places[:, 0] - (plant.box_px[0] + plant.box_px[2]) / 2) < 55) & (places[:, 1] > SOIL_Y)
        assert own.any() and (marks.group[own] == k).all()


def test_the_bare_shelf_of_these_tests_is_that_of_the_others():
    assert np.array_equal(shelf(grown=False).light(STILL), bare_shelf().light(STILL))
