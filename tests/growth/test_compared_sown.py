"""What was written of the sowings and differs along with the groups; and one crop however it was written."""

import pytest
from compared_pots import mixed, pot

from sproutlapse.compare.words import verdict
from sproutlapse.growth.compared import compared


def lots(a: dict[str, object], b: dict[str, object], n: int = 20, odd: int = 0):
    """Lots A and B in turn, B later; the first `odd` pots of A as those of B."""
    return [pot("AB"[k % 2], k, up=7.0 - 3 * (k % 2) + 0.1 * (k % 5), **(b if k % 2 or k < 2 * odd else a))
            for k in range(n)]  # fmt: skip


@pytest.mark.parametrize(
    ("a", "b", "named", "words"),
    [
        ({"soil_c": 15}, {"soil_c": 24}, "warmth", "lot and warmth cannot be told apart"),
        ({"needs": []}, {"needs": ["soaking"]}, "needs", "given something else"),
        ({"under_light": False}, {"under_light": True}, "light", "lot and light cannot be told apart"),
        ({"crop": "tomato"}, {"crop": "pepper"}, "crop", "lot and crop cannot be told apart"),
        ({"variety": "red"}, {"variety": "blue"}, "variety", "lot and variety cannot be told apart"),
    ],
)
def test_what_was_written_and_differs_along_with_the_lot_is_named(a, b, named, words):
    c = compared(lots(a, b), "lot")
    assert named in c.pairs[0].design.entangled
    assert not any(h.claimed for h in c.pairs[0].held)
    assert words in verdict(c.pairs[0], "lot")
    assert named in compared(lots(a, b, odd=3), "lot").pairs[0].design.entangled


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ({"soil_c": 23.6}, {"soil_c": 24}),
        ({"soil_c": None}, {"soil_c": 24}),
        ({"under_light": None}, {"under_light": True}),
        ({"crop": "Tomatoes"}, {"crop": "tomato"}),
        ({"variety": "Red "}, {"variety": "red"}),
    ],
)
def test_what_differs_in_the_writing_alone_stands_in_nobodys_way(a, b):
    c = compared(lots(a, b), "lot")
    assert c.pairs[0].design.entangled == ()
    assert any(h.claimed for h in c.pairs[0].held)


def test_crops_may_differ_where_crops_or_varieties_are_compared():
    pots = lots({"crop": "tomato", "variety": "red"}, {"crop": "pepper", "variety": "long"})
    assert compared(pots, "crop").pairs[0].design.entangled == ()
    assert compared(pots, "variety").pairs[0].design.entangled == ()


def test_one_crop_is_one_group_however_it_was_written():
    ways = ("Tomato", "tomatoes", "TOMATO", "tomato")
    pots = [pot("A", k, crop=ways[k % 4]) for k in range(8)] + [pot("B", k + 0.5, crop=" My  Herb") for k in range(4)]
    pots += [pot("B", k + 0.6, crop="my herb") for k in range(4)]
    assert {g.name: g.of for g in compared(pots, "crop").groups} == {"tomato": 8, "my herb": 8}
    assert mixed(2)[0].group("crop") == "tomato"
