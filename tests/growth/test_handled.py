"""Pots that are moved, taken out and put back are said so, once each, when the photo shows it."""

import numpy as np
from seedling_tables import plant_rows, together

from sproutlapse.growth.judge import judge
from sproutlapse.tray import Plant, Tray, View

TRAY = Tray(plants=(Plant(name="A", box_px=(0, 0, 100, 300), soil_y_px=250),))
HOURS = np.arange(12) * 6.0
HEIGHT = np.linspace(20, 42, 12)


def moved(x, y):
    """The `moved` events of a plant whose pot stands so many mm to the right and lower, photo by photo."""
    rows = plant_rows("A", HOURS, HEIGHT).assign(pot_x=np.asarray(x, float), pot_y=np.asarray(y, float))
    return [
        tuple(row) for row in judge(rows, TRAY).events.query("event == 'moved'")[["time", "known", "detail"]].values
    ]


def test_a_pot_put_back_five_millimetres_off_is_said_once_and_at_once():
    told = moved([0] * 5 + [-4.8] * 7, [0] * 5 + [1.2] * 7)
    assert told == [
        ("2026-03-02T14:00:00", "2026-03-02T14:00:00", "the pot was put back: 4.8 mm to the left, 1.2 mm lower")
    ]


def test_a_pot_that_swells_by_half_a_millimetre_was_not_moved():
    assert moved(np.linspace(0, 0.5, 12), np.linspace(0, -0.5, 12)) == []


def test_a_pot_taken_out_for_two_photos_leaves_and_comes_back():
    x = np.array([0.0] * 4 + [np.nan] * 2 + [0.2] * 6)
    assert [detail for _, _, detail in moved(x, x)] == [
        "the pot is not in its place; the plant is not measured",
        "the pot was put back in its place",
    ]


def test_tables_without_places_of_pots_tell_nothing():
    assert "moved" not in set(judge(plant_rows("A", HOURS, HEIGHT), TRAY).events["event"])


def cells(ways):
    """The `moved` events of cells seen from above that lie so many mm off from the sixth photo on."""
    names = [f"c{k}" for k in range(len(ways))]
    steps = np.arange(12) >= 5
    rows = [
        plant_rows(name, HOURS, HEIGHT).assign(pot_x=steps * way[0], pot_y=steps * way[1])
        for name, way in zip(names, ways, strict=True)
    ]
    plants = tuple(Plant(name=name, box_px=(100 * k, 0, 100 * k + 90, 90)) for k, name in enumerate(names))
    told = judge(together(*rows), Tray(view=View(from_="above"), plants=plants)).events.query("event == 'moved'")
    return [tuple(row) for row in told[["known", "plant", "detail"]].values]


def test_a_tray_put_back_is_one_event_and_not_one_a_cell():
    ((known, plant, detail),) = cells([(2.4, 5.2), (2.5, 4.8), (2.4, 4.4)])
    assert (known, plant) == ("2026-03-02T14:00:00", "")
    assert detail == "the tray was put back: 2.4 mm to the right, 4.8 mm lower"


def test_a_tray_turned_end_for_end_is_said_so():
    ((_, plant, detail),) = cells([(120.0, 40.0), (0.0, 40.0), (-120.0, 40.0)])
    assert plant == ""
    assert detail == "the tray was turned end for end; each cell keeps its name, by its soil and the tray's rim"
