"""One photo to each plant's figures, on drawn photos with lengths and areas known by construction."""

from functools import cache

import cv2
import numpy as np
import pytest
from drawing import (
    GREEN,
    INK,
    MM,
    PALE,
    PURPLE_BLACK,
    SOIL_Y,
    WHITE,
    Stage,
    bare_shelf,
    bump,
    seedling,
    shelf_tray,
    square,
)

from sproutlapse.tray import Plant, Scale, Tray, View
from sproutlapse.vision.findings import Findings
from sproutlapse.vision.labels import labels_png, read_labels
from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import make_reference

TRAY = shelf_tray()
STEMS = (80.0, 60.0, 100.0)


def three(stage):
    """A green, a purple and nearly black and a pale seedling with rising leaves."""
    for k, (plant, stem) in enumerate(zip(TRAY.plants, STEMS, strict=True), 1):
        x = (plant.box_px[0] + plant.box_px[2]) / 2
        seedling(x, stem, plant=k, colour=(GREEN, PURPLE_BLACK, PALE)[k - 1], rise=24, reach=34)(stage)


def heights(stage):
    """From the soil line to each plant's highest point, in pixels."""
    return [SOIL_Y - min(s.points[:, 1].min() for s in stage.shapes if s.plant == k) for k in (1, 2, 3)]


@cache
def reference():
    return make_reference([bare_shelf().photo(seed=k) for k in range(7)], TRAY, "bare")


def grown():
    return bare_shelf().with_(three)


@cache
def usual():
    return measure(grown().photo(seed=20), reference(), TRAY)


def areas(found):
    """Of the green and the purple plant; how a JPEG spreads the tint of thin pale parts is not judged here."""
    return [p.tissue_px for p in found.plants[:2]]


def true_areas(stage):
    return [float(stage.coverage(k)[: int(SOIL_Y) + 1].sum()) for k in (1, 2)]


def test_the_scale_of_the_tray_is_read_from_its_mark():
    assert reference().mm_per_px == pytest.approx((MM, MM, MM), rel=0.001)
    assert reference().occupied == (False, False, False)


def test_heights_are_true_to_half_a_pixel():
    assert [p.height_px for p in usual().plants] == pytest.approx(heights(grown()), abs=0.5)


def test_areas_of_green_and_purple_are_true_to_three_per_cent():
    assert areas(usual()) == pytest.approx(true_areas(grown()), rel=0.03)


def test_an_empty_tray_has_no_plant_and_no_number():
    found = measure(bare_shelf().photo(seed=21), reference(), TRAY)
    assert found.fault == ""
    assert all(p.tissue_px == 0 and p.height_px is None for p in found.plants)


@pytest.mark.parametrize("how", [{"gain": 0.7}, {"balance": (1.1, 0.85, 1.08)}], ids=["dim", "pink"])
def test_dim_or_pink_light_changes_areas_by_less_than_a_hundredth(how):
    found = measure(grown().photo(seed=22, **how), reference(), TRAY)
    assert areas(found) == pytest.approx(areas(usual()), rel=0.01)


def test_a_bumped_camera_changes_no_height():
    moved = bump((9, -6), 1.0)
    found = measure(grown().photo(seed=23, bump=moved), reference(), TRAY)
    assert found.moved and found.turn_deg == pytest.approx(1.0, abs=0.05)
    assert found.shift_px == pytest.approx(np.hypot(9, 6), abs=0.2)
    assert [p.height_px for p in found.plants] == pytest.approx(heights(grown()), abs=0.5)
    assert areas(found) == pytest.approx(true_areas(grown()), rel=0.03)


def test_labels_lie_on_the_photos_own_pixels_after_a_bump():
    moved = bump((9, -6), 1.0)
    labels = read_labels(measure(grown().photo(seed=23, bump=moved), reference(), TRAY).labels_png)
    for k in (1, 2):
        true, own = grown().coverage(k, bump=moved) > 0.5, labels == k
        assert (true & own).sum() / (true | own).sum() > 0.93


@pytest.mark.parametrize("rise", [-12.0, 20.0], ids=["hanging leaves", "rising leaves"])
def test_the_bare_stem_is_true_to_a_millimetre(rise):
    stage = bare_shelf().with_(seedling(120, 80, rise=rise))
    found = measure(stage.photo(seed=24), reference(), TRAY).plants[0]
    assert found.stem_px * MM == pytest.approx(80 * MM, abs=1.0)


def test_a_plant_that_grows_out_of_the_picture_is_cut_off_and_the_others_are_not():
    stage = bare_shelf().with_(three, lambda s: s.stem(120, SOIL_Y, -50, 5.0))
    found = measure(stage.photo(seed=25), reference(), TRAY)
    assert [p.cut_off for p in found.plants] == [True, False, False]
    assert found.plants[0].height_px == pytest.approx(SOIL_Y, abs=2)


def label(stage):
    """A white stick with writing in the second pot."""
    stage.box(310, SOIL_Y - 70, 330, SOIL_Y, WHITE)
    for k in range(4):
        stage.box(314, SOIL_Y - 62 + 9 * k, 326 - 2 * (k % 2), SOIL_Y - 60 + 9 * k, INK)


@cache
def late():
    """Plants and a label stood in every one of the first photos."""
    stage = bare_shelf().with_(label, three)
    return stage, make_reference([stage.photo(seed=k) for k in range(4)], TRAY, "late")


def test_plants_that_stand_in_all_first_photos_are_still_measured():
    stage, first = late()
    assert first.occupied == (True, True, True)
    found = measure(stage.photo(seed=26), first, TRAY)
    assert [p.height_px * MM for p in found.plants] == pytest.approx([h * MM for h in heights(stage)], abs=1.0)


def test_a_label_with_writing_that_always_stood_there_is_no_plant():
    stage, first = late()
    labels = read_labels(measure(stage.photo(seed=26), first, TRAY).labels_png)
    stick = np.zeros(labels.shape, bool)
    stick[int(SOIL_Y) - 68 : int(SOIL_Y) - 12, 312:329] = True
    tissue = cv2.dilate((stage.coverage() > 0).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    assert (labels[stick & ~tissue] > 0).mean() < 0.02


def test_a_photo_of_something_else_is_left_out_with_the_reason():
    other = Stage().table(300, seed=5).pot(200, 250, half=40).pot(420, 270, half=80)
    found = measure(other.photo(seed=27), reference(), TRAY)
    assert "camera moved" in found.fault and found.plants == ()


def test_the_same_photo_gives_the_same_bytes():
    again = measure(grown().photo(seed=20), reference(), TRAY)
    assert again == usual()


def test_findings_come_back_from_the_values_that_are_stored():
    assert Findings.from_values(usual().to_values(), usual().labels_png) == usual()


def test_labels_come_back_from_their_picture():
    labels = np.random.default_rng(1).integers(0, 25, (30, 40), dtype=np.uint8)
    assert np.array_equal(read_labels(labels_png(labels)), labels)


CELLS = Tray(
    view=View(from_="above"),
    scale=Scale(marker_mm=30.0),
    plants=tuple(
        Plant(name=f"r{r + 1}c{c + 1}", box_px=(60 + 110 * c, 60 + 110 * r, 160 + 110 * c, 160 + 110 * r))
        for r in range(3)
        for c in range(3)
    ),
)


@cache
def tray_from_above():
    """Nine cells of soil in a dark tray on a pale floor, with the mark beside it."""
    stage = Stage().box(45, 45, 395, 395, (55, 55, 58))
    rng = np.random.default_rng(4)
    for plant in CELLS.plants:
        left, top, right, bottom = plant.box_px
        stage.box(left, top, right, bottom, (58, 46, 38), wettable=True)
        for x, y in rng.uniform((left + 4, top + 4), (right - 4, bottom - 4), (25, 2)):
            stage.ellipse(x, y, rng.uniform(1, 3), 1.2, (72, 57, 47), turn=rng.uniform(0, 180))
    for x, y in rng.uniform((420, 20), (630, 460), (60, 2)):
        stage.ellipse(x, y, rng.uniform(2, 5), 2.0, (150, 140, 125), turn=rng.uniform(0, 180))
    return stage.mark(square(500.0, 200.0))


def rosettes(stage):
    """A plant whose leaves reach over its cell's edge, and a small one in the next cell but one."""
    for turn in (0, 60, 120):
        stage.ellipse(110, 110, 62, 12, GREEN, turn=turn, plant=1)
    stage.ellipse(330, 110, 25, 10, GREEN, plant=3)


def test_from_above_cover_beyond_its_cell_stays_its_own():
    first = make_reference([tray_from_above().photo(seed=k) for k in range(4)], CELLS, "above")
    stage = tray_from_above().with_(rosettes)
    found = measure(stage.photo(seed=30), first, CELLS)
    true = [float(stage.coverage(k).sum()) for k in (1, 3)]
    assert stage.coverage(1)[:, 161:].sum() > 50
    assert [found.plants[k].tissue_px for k in (0, 2)] == pytest.approx(true, rel=0.03)
    assert all(found.plants[k].tissue_px == 0 for k in (1, 3, 4, 5, 6, 7, 8))
    assert found.plants[0].height_px is None
    wet = measure(tray_from_above().photo(seed=31, wet=0.5), first, CELLS)
    assert all(p.tissue_px == 0 for p in wet.plants)
