"""In a photo from above plants that touch are shared out, empty cells stay empty, and water is no plant."""

from functools import cache

import numpy as np
import pytest
from drawing import GREEN, SOIL, STILL, Stage, bump, square

from sproutlapse.tray import Plant, Scale, Tray, View
from sproutlapse.vision.labels import read_labels
from sproutlapse.vision.measure import measure
from sproutlapse.vision.reference import make_reference

MIDDLES = [(115.0 + 110 * k, 200.0) for k in range(3)]
TRAY = Tray(
    view=View(from_="above"),
    scale=Scale(marker_mm=30.0),
    plants=tuple(Plant(name=f"r1c{k}", box_px=(x - 52, y - 52, x + 52, y + 52)) for k, (x, y) in enumerate(MIDDLES, 1)),
)


@cache
def bare_tray():
    """Three cells of soil in a dark tray on a pale floor, with the mark beside it."""
    stage = Stage().box(45, 130, 405, 270, (55, 55, 58))
    rng = np.random.default_rng(4)
    for x, y in MIDDLES:
        stage.box(x - 50, y - 50, x + 50, y + 50, SOIL, wettable=True)
        for at in rng.uniform(-46, 46, (25, 2)):
            stage.ellipse(x + at[0], y + at[1], rng.uniform(1, 3), 1.2, (72, 57, 47), turn=rng.uniform(0, 180))
    for x, y in rng.uniform((20, 320), (620, 460), (60, 2)):
        stage.ellipse(x, y, rng.uniform(2, 5), 2.0, (110, 100, 90), turn=rng.uniform(0, 180))
    return stage.mark(square(500.0, 150.0))


@cache
def reference():
    return make_reference([bare_tray().photo(seed=k) for k in range(4)], TRAY, "bare")


def rosette(k, reach):
    """A function that draws a plant with four leaves in the k-th cell from 0."""

    def draw(stage):
        x, y = MIDDLES[k]
        for turn in (8, 98):
            stage.ellipse(x, y, reach, 8, GREEN, turn=turn, plant=k + 1)

    return draw


def areas(found):
    return [plant.tissue_px for plant in found.plants]


@pytest.mark.parametrize("bumped", [STILL, bump((6, -4), 0.7)], ids=["stood still", "bumped"])
def test_the_cover_of_a_cell_is_true_and_its_neighbours_stay_empty(bumped):
    stage = bare_tray().with_(rosette(1, 30))
    found = measure(stage.photo(seed=41, bump=bumped), reference(), TRAY)
    assert areas(found) == [0.0, pytest.approx(stage.coverage(2).sum(), rel=0.05), 0.0]
    assert found.plants[1].seedlings == 1


def test_two_plants_that_touch_are_shared_out():
    stage = bare_tray().with_(rosette(0, 58), rosette(1, 58))
    found = measure(stage.photo(seed=42), reference(), TRAY)
    true = [float(stage.coverage(k).sum()) for k in (1, 2)]
    assert areas(found)[:2] == pytest.approx(true, rel=0.08)
    assert areas(found)[2] == 0.0
    labels = read_labels(found.labels_png)
    assert [labels[round(y), round(x)] for x, y in MIDDLES[:2]] == [1, 2]


def test_two_seedlings_apart_in_a_cell_are_two():
    def pair(stage):
        for side in (-1, 1):
            stage.ellipse(MIDDLES[2][0] + side * 28, 200, 12, 6, GREEN, plant=3)

    assert measure(bare_tray().with_(pair).photo(seed=43), reference(), TRAY).plants[2].seedlings == 2


def test_watered_cells_stay_empty():
    assert areas(measure(bare_tray().photo(seed=44, wet=0.5), reference(), TRAY)) == [0.0, 0.0, 0.0]
