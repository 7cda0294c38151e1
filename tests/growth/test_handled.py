"""Pots that are moved, taken out and put back are said so, once each, when the photo shows it."""

import numpy as np
from seedling_tables import plant_rows

from sproutlapse.growth.judge import judge
from sproutlapse.tray import Plant, Tray

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
