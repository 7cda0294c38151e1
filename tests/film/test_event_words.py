"""Every event that the growth room can make has words of its own in the film, and they are a sentence."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

from sproutlapse import growth
from sproutlapse.film.words import PUT_BACK, WORDS, in_words, told_of
from sproutlapse.growth import colour, covers, events

ROOM = Path(growth.__file__).parent
LAMPS = {"lamp went off", "lamp did not come on", "lamp on at night", "lamp on all night"}
# Modules that name their event elsewhere than where they make it, and the names that they know.
BY_NAME = {
    "colour": {colour.YELLOWER, colour.PALER},
    "covers": {covers.ON, covers.OFF},
    "cuts": {"trimmed", "flopped", "collapsed", "wilted"},
    "light_hours": LAMPS,
    "sowings": set(events.STEPS),
}
NAMED_AT = {"Event": 3, "LampEvent": 2}


def made_in(module: Path) -> tuple[set[str], bool]:
    """The names of events that a module writes where it makes them, and whether it makes others by a variable."""
    names, others = set(), False
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in NAMED_AT:
            name = node.args[NAMED_AT[node.func.id]]
            if isinstance(name, ast.Constant):
                names.add(str(name.value))
            else:
                others = True
    return names, others


FOUND = {module.stem: made_in(module) for module in sorted(ROOM.glob("*.py"))}
ALL = sorted(set.union(*BY_NAME.values(), *(names for names, _others in FOUND.values())))


def test_no_module_makes_events_that_this_test_does_not_know():
    assert {stem for stem, (_names, others) in FOUND.items() if others} == set(BY_NAME)
    for stem, names in BY_NAME.items():
        source = "".join((ROOM / f"{one}.py").read_text(encoding="utf-8") for one in (stem, "events"))
        assert all(f'"{name}"' in source for name in names)


def test_the_table_holds_these_events_and_no_others():
    assert set(WORDS) == {*ALL, PUT_BACK}


@pytest.mark.parametrize("event", [*ALL, PUT_BACK])
def test_an_event_is_a_sentence_of_one_of_several_and_of_all(event):
    one, two, all_of_them = in_words(["A"], event), in_words(["A", "B"], event), in_words([""], event)
    many = in_words(list("ABCDEF"), event)
    assert "A and B" in two
    assert "6 sowings" in many or "6 plants" in many
    for said in (one, two, many, all_of_them):
        assert "{" not in said
        assert said != event
        assert said[0].isupper() or said[0].isdigit()
    for said in (two, many):
        assert not {"is", "was"} & set(said.split()) or event.startswith("lamp")


@pytest.mark.parametrize(
    ("names", "event", "said"),
    [
        (["A"], "gone", "A is gone"),
        (["A", "B", "C"], "gone", "A, B and C are gone"),
        (["A"], "yellower", "A turned yellower"),
        (["A"], "stretching", "A is stretching"),
        (["A"], "lamp too near", "Lamp too near A"),
        (["kale"], "first up", "The first of kale is up"),
        (["kale", "leek"], "half up", "Half of kale and leek are up"),
        ([""], "watered", "Watered"),
        ([""], "uncovered", "All were uncovered"),
        (["{who} is"], "turned", "{who} is was turned"),
        (["A"], "an event of later", "A: an event of later"),
    ],
)  # fmt: skip
def test_events_in_a_growers_words(names, event, said):
    assert in_words(names, event) == said


def test_a_sowing_is_told_by_its_name_and_a_pot_put_back_as_such():
    assert told_of("", "first up", "kale: red: 1 of 6 pots up; cover off, under the light now") == (
        "kale: red", "first up")  # fmt: skip
    assert told_of("", "covered", "all pots or cells: what is under the cover is not measured") == ("", "covered")
    assert told_of("A", "moved", "the pot was put back: 3.0 mm to the left") == ("A", PUT_BACK)
    assert told_of("A", "moved", "the pot is not in its place; the plant is not measured") == ("A", "moved")
