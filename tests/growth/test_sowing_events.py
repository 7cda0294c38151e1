"""First up, half up and done of a sowing are events of their own, told as soon as they can be."""

import numpy as np
from seedling_tables import clock, every, plant_rows, together, tray_of, until

from sproutlapse.growth.judge import judge

N = 20
H = every(6, N)


def up_from(name: str, first: int, **more: object):
    return plant_rows(name, H, np.where(np.arange(N) < first, 0, 3 + np.arange(N)), **more)


TRAY = tray_of("A", "B", "C", "D", each={"sowing": "s"}, sowing=[{"name": "s"}])
TABLE = together(up_from("A", 5), up_from("B", 3), up_from("C", 9), up_from("D", 7))


def of_sowing(events):
    return [(e.event, e.time, e.known) for e in events.itertuples() if e.plant == ""]


def test_each_is_told_once_with_the_photo_of_the_pot_that_made_it_so():
    assert of_sowing(judge(TABLE, TRAY).events) == [
        ("first up", clock(H[3]), clock(H[5])),
        ("half up", clock(H[5]), clock(H[7])),
        ("done", clock(H[9]), clock(H[11])),
    ]


def test_the_first_sprout_says_what_to_do_unless_the_light_is_on():
    (detail,) = judge(TABLE, TRAY).events.query("event == 'first up'")["detail"]
    assert detail == "s: 1 of 4 pots up; under the light now"
    lit = tray_of("A", each={"sowing": "s"}, sowing=[{"name": "s", "under_light": True}])
    assert list(judge(up_from("A", 3), lit).events.query("event == 'first up'")["detail"]) == ["s: 1 of 1 pot up"]


def test_later_photos_add_events_and_change_none():
    whole = judge(TABLE, TRAY).events
    for n in range(1, N):
        then = whole[whole["known"] <= clock(H[n])]
        assert judge(until(TABLE, H[n]), TRAY).events.to_dict("records") == then.to_dict("records")


def test_what_stood_in_the_first_photo_came_up_nobody_knows_when():
    table = together(up_from("A", 0), up_from("B", 0), up_from("C", 9), up_from("D", 7))
    assert of_sowing(judge(table, TRAY).events) == [("done", clock(H[9]), clock(H[11]))]


def test_seeds_are_counted_where_their_number_is_known():
    tray = tray_of("A", each={"sowing": "s"}, sowing=[{"name": "s", "seeds_per_cell": 3}])
    table = up_from("A", 4, seedlings=np.where(np.arange(N) < 8, 1, 2))
    got = judge(table, tray).events
    assert of_sowing(got) == [("first up", clock(H[4]), clock(H[6])), ("half up", clock(H[8]), clock(H[10]))]
    assert "2 of 3 seeds up" in set(got["detail"].str.removeprefix("s: "))


def test_a_pot_that_is_out_in_the_photo_after_it_came_up_still_counts():
    """A was taken out in the one photo after its first: it is up all the same, and known one photo later."""
    out = up_from("A", 5)
    figures = [name for name in out.columns if name.endswith(("_mm", "_mm2", "_px"))]
    out.loc[6, figures] = np.nan
    table = together(out, up_from("B", 9))
    tray = tray_of("A", "B", each={"sowing": "s"}, sowing=[{"name": "s"}])
    assert of_sowing(judge(table, tray).events) == [
        ("first up", clock(H[5]), clock(H[8])),
        ("done", clock(H[9]), clock(H[11])),
    ]


def test_a_sowing_that_no_plant_names_has_no_steps_and_stops_nothing():
    tray = tray_of("A", "B", each={"sowing": "s"}, sowing=[{"name": "s"}, {"name": "forgotten"}])
    got = judge(together(up_from("A", 5), up_from("B", 3)), tray)
    assert [event for event, *_ in of_sowing(got.events)] == ["first up", "done"]
    assert "no plant of this sowing" in got.sowings.iloc[1]["verdict"]


def test_what_was_up_when_its_cover_came_off_is_the_first_up():
    """A stands there at the uncovering, B comes up days later."""
    a = up_from("A", 3)
    hidden = np.arange(N) < 6
    a = a.assign(covered=hidden)
    a.loc[hidden, [c for c in a if c.endswith(("_mm", "_mm2", "_px", "_deg", "_to_leaf"))]] = np.nan
    table = together(a, up_from("B", 15).assign(covered=False))
    tray = tray_of("A", "B", each={"sowing": "s"}, sowing=[{"name": "s"}])
    assert of_sowing(judge(table, tray).events) == [
        ("first up", clock(H[6]), clock(H[8])),
        ("done", clock(H[15]), clock(H[17])),
    ]
