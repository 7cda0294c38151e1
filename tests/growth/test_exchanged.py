"""Pots that may have changed places are asked about, never renamed and never taken for cut or fallen plants."""

import numpy as np
from seedling_tables import every, plant_rows, together, tray_of

from sproutlapse.growth.judge import judge

HOURS = every(6, 20)
LATER = np.arange(20) >= 12
STORIES = {
    "A": (np.linspace(20, 34, 20), 150.0),
    "B": (np.linspace(42, 58, 20), 420.0),
    "C": (np.linspace(63, 82, 20), 900.0),
    "D": (np.linspace(92, 120, 20), 1500.0),
}


def shelf(places, **columns):
    """A table in which from a photo on each place shows the plant of another place."""
    rows = []
    for place, plant in zip("ABCD", places, strict=True):
        (height, canopy), (other, other_canopy) = STORIES[place], STORIES[plant]
        rows.append(
            plant_rows(
                place, HOURS, np.where(LATER, other, height), canopy=np.where(LATER, other_canopy, canopy)
            ).assign(**columns)
        )
    return together(*rows)


def events(places, **columns):
    return judge(shelf(places, **columns), tray_of("A", "B", "C", "D")).events


def test_two_pots_that_changed_places_are_both_said_to_be_doubtful():
    told = events("CBAD")
    assert list(told["event"]) == ["moved"] * 2 and list(told["plant"]) == ["A", "C"]
    assert set(told["known"]) == {"2026-03-04T14:00:00"} and set(told["time"]) == {"2026-03-04T08:00:00"}
    assert told["detail"].str.startswith("A and C may have changed places: ").all()
    assert told["detail"].str.contains("check the labels").all()


def test_a_row_the_other_way_round_is_a_tray_turned_end_for_end():
    told = events("DCBA")
    assert list(told["plant"]) == ["A", "B", "C", "D"] and set(told["event"]) == {"moved"}
    assert told["detail"].str.startswith("the tray may have been turned end for end").all()


def test_pots_that_stay_change_no_places():
    assert events("ABCD").empty


def test_growth_is_not_read_across_an_exchange():
    row = judge(shelf("CBAD"), tray_of("A", "B", "C", "D")).plants.set_index("plant").loc["A"]
    assert abs(row["growth_mm_per_day"] - 19 / HOURS[-1] * 24) < 0.1 and row["trims"] == 0


def test_plants_cut_to_one_height_did_not_change_places():
    table = together(
        *(
            plant_rows(name, HOURS, np.where(LATER, 40.0, height), canopy=np.where(LATER, canopy / 3, canopy))
            for name, (height, canopy) in list(STORIES.items())[1:]
        )
    )
    assert "moved" not in set(judge(table, tray_of("B", "C", "D")).events["event"])


def test_a_name_that_followed_its_mark_to_another_place_is_not_asked_about():
    far = np.where(LATER, 150.0, 0.0)
    told = events("CBAD", pot_x=far, pot_y=0.0)
    assert not told["detail"].str.contains("changed places").any()
