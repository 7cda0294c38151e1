"""Events that an earlier run told are named when they go, with the reason."""

import pandas as pd

from sproutlapse.outputs_gone import events_told, gone_in_words, what_changed
from sproutlapse.tray import Plant, Tray


def events(*rows: tuple[str, str, str]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["time", "plant", "event"])


LEGGY = ("2026-03-03T09:00:00", "B", "leggy")
UP = ("2026-03-01T09:00:00", "B", "emerged")


def test_nothing_is_said_while_all_events_are_there():
    assert gone_in_words(events(UP), events(UP, LEGGY), "x") == []


def test_an_event_that_goes_is_named_with_plant_time_and_reason():
    assert gone_in_words(events(UP, LEGGY), events(UP), "tray.toml was changed") == [
        "1 event that the last run told is not told any more, since tray.toml was changed: "
        "leggy (B 2026-03-03 09:00:00)."
    ]


def test_many_events_are_counted_and_the_first_named():
    many = events(*[(f"2026-03-{d:02d}T09:00:00", "B", "leggy") for d in range(1, 12)])
    assert "5 more." in gone_in_words(many, events(), "x")[0]


def test_no_earlier_run_has_no_events(tmp_path):
    assert gone_in_words(events_told(tmp_path / "events.csv"), events(UP), "x") == []


def test_the_reason_names_the_plants_and_keys_that_were_changed():
    def tray(habit: str) -> Tray:
        plants = tuple(Plant(name=n, box_px=(0, 0, 9, 9), habit=habit if n == "A" else "broadleaf") for n in "AB")
        return Tray().model_copy(update={"plants": plants})

    before = tray("broadleaf").model_dump(mode="json", by_alias=True)
    assert what_changed(before, tray("grasslike")) == "tray.toml was changed (habit of A)"
    assert what_changed(before, tray("broadleaf")).startswith("photos were taken away")
