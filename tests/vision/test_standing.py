"""Plants that stood in the first photo are told from what only looks like one."""

import numpy as np
import pytest
from drawing import GREEN, INK, SOIL_Y, WHITE, bare_shelf, seedling, shelf_tray

from sproutlapse.vision.bare import bare_stage
from sproutlapse.vision.colour import to_lab, to_light

TRAY = shelf_tray()
CREAM = (190, 178, 150)


def staged(photos):
    lights = [to_light(photo) for photo in photos]
    return bare_stage(np.median(np.stack(lights), axis=0).astype(np.float32), lights, TRAY), lights


def series(*drawings, count=7, later=(), since=99):
    """Photos of the drawings, with `later` among them from photo `since` on."""
    return [bare_shelf().with_(*drawings, *(later if k >= since else ())).photo(seed=k) for k in range(count)]


def tinted_label(stage):
    """A cream stick with writing: another white than the board's."""
    stage.box(110, SOIL_Y - 80, 130, SOIL_Y, CREAM)
    for k in range(4):
        stage.box(114, SOIL_Y - 70 + 9 * k, 126, SOIL_Y - 67 + 9 * k, INK)


def test_a_label_of_another_white_than_the_boards_is_no_plant_for_it_never_moves():
    stage, _ = staged(series(tinted_label))
    assert stage.occupied == (False, False, False) and stage.notes == ()


def test_a_plant_that_moves_is_one_though_its_tint_is_faint():
    pale = (168, 180, 130)
    photos = [bare_shelf().with_(seedling(120 + k, 90, colour=pale)).photo(seed=k) for k in range(7)]
    stage, _ = staged(photos)
    assert stage.occupied[0]


@pytest.mark.parametrize("since", [2, 4, 6])
def test_a_plant_that_comes_up_among_the_first_photos_leaves_the_stage_bare_and_its_pot_unoccupied(since):
    drawing = seedling(120, 60, colour=GREEN)
    stage, lights = staged(series(later=(drawing,), since=since))
    grown = bare_shelf().with_(drawing).coverage() > 0
    away = np.linalg.norm(to_lab(stage.light) - to_lab(lights[0]), axis=-1)
    assert stage.occupied == (False, False, False)
    assert np.percentile(away[grown], 95) < 5.0


def test_soil_beside_a_label_is_not_taken_for_board():
    def stick(scene):
        scene.box(100, SOIL_Y - 60, 150, SOIL_Y, WHITE)

    stage, lights = staged(series(stick, later=(seedling(90, 60),), since=4))
    soil = slice(int(SOIL_Y) - 6, int(SOIL_Y)), slice(70, 170)
    away = np.linalg.norm(to_lab(stage.light) - to_lab(lights[0]), axis=-1)[soil]
    assert np.percentile(away, 95) < 6.0


def perlite(stage):
    stage.box(90, SOIL_Y - 3, 95, SOIL_Y + 1, WHITE).box(101, SOIL_Y - 6, 105, SOIL_Y - 2, WHITE)


def test_a_leaf_that_hung_before_the_pot_in_the_first_photo_leaves_bare_soil_behind():
    def hook(stage):
        stage.stem(120, SOIL_Y, SOIL_Y - 40, 4).leaf((120, SOIL_Y - 40), (96, SOIL_Y - 3), 12)

    def risen(stage):
        stage.stem(120, SOIL_Y, SOIL_Y - 60, 4).leaf((120, SOIL_Y - 60), (90, SOIL_Y - 70), 12)

    photos = [bare_shelf().with_(perlite, hook if k == 0 else risen).photo(seed=k) for k in range(7)]
    stage, _ = staged(photos)
    bare = to_lab(to_light(bare_shelf().with_(perlite).photo(seed=9)))
    soil = slice(int(SOIL_Y) - 7, int(SOIL_Y) + 2), slice(85, 112)
    away = np.linalg.norm(to_lab(stage.light) - bare, axis=-1)[soil]
    assert stage.occupied[0]
    assert np.percentile(away, 95) < 8.0
