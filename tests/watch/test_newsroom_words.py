"""What is news, in whose name, and how often a sowing may ring."""

import pandas as pd

from sproutlapse.results import CareItem
from sproutlapse.tray import Plant, Sowing, Tray
from sproutlapse.watch.news import Message, Told, lines_of

DAY = "2026-03-0{}T09:00:00"


def tray() -> Tray:
    plants = tuple(
        Plant(name=name, box_px=(0, 0, 10, 10), sowing=sowing)
        for name, sowing in (("A", "basil"), ("B", "basil"), ("C", "kale"), ("D", "kale"))
    )
    return Tray(sowings=(Sowing(name="basil"), Sowing(name="kale")), plants=plants)


def table(*rows: tuple[int, str, str, str]) -> pd.DataFrame:
    told = [(DAY.format(day), DAY.format(day), plant, event, detail) for day, plant, event, detail in rows]
    return pd.DataFrame(told, columns=["time", "known", "plant", "event", "detail"])


FIRST = (1, "", "first up", "basil: 1 of 9 pots up")
HALF = (2, "", "half up", "basil: 5 of 9 pots up")
DONE = (4, "", "done", "basil: 9 of 9 pots up")


def messages(told: Told, *rows: tuple[int, str, str, str], care: tuple[CareItem, ...] = ()) -> list[Message]:
    return told.messages(told.new(table(*rows), tray()), tray(), care)


def test_an_event_is_new_once():
    told = Told()
    first = (1, "A", "leggy", "30 mm tall")
    assert [one.plant for one in told.new(table(first), tray())] == ["A"]
    assert [one.plant for one in told.new(table(first, (2, "B", "leggy", "")), tray())] == ["B"]


def told_once() -> tuple[Told, dict[str, str], pd.DataFrame]:
    """Two events told with the photo of the second day."""
    told, times = Told(), {"a.jpg": DAY.format(1), "b.jpg": DAY.format(2)}
    events = table((1, "A", "leggy", ""), FIRST)
    events["known"] = events["time"]
    told.catch_up(events, tray(), tray(), times)
    told.new(events, tray())
    return told, times, events


def test_a_sowing_that_is_renamed_is_not_told_again():
    told, times, events = told_once()
    plants = tuple(plant.model_copy(update={"sowing": plant.sowing and f"{plant.sowing} 2"}) for plant in tray().plants)
    renamed = Tray(sowings=(Sowing(name="basil 2"), Sowing(name="kale 2")), plants=plants)
    events["detail"] = events["detail"].str.replace("basil", "basil 2")
    late = table((3, "A", "flopped", ""))
    late["known"] = late["time"]
    both = pd.concat([events, late])
    told.catch_up(both, renamed, renamed, {**times, "c.jpg": DAY.format(3)})
    assert [one.event for one in told.new(both, renamed)] == ["flopped"]


def test_photos_that_are_dated_anew_bring_no_event_again():
    told, times, events = told_once()
    later = {name: time.replace("-03-", "-04-") for name, time in times.items()}
    events[["time", "known"]] = events[["time", "known"]].map(lambda time: time.replace("-03-", "-04-"))
    told.catch_up(events, tray(), tray(), later)
    assert told.new(events, tray()) == []


def test_events_of_one_sowing_come_in_one_message_and_say_so_in_words():
    found = messages(Told(), (1, "A", "leggy", "x"), (1, "B", "leggy", "y"), (1, "C", "flopped", "z"))
    assert [(one.sowing, one.lines) for one in found] == [
        ("basil", ("A and B are leggy (1 Mar, 09:00)",)),
        ("kale", ("C went down: z (1 Mar, 09:00)",)),
    ]
    assert found[0].title == "basil: A and B are leggy (1 Mar, 09:00)"
    assert [event["plant"] for event in found[0].events] == ["A", "B"]


def test_what_concerns_all_comes_in_a_message_of_its_own():
    (found,) = messages(Told(), (1, "", "watered", "the soil turned darker"))
    assert (found.sowing, found.lines) == ("", ("Watered: the soil turned darker (1 Mar, 09:00)",))


def test_a_single_plant_that_came_up_is_no_message_of_its_own():
    assert messages(Told(), (1, "A", "emerged", "first seen")) == []
    assert lines_of(Told().new(table((1, "A", "emerged", "first seen")), tray())) == [
        "A came up: first seen (1 Mar, 09:00)"
    ]


def test_a_sowing_rings_three_times_for_what_came_up_whatever_happens():
    told = Told()
    rows = [
        (1, "", "overdue", "basil: 0 of 9 pots up"),
        FIRST,
        HALF,
        (3, "", "few more", "basil: 6 of 9 pots up"),
        DONE,
    ]
    sent = [one.lines for row in rows for one in messages(told, row)]
    assert len(sent) == 3
    assert "Hardly any more of basil" in sent[-1][0]


def test_the_third_is_kept_for_the_end():
    told = Told()
    late = (1, "", "overdue", "basil: 0 of 9 pots up")
    sent = [one.lines[0] for row in (late, FIRST, HALF, DONE) for one in messages(told, row)]
    assert [line.partition(" (")[0] for line in sent] == [
        "basil is overdue: basil: 0 of 9 pots up",
        "The first of basil is up: 1 of 9 pots up",
        "All of basil is up",
    ]


def test_steps_that_come_at_once_are_told_by_the_last():
    (found,) = messages(Told(), FIRST, HALF, DONE, (4, "A", "emerged", ""))
    assert found.lines == ("All of basil is up (4 Mar, 09:00)",)
    assert [event["event"] for event in found.events] == ["done", "emerged"]


def test_other_things_are_sent_when_enough_was_told_of_what_came_up():
    told = Told(emergence={"basil": 3})
    (found,) = messages(told, DONE, (5, "A", "leggy", "x"))
    assert found.lines == ("A is leggy: x (5 Mar, 09:00)",)


def test_what_to_do_about_it_goes_along():
    item = CareItem("leggy", "today", ("A",), "Leggy: A", "why", "30 mm", "Lower the lamp.", causes=("leggy:A",))
    other = CareItem("room", "today", ("C",), "Room: C", "why", "3 mm", "Move it.", causes=("room:C",))
    (found,) = messages(Told(), (1, "A", "leggy", "x"), care=(item, other))
    assert found.text.splitlines()[1:] == ["To do: Leggy: A. Lower the lamp."]


def test_a_message_that_waited_takes_up_the_next_one_of_its_sowing():
    told = Told()
    (one,) = messages(told, (1, "A", "leggy", "x"))
    (two,) = messages(told, (2, "B", "leggy", "y"))
    both = one.with_later(two)
    assert len(both.lines) == 2
    assert both.time == DAY.format(2)
    assert Message.from_values(both.to_values()) == both


def test_a_long_message_names_the_first_and_counts_the_rest():
    lines = tuple(f"line {n}" for n in range(10))
    assert Message("basil", DAY.format(1), lines).text.splitlines()[-1] == "... and 4 more on the page."


def test_plants_without_a_sowing_ring_three_times_in_all():
    bare = Tray(plants=tuple(Plant(name=name, box_px=(0, 0, 10, 10)) for name in "ABCDEF"))
    told, rows, sent = Told(), [], []
    for day, plant in enumerate("ABCDEF", start=1):
        rows.append((day, plant, "emerged", "first seen at 3 mm"))
        sent.append([one.title for one in told.messages(told.new(table(*rows), bare), bare)])
    assert [len(one) for one in sent] == [1, 0, 1, 0, 0, 1]
    assert sent[0][0].startswith("A ")
