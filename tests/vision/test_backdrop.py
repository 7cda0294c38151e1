"""Where no plain board stands behind the plants, nothing is made a plant by its colour."""

import numpy as np
from drawing import GREEN, SOIL_Y, bare_shelf, seedling, shelf_tray

from sproutlapse.vision.bare import bare_stage
from sproutlapse.vision.colour import to_light

TRAY = shelf_tray()
LEFT, TOP = int(TRAY.plants[1].box_px[0]), -20


def room(stage, left=LEFT):
    """Cloths and books in place of the board, from a column to the right."""
    rng = np.random.default_rng(4)
    for x in range(left, 660, 60):
        for y in range(TOP, int(SOIL_Y) - 30, 50):
            stage.box(x, y, x + 60, y + 50, tuple(int(v) for v in rng.integers(40, 170, 3)))


def staged(*drawings, count=7):
    photos = [bare_shelf().with_(*drawings).photo(seed=k) for k in range(count)]
    lights = [to_light(photo) for photo in photos]
    return bare_stage(np.median(np.stack(lights), axis=0).astype(np.float32), lights, TRAY)


def test_before_a_room_no_plant_is_seen_where_none_stands_and_it_is_said_behind_which():
    stage = staged(room)
    assert stage.occupied == (False, False, False)
    assert "behind B, C" in " ".join(stage.notes)


def test_beside_the_room_a_plant_before_the_board_is_still_found():
    stage = staged(room, seedling(120, 90, colour=GREEN))
    assert stage.occupied[0]
    assert "behind B, C" in " ".join(stage.notes)


def test_a_room_behind_the_whole_row_is_said_of_all():
    stage = staged(lambda scene: room(scene, left=-20))
    assert stage.occupied == (False, False, False)
    assert "behind A, B, C" in " ".join(stage.notes)


def test_a_board_behind_all_is_not_spoken_of():
    assert staged(seedling(120, 90, colour=GREEN)).notes[0].startswith("In the first photo plants stood")
