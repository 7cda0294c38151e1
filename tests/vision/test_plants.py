"""Each plant's figures from labels and covered shares, in pixels of the reference."""

import numpy as np
import pytest
from drawing import MM, SOIL_Y, STILL, Stage, bump, seedling, shelf_tray

from sproutlapse.tray import Plant, Tray, View
from sproutlapse.vision.align import inverse
from sproutlapse.vision.plants import Setting, above_finding, side_finding, side_labels
from sproutlapse.vision.tissue import Tissue

TRAY = shelf_tray()


def tissue_of(stage, moved=STILL):
    cover = stage.coverage(bump=moved)
    return Tissue(cover > 0.5, cover, 40.0 * (cover > 0.5), cover > 0.1)


def find(stage, k=0, moved=STILL):
    tissue, setting = tissue_of(stage, moved), Setting(inverse(moved), (MM, MM, MM))
    return side_finding(k, TRAY.plants[k], side_labels(tissue, TRAY, setting), tissue, setting)


def rounded(x, height, **kind):
    """A stem that carries a round head: its top is known to the pixel."""

    def draw(stage):
        stage.stem(x, SOIL_Y, SOIL_Y - height + 10, 4.0, **kind)
        stage.ellipse(x, SOIL_Y - height + 12, 22, 12, (70, 135, 50), plant=kind.get("plant", 1))

    return draw


@pytest.mark.parametrize("height", [40.0, 90.5, 200.25])
def test_height_runs_from_the_soil_line_to_the_top(height):
    assert find(Stage().with_(rounded(120, height))).height_px == pytest.approx(height, abs=0.5)


@pytest.mark.parametrize("height", [60.0, 150.0])
def test_height_area_and_lean_are_the_same_after_a_bump(height):
    stage = Stage().with_(rounded(120, height))
    still, moved = find(stage), find(stage, moved=bump((9, -6), 1.0))
    assert moved.height_px == pytest.approx(height, abs=0.5)
    assert moved.tissue_px == pytest.approx(still.tissue_px, rel=0.01)
    assert still.lean_deg == pytest.approx(0, abs=0.5)
    assert moved.lean_deg == pytest.approx(0, abs=1.5)


def test_a_stem_as_dark_as_the_soil_is_rooted_where_it_stands_on_the_far_rim():
    tissue = tissue_of(Stage().with_(rounded(120, 90.5)))
    hidden = tissue.mask.copy()
    hidden[int(SOIL_Y) - 17 :] = False
    dark = np.zeros_like(hidden)
    dark[int(SOIL_Y) - 18 :] = True
    setting, wide = Setting(STILL, (MM, MM, MM)), TRAY.plants[0].model_copy(update={"box_px": (20, 0, 220, 480)})
    tray = TRAY.model_copy(update={"plants": (wide,)})
    for told, height in ((None, 0.0), (dark, 90.5)):
        seen = Tissue(hidden, np.where(hidden, tissue.coverage, 0), tissue.distance, tissue.maybe, told)
        found = side_finding(0, wide, side_labels(seen, tray, setting), seen, setting)
        assert (found.height_px or 0.0) == pytest.approx(height, abs=0.5)


def test_area_is_that_of_the_silhouette():
    stage = Stage().with_(seedling(120, 80))
    assert find(stage).tissue_px == pytest.approx(float(stage.coverage()[: int(SOIL_Y) + 1].sum()), rel=0.01)


def test_a_plant_that_leans_to_the_right_has_a_positive_lean():
    found = find(Stage().with_(lambda s: s.stem(120, SOIL_Y, SOIL_Y - 100, 4.0, lean=25)))
    assert found.lean_deg == pytest.approx(np.degrees(np.arctan2(25, 100)), abs=1.5)


def test_width_is_the_widest_extent():
    assert find(Stage().with_(rounded(120, 80))).width_px == pytest.approx(44, abs=1.5)


def test_an_empty_pot_holds_nothing_and_no_number_is_made_up():
    found = find(Stage().with_(rounded(120, 80)), k=1)
    assert found.tissue_px == 0 and found.seedlings == 0
    assert found.height_px is None and found.stem_px is None and found.lean_deg is None


def test_tissue_below_the_soil_line_is_not_measured():
    stage = Stage().with_(rounded(120, 80), lambda s: s.box(100, SOIL_Y + 10, 140, SOIL_Y + 40, (70, 135, 50), plant=1))
    assert find(stage).tissue_px == pytest.approx(find(Stage().with_(rounded(120, 80))).tissue_px, rel=0.005)


def test_a_plant_that_leaves_the_picture_is_cut_off():
    def tall(stage):
        stage.stem(120, SOIL_Y, -60, 6.0)

    assert find(Stage().with_(tall)).cut_off
    assert not find(Stage().with_(rounded(120, 300))).cut_off


def test_several_seedlings_of_a_pot_are_counted_and_the_tallest_gives_the_height():
    stage = Stage().with_(*(rounded(x, height) for x, height in ((80, 50), (125, 110), (165, 70))))
    found = find(stage)
    assert found.seedlings == 3
    assert found.height_px == pytest.approx(110, abs=0.5)


def test_touching_neighbours_go_to_their_own_feet():
    stage = Stage().with_(seedling(120, 100, reach=90, rise=10), seedling(290, 100, plant=2, reach=90, rise=10))
    tissue, setting = tissue_of(stage), Setting(STILL, (MM, MM, MM))
    labels = side_labels(tissue, TRAY, setting)
    for k in (1, 2):
        true = (stage.coverage(k) > 0.5)[: int(SOIL_Y)]
        assert (labels[: int(SOIL_Y)][true] == k).mean() > 0.97


def test_from_above_cover_centre_and_seedlings_are_given_and_no_height():
    tray = Tray(view=View(from_="above"), plants=(Plant(name="r1c1", box_px=(20, 20, 180, 180)),))
    stage = Stage().ellipse(70, 100, 20, 15, (70, 135, 50), plant=1).ellipse(130, 100, 20, 15, (70, 135, 50), plant=1)
    cover = stage.coverage()
    labels = (cover > 0.5).astype(np.uint8)
    found = above_finding(0, labels, cover, Setting(STILL, (MM,)))
    assert len(tray.plants) == 1 and found.seedlings == 2
    assert found.tissue_px == pytest.approx(2 * np.pi * 20 * 15, rel=0.01)
    assert (found.top_x_px, found.top_y_px) == pytest.approx((100, 100), abs=0.5)
    assert found.height_px is None and found.stem_px is None and found.lean_deg is None
