"""Tips of a clump of blades, seen from the side."""

import numpy as np
import pytest
from drawing import MM, SOIL_Y, STILL, Stage, shelf_tray

from sproutlapse.vision.plants import Setting, side_finding, side_labels
from sproutlapse.vision.tips import tips_of
from sproutlapse.vision.tissue import Tissue

TRAY = shelf_tray()


def clump(*heights):
    """Straight blades side by side in the first pot, as tissue."""

    def draw(stage):
        for n, height in enumerate(heights):
            stage.stem(96 + 12 * n, SOIL_Y, SOIL_Y - height, 4.0, plant=1)

    cover = Stage().with_(draw).coverage()
    return Tissue(cover > 0.5, cover, 40.0 * (cover > 0.5), cover > 0.1)


def test_each_blade_has_its_tip():
    seen = clump(60, 100, 80, 40)
    tips = tips_of(seen.mask, MM)
    assert tips[:, 0] == pytest.approx([96, 108, 120, 132], abs=2)
    assert SOIL_Y - tips[:, 1] == pytest.approx([60, 100, 80, 40], abs=1.5)


def test_the_saw_of_a_slanted_edge_is_no_tip():
    slope = np.tri(60, 60, dtype=bool)[:, ::-1]
    assert len(tips_of(slope, MM)) == 1
    assert tips_of(np.zeros((5, 5), bool), MM).shape == (0, 2)


def test_one_tall_blade_does_not_make_the_clump_tall():
    seen, setting = clump(50, 52, 100, 48), Setting(STILL, (MM, MM, MM))
    found = side_finding(0, TRAY.plants[0], side_labels(seen, TRAY, setting), seen, setting)
    assert found.seedlings == 4
    assert found.height_px == pytest.approx(100, abs=1)
    # The 90th percentile of 48, 50, 52, 100, interpolated as numpy does by default: 52 + 0.7 * 48
    assert found.tips_px == pytest.approx(52 + 0.7 * 48, abs=1.5)


def test_a_single_seedling_has_a_height_alone():
    seen, setting = clump(70), Setting(STILL, (MM, MM, MM))
    found = side_finding(0, TRAY.plants[0], side_labels(seen, TRAY, setting), seen, setting)
    assert found.seedlings == 1
    assert found.tips_px is None
