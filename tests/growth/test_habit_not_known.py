"""What rests on a plant's habit is not said before the habit is known."""

import numpy as np
from seedling_tables import clock, every, plant_rows, tray_of, until

from sproutlapse.growth.judge import judge

N = 40
H = every(6, N)


def tall(habit: str, known_from: int):
    height = np.where(np.arange(N) < 24, 60.0, 20.0) if habit == "grasslike" else np.full(N, 60.0)
    canopy = np.where(np.arange(N) < 24, 100.0, 30.0)
    table = plant_rows("A", H, height, ratio=8, stem=0.8 * height, canopy=canopy)
    return table.assign(habit=["" if n < known_from else habit for n in range(N)])


def test_a_plant_is_not_called_leggy_before_its_habit_is_known():
    table = tall("broadleaf", 12)
    events = judge(table, tray_of("A")).events.query("event == 'leggy'")
    assert list(events["known"]) == [clock(H[12])]
    early = judge(until(table, H[11]), tray_of("A"))
    assert "leggy" not in set(early.events["event"])
    assert early.plants.iloc[0]["grade"] == ""


def test_a_cut_is_told_once_the_habit_is_known():
    table = tall("grasslike", 30)
    (event,) = judge(table, tray_of("A")).events.query("event == 'trimmed'").itertuples()
    assert (event.time, event.known) == (clock(H[24]), clock(H[30]))
    assert "trimmed" not in set(judge(until(table, H[29]), tray_of("A")).events["event"])


def test_later_photos_change_no_event():
    table = tall("grasslike", 30)
    whole = judge(table, tray_of("A")).events
    for n in range(1, N):
        part = judge(until(table, H[n]), tray_of("A")).events
        then = whole[whole["known"] <= clock(H[n])]
        assert part.to_dict("records") == then.to_dict("records")
