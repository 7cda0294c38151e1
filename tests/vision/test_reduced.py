"""Large photos are measured on a smaller picture: places, lengths, areas and outlines come back in their own pixels."""

import cv2
import numpy as np
import pytest

from sproutlapse.tray import Plant, Scale, Tray, View
from sproutlapse.vision.align import move
from sproutlapse.vision.findings import Findings, PlantFinding
from sproutlapse.vision.labels import labels_enlarged, labels_png, read_labels, relabelled
from sproutlapse.vision.reduced import (
    enlarged,
    matrix_enlarged,
    matrix_reduced,
    mm_enlarged,
    tray_enlarged,
    tray_reduced,
)

TRAY = Tray(
    view=View(from_="side"),
    scale=Scale(from_px=(10.0, 20.0), to_px=(410.3, 20.0), length_mm=50),
    plants=(Plant(name="A", box_px=(0.0, 3.0, 1199.7, 2999.0), soil_y_px=2011.1),),
)


@pytest.mark.parametrize("step", [1, 2, 4, 8])
def test_a_tray_comes_back_as_it_was(step: int):
    assert tray_enlarged(tray_reduced(TRAY, step), step, (4000, 3000)) == TRAY


def test_the_middle_of_a_block_of_pixels_is_the_small_pixel():
    small = tray_reduced(TRAY.model_copy(update={"plants": (Plant(name="A", box_px=(1.5, 5.5, 9.5, 13.5)),)}), 4)
    assert small.plants[0].box_px == (0.0, 1.0, 2.0, 3.0)


@pytest.mark.parametrize("step", [2, 4])
def test_a_movement_is_the_same_in_both_pixels(step: int):
    small = np.array([[1.01, -0.03, 5.2], [0.03, 1.01, -7.1]])
    point = np.array([[37.0, 411.0]])
    full = point * step + (step - 1) / 2
    expected = move(small, point) * step + (step - 1) / 2
    assert move(matrix_enlarged(small, step), full) == pytest.approx(expected, abs=1e-9)
    assert matrix_reduced(matrix_enlarged(small, step), step) == pytest.approx(small, abs=1e-12)


def test_findings_are_told_in_the_photos_own_pixels():
    plant = PlantFinding(tissue_px=100.0, height_px=50.0, stem_px=None, foot_x_px=20.0, top_y_px=3.0, lean_deg=4.0)
    found = enlarged(Findings("", plants=(plant,), pots_px=((1.0, -2.0), None), shift_px=0.5), 4)
    own = found.plants[0]
    assert (own.tissue_px, own.height_px, own.stem_px, own.lean_deg) == (1600.0, 200.0, None, 4.0)
    assert (own.foot_x_px, own.top_y_px) == (81.5, 13.5)
    assert (found.pots_px, found.shift_px, found.step) == (((4.0, -8.0), None), 2.0, 4)
    assert mm_enlarged((0.4, None), 4) == (0.1, None)


def _leaf(step: int) -> tuple[np.ndarray, np.ndarray]:
    """A slanted leaf in the photo's pixels, and the share of each larger pixel that it covers."""
    true = np.zeros((400, 600), np.uint8)
    cv2.ellipse(true, (301, 187), (150, 37), 23.0, 0, 360, 1, -1)
    return true, cv2.resize(true.astype(np.float32), (600 // step, 400 // step), interpolation=cv2.INTER_AREA)


@pytest.mark.parametrize("step", [2, 4])
def test_an_outline_is_enlarged_to_a_part_of_the_larger_pixel(step: int):
    true, share = _leaf(step)
    packed = labels_png((share > 0.5).astype(np.uint8) * 3, share)
    fine = read_labels(labels_enlarged(packed, (600, 400)))
    assert set(np.unique(fine)) == {0, 3}
    both, either = ((fine == 3) & (true == 1)).sum(), ((fine == 3) | (true == 1)).sum()
    blocks = np.kron(share > 0.5, np.ones((step, step), bool))
    in_blocks = (blocks & (true == 1)).sum() / (blocks | (true == 1)).sum()
    assert both / either > 0.985 > in_blocks
    assert (fine == 3).sum() == pytest.approx(true.sum(), rel=0.003)


def test_a_photo_whose_sides_are_no_multiple_of_the_step_has_a_mask_of_its_own_size():
    _true, share = _leaf(4)
    packed = labels_png((share > 0.5).astype(np.uint8), share)
    assert read_labels(labels_enlarged(packed, (597, 398))).shape == (398, 597)
    empty = labels_png(np.zeros_like(share, np.uint8), share)
    assert not read_labels(labels_enlarged(empty, (597, 398))).any()


def test_two_plants_that_touch_keep_their_own_pixels():
    labels = np.ones((20, 20), np.uint8)
    labels[:, 10:] = 2
    fine = read_labels(labels_enlarged(labels_png(labels, np.ones((20, 20), np.float32)), (80, 80)))
    assert (fine[:, :40] == 1).all()
    assert (fine[:, 40:] == 2).all()


def test_labels_are_taken_away_and_shares_stay():
    _true, share = _leaf(4)
    labels = (share > 0.5).astype(np.uint8)
    labels[:, 75:] *= 2
    table = np.zeros(256, np.uint8)
    table[2] = 2
    kept = relabelled(labels_png(labels, share), table)
    assert set(np.unique(read_labels(kept))) == {0, 2}
    fine = read_labels(labels_enlarged(kept, (600, 400)))
    assert not (fine == 1).any()
    assert (fine == 2).any()
    whole = labels_png(labels)
    assert labels_enlarged(whole, (600, 400)) == whole


def test_a_box_that_reaches_the_edge_stays_within_the_photo():
    size = (4001, 3001)
    small = TRAY.model_copy(update={"plants": (Plant(name="A", box_px=(0.0, 0.0, 1000.0, 750.0), soil_y_px=500.0),)})
    assert tray_enlarged(small, 4, size).plants[0].box_px == (1.5, 1.5, 4000.0, 3000.0)
