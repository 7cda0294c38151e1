"""Light evened in the linear domain, without clipping, measured on what stands still."""

from __future__ import annotations

import numpy as np
import pytest

from sproutlapse.film.encode import yuv420
from sproutlapse.film.light import (
    KNEE,
    Correction,
    StillLight,
    cells,
    lit,
    plant_cells,
    shouldered,
    srgb_decoded,
    srgb_encoded,
)


def board(level: int = 190) -> np.ndarray:
    noise = np.random.default_rng(3).normal(0, 2, (240, 320, 3))
    return np.clip(np.round(level + noise), 0, 255).astype(np.uint8)


def test_half_the_light_is_half_in_linear_light():
    picture = np.full((8, 8, 3), 188, np.uint8)
    halved = lit(picture, Correction(np.full(3, 0.5)), 1.0)
    assert srgb_decoded(halved / 255) == pytest.approx(0.5 * srgb_decoded(np.array(188 / 255)), abs=1e-4)


def test_a_field_of_light_is_applied_in_linear_light_too():
    picture = np.full((96, 128, 3), 150, np.uint8)
    field = np.full((6, 8, 3), np.log(1.1))
    brighter = lit(picture, Correction(np.ones(3), field), 1.0)
    assert srgb_decoded(brighter / 255) == pytest.approx(1.1 * srgb_decoded(np.array(150 / 255)), rel=1e-4)


def test_highlights_bend_and_do_not_clip():
    light = np.linspace(0, 1.2, 200)
    bent = shouldered(light, 1.2)
    assert np.all(np.diff(bent[light < 1.19]) > 0)
    assert bent[-1] == pytest.approx(1.0)
    assert np.array_equal(bent[light <= KNEE], light[light <= KNEE])


def test_a_plant_that_fills_a_third_of_the_picture_does_not_change_the_light():
    still = StillLight()
    nothing = np.zeros(cells(board()).spread.shape, dtype=bool)
    still.correction(cells(board()), nothing, np.ones(3))
    grown = board()
    grown[80:, 100:220] = (40, 110, 30)
    labels = np.zeros((240, 320), np.uint8)
    labels[80:, 100:220] = 1
    found = still.correction(cells(grown), plant_cells(labels, nothing.shape), np.ones(3))
    assert found.factors == pytest.approx(np.ones(3), abs=1e-3)


def test_a_place_near_white_keeps_its_level_though_the_camera_bends_it():
    # Near white the camera answers to a tenth more light with 2 %; the rest of the picture with a tenth.
    still, shown = StillLight(), []
    noise = np.random.default_rng(8).normal(0, 1.5, (240, 320, 3))
    for gain, white in ((1.0, 0.930), (1.1, 0.950), (0.92, 0.912)):
        linear = np.full((240, 320, 3), 0.45 * gain)
        linear[:, 200:] = white
        picture = np.clip(np.round(255 * srgb_encoded(linear) + noise), 0, 255).astype(np.uint8)
        now = cells(picture)
        nothing = np.zeros(now.spread.shape, dtype=bool)
        shown.append(lit(picture, still.correction(now, nothing, np.full(3, 1 / gain), 1.09), 1.09))
    for part in (slice(20, 160), slice(230, 300)):
        level = [float(srgb_decoded(picture[:, part] / 255).mean()) for picture in shown]
        assert np.ptp(level) / level[0] < 0.006


def test_the_common_level_never_follows_a_drift():
    still = StillLight()
    nothing = np.zeros(cells(board()).spread.shape, dtype=bool)
    gains = 1 + 0.003 * np.arange(60)
    for gain in gains:
        now = cells(board())
        found = still.correction(type(now)(now.mean * gain, now.spread), nothing, np.ones(3))
    assert found.factors == pytest.approx(np.full(3, 1 / gains[-1]), rel=1e-3)


def test_too_little_that_stands_still_leaves_the_known_gains():
    still = StillLight()
    checks = np.kron(np.indices((80, 107)).sum(0) % 2, np.ones((3, 3)))[:, :, None].repeat(3, 2).astype(np.uint8) * 200
    nothing = np.zeros(cells(checks).spread.shape, dtype=bool)
    still.correction(cells(checks), nothing, np.ones(3))
    found = still.correction(cells(checks), nothing, np.full(3, 0.9))
    assert found.factors.tolist() == [0.9, 0.9, 0.9]
    assert found.field is None


def test_rounding_keeps_the_fraction_of_a_smooth_surface():
    for level in (180.0, 180.2, 180.45, 180.7):
        planes = yuv420(np.full((64, 64, 3), level, np.float32))
        assert planes[:64].mean() == pytest.approx(16 + level * 219 / 255, abs=0.02)
        assert planes[64:].mean() == pytest.approx(128, abs=0.02)
