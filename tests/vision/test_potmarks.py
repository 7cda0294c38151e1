"""Small printed marks on pots: names follow them, however pots are handled."""

from functools import cache

import numpy as np
import pytest
from drawing import CENTRES, MM, SOIL_Y, Stage, seedling, shelf_tray, square

from sproutlapse.errors import TrayError
from sproutlapse.trayfile import read_tray
from sproutlapse.vision.colour import to_light
from sproutlapse.vision.labels import read_labels
from sproutlapse.vision.measure import measure
from sproutlapse.vision.potmarks import pot_marks
from sproutlapse.vision.reference import card_marks, make_reference

NUMBERS = (17, 18, 19)
BARE = shelf_tray()
TRAY = BARE.model_copy(
    update={
        "plants": tuple(p.model_copy(update={"mark": n}) for p, n in zip(BARE.plants, NUMBERS, strict=True)),
    }
)
STEMS = (80.0, 50.0, 110.0)
MARK_PX = 12.0 / MM


def shelf(order=(1, 2, 3), *, shifts=(0.0, 0.0, 0.0), grown=True, turned=()):
    """Pots in an order from the left, each with its mark on the wall; those that were turned show it to the board."""
    stage = Stage().table(410)
    for place, k in enumerate(order):
        x = CENTRES[place]
        pot = Stage().pot(x, SOIL_Y, seed=10 * k)
        if k not in turned:
            pot.mark(square(x - MARK_PX / 2, SOIL_Y + 32, MARK_PX), NUMBERS[k - 1])
        if grown:
            seedling(x, STEMS[k - 1], plant=k, rise=24, reach=34)(pot)
        for shape in pot.shapes:
            stage.add(shape.points + np.array([shifts[place], 0.0]), shape.colour, shape.plant, shape.wettable)
    return stage.mark(square(543.0, 345.0))


@cache
def reference():
    return make_reference([shelf(grown=False).photo(seed=k) for k in range(7)], TRAY, "marks")


@cache
def usual():
    return measure(shelf().photo(seed=20), reference(), TRAY)


def heights(found):
    return [p.height_px * MM for p in found.plants]


def test_marks_on_pots_alone_are_no_scale():
    """A card that is not there: nothing is taken for its black square."""
    only = Stage()
    for place, number in zip(CENTRES, NUMBERS, strict=True):
        only.pot(place, SOIL_Y, seed=number).mark(square(place - MARK_PX / 2, SOIL_Y + 32, MARK_PX), number)
    light = to_light(only.photo(seed=1))
    assert card_marks(light, TRAY) == [] and len(card_marks(light, BARE)) == 3


def test_marks_of_twelve_millimetres_are_read_and_do_not_set_the_scale():
    assert sorted(pot_marks(to_light(shelf().photo(seed=3)), TRAY)) == [0, 1, 2]
    assert reference().mm_per_px[0] == pytest.approx(MM, rel=0.005)


@pytest.mark.parametrize("order", [(2, 1, 3), (3, 1, 2), (3, 2, 1)])
def test_names_follow_the_marks_of_pots_that_were_swapped(order):
    stage = shelf(order)
    found = measure(stage.photo(seed=21), reference(), TRAY)
    assert heights(found) == pytest.approx(heights(usual()), abs=0.5)
    labels = read_labels(found.labels_png)
    for place, k in enumerate(order):
        x = round(CENTRES[place])
        assert set(np.unique(labels[: int(SOIL_Y) - 12, x - 50 : x + 50])) == {0, k}


def test_a_swapped_pot_that_also_stands_a_little_off_is_found_to_a_fifth_of_a_pixel():
    found = measure(shelf((2, 1, 3), shifts=(7.5, -5.25, 0.0)).photo(seed=22), reference(), TRAY)
    assert found.pots_px[0] == pytest.approx((CENTRES[1] - CENTRES[0] - 5.25, 0.0), abs=0.2)
    assert found.pots_px[1] == pytest.approx((CENTRES[0] - CENTRES[1] + 7.5, 0.0), abs=0.2)


def test_a_pot_turned_with_its_mark_to_the_board_keeps_its_name():
    found = measure(shelf(turned=(2,)).photo(seed=23), reference(), TRAY)
    assert heights(found) == pytest.approx(heights(usual()), abs=0.5)


def test_a_pot_without_its_mark_is_not_taken_for_the_one_that_stands_in_its_place():
    found = measure(shelf((2, 1, 3), turned=(1,)).photo(seed=24), reference(), TRAY)
    assert found.stood(0) is None and found.plants[1].height_px * MM == pytest.approx(heights(usual())[1], abs=0.5)


def test_a_plant_potted_on_keeps_its_name_where_its_mark_goes_along():
    """Another, larger pot stands in another place; the mark on it is the old one's."""
    stage = shelf((2, 1, 3), turned=(1, 2), grown=False)
    for place, k, half in ((0, 2, 58.0), (1, 1, 64.0)):
        pot = Stage().pot(CENTRES[place], SOIL_Y, half=half, seed=900 + k)
        pot.mark(square(CENTRES[place] - MARK_PX / 2, SOIL_Y + 32, MARK_PX), NUMBERS[k - 1])
        stage.shapes += pot.shapes
        seedling(CENTRES[place], STEMS[k - 1], plant=k, rise=24, reach=34)(stage)
    seedling(CENTRES[2], STEMS[2], plant=3, rise=24, reach=34)(stage)
    found = measure(stage.photo(seed=25), reference(), TRAY)
    assert heights(found) == pytest.approx(heights(usual()), abs=1.0)


def test_one_mark_for_two_pots_is_refused(tmp_path):
    path = tmp_path / "tray.toml"
    entry = '[[plant]]\nname = "{}"\nbox_px = [0, 0, 10, 10]\nmark = 17\n'
    path.write_text(entry.format("A") + entry.format("B"), encoding="utf-8")
    with pytest.raises(TrayError, match="a mark of its own"):
        read_tray(path)
