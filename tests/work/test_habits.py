"""A habit that nobody wrote is told from the looks of a day and more, once, and from no later photo."""

import cv2
import numpy as np
import pytest

from sproutlapse.tray import Plant, Sowing, Tray, View
from sproutlapse.vision.findings import Findings, PlantFinding
from sproutlapse.vision.labels import labels_png
from sproutlapse.work.habits import habit_of, habits_in_words, told_habits, with_habits
from sproutlapse.work.settle import UsedFrame


def picture(kind: str) -> bytes:
    drawn = np.zeros((200, 100), np.uint8)
    if kind == "blades":
        for x, top in ((40, 40), (50, 20), (60, 70)):
            cv2.line(drawn, (50, 190), (x, top), 1, 4)
    elif kind == "leaves":
        cv2.line(drawn, (50, 190), (50, 60), 1, 3)
        cv2.ellipse(drawn, (50, 60), (40, 6), 0, 0, 360, 1, -1)
    elif kind == "sprout":
        cv2.line(drawn, (50, 190), (50, 180), 1, 3)
    return labels_png(drawn)


def tray(habit: str | None = None, view: str = "side") -> Tray:
    plant = Plant(name="A", box_px=(0, 0, 99, 199), soil_y_px=190, habit=habit)
    return Tray(view=View(from_=view)).model_copy(update={"plants": (plant,)})


def told(kinds: list[str], *, every_h: float = 6, **of: str):
    frames = [
        UsedFrame(
            f"{n}.JPG", "2026-03-01T09:00:00", n * every_h, Findings("", plants=(PlantFinding(100.0 * (k != "bare")),))
        )
        for n, k in enumerate(kinds)
    ]
    asked: list[int] = []

    def labels(index: int) -> bytes:
        asked.append(index)
        return picture(kinds[index])

    return told_habits(frames, tray(**of), labels), asked


@pytest.mark.parametrize(("kind", "habit"), [("blades", "grasslike"), ("leaves", "broadleaf")])
def test_a_day_of_one_look_tells_the_habit_and_no_further_photo_is_looked_at(kind: str, habit: str):
    found, asked = told(["bare"] * 3 + ["sprout"] * 2 + [kind] * 10)
    assert (found["A"].habit, found["A"].since) == (habit, 8)
    assert asked == list(range(3, 9))


def test_hourly_photos_of_one_afternoon_are_not_enough():
    assert told(["bare"] * 3 + ["leaves"] * 12, every_h=1)[0] == {}


def test_what_later_photos_show_changes_nothing():
    kinds = ["bare"] * 2 + ["leaves"] * 8 + ["blades"] * 30
    whole = told(kinds)[0]
    for count in range(len(kinds) + 1):
        part = told(kinds[:count])[0]
        assert part == (whole if whole["A"].since < count else {})


def test_an_onion_that_unfolds_for_a_day_is_not_taken_for_leaves():
    unfolding = ["blades", "blades", "leaves", "leaves", "leaves"]
    assert told(["bare", *unfolding, *["blades"] * 8])[0]["A"].habit == "grasslike"


def test_what_was_sown_as_onions_has_blades_from_the_first():
    sown = tray().model_copy(update={"sowings": (Sowing(name="s", crop="red onions"),)})
    sown = sown.model_copy(update={"plants": (sown.plants[0].model_copy(update={"sowing": "s"}),)})
    found = told_habits([], sown, lambda _: b"")
    assert (found["A"].habit, found["A"].since) == ("grasslike", 0)
    assert "since onions" in " ".join(habits_in_words(with_habits(sown, found), found))


def test_looks_that_do_not_agree_tell_nothing():
    assert habit_of([(6.0 * n, "blades" if n % 2 else "leaves") for n in range(20)]) is None


def test_what_was_written_is_not_told_and_from_above_nothing_is():
    assert told(["bare"] * 3 + ["leaves"] * 20, habit="climber") == ({}, [])
    assert told(["bare"] * 3 + ["leaves"] * 20, view="above") == ({}, [])


def test_what_was_told_and_what_was_not_is_said():
    found, _ = told(["bare"] * 3 + ["blades"] * 9)
    assert "grass-like, with blades, from the looks: A" in " ".join(habits_in_words(with_habits(tray(), found), found))
    assert "Too little shows yet" in " ".join(habits_in_words(tray(), {}))
