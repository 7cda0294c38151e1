"""A shadow on the board is board, whatever the tint of the light that is left in it; a leaf is not."""

import cv2
import numpy as np

from sproutlapse.vision.colour import encode_srgb
from sproutlapse.vision.shadows import board_seen, shaded_board
from sproutlapse.vision.single import tissue_on_board

LEAF = np.array([0.10, 0.22, 0.03], np.float32)  # linear light
WARM_SHADE = np.array([0.55, 0.48, 0.36], np.float32)  # of the board's light: daylight is kept off, a warm lamp is left


def _paper(shade: tuple[float, float, float] | None = None) -> np.ndarray:
    """A sheet of paper lit a little stronger on the left, with a soft round shadow about (300, 150) if asked for."""
    light = np.full((240, 420, 3), 0.62, np.float32) * np.linspace(1.05, 0.95, 420, dtype=np.float32)[None, :, None]
    if shade is not None:
        disc = np.zeros((240, 420), np.float32)
        cv2.ellipse(disc, (300, 150), (75, 40), 0, 0, 360, 1.0, -1)
        disc = cv2.GaussianBlur(disc, (0, 0), 8.0)[..., None]
        light = light * (1 - disc + disc * np.asarray(shade, np.float32))
    return light


def _with_leaf(light: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The paper with a leaf on it that ends sharply, half in the shadow; and where the leaf is."""
    drawn = np.zeros(light.shape[:2], np.uint8)
    cv2.ellipse(drawn, (200, 120), (110, 45), 0, 0, 360, 1, -1)
    cover = cv2.GaussianBlur(drawn.astype(np.float32), (0, 0), 0.7)[..., None]
    return light * (1 - cover) + LEAF * cover, drawn > 0


def _photo(light: np.ndarray) -> np.ndarray:
    noise = np.random.default_rng(4).normal(0, 0.8, light.shape)
    return np.clip(np.round(encode_srgb(light.astype(np.float64)) * 255 + noise), 0, 255).astype(np.uint8)


def _dice(found: np.ndarray, drawn: np.ndarray) -> float:
    return 2 * int((found & drawn).sum()) / (int(found.sum()) + int(drawn.sum()))


def test_a_leaf_on_paper_is_found_to_the_edge():
    light, drawn = _with_leaf(_paper())
    assert _dice(tissue_on_board(_photo(light)).mask, drawn) > 0.985


def test_a_grey_shadow_beside_a_leaf_is_no_leaf():
    light, drawn = _with_leaf(_paper((0.5, 0.5, 0.5)))
    assert _dice(tissue_on_board(_photo(light)).mask, drawn) > 0.98


def test_a_warm_shadow_beside_a_leaf_is_no_leaf():
    light, drawn = _with_leaf(_paper(tuple(WARM_SHADE)))
    assert _dice(tissue_on_board(_photo(light)).mask, drawn) > 0.98


def test_a_leaf_that_runs_out_of_the_picture_is_found_to_the_picture_edge():
    light, drawn = _with_leaf(_paper())
    found = tissue_on_board(_photo(light)[:, 150:]).mask
    assert _dice(found, drawn[:, 150:]) > 0.985
    assert found[120, 0]


def test_a_pale_cream_leaf_with_a_sharp_outline_is_not_taken_for_a_shadow():
    light = _paper()
    drawn = np.zeros(light.shape[:2], np.uint8)
    cv2.ellipse(drawn, (200, 120), (110, 45), 0, 0, 360, 1, -1)
    cover = cv2.GaussianBlur(drawn.astype(np.float32), (0, 0), 0.7)[..., None]
    cream = np.array([0.50, 0.47, 0.28], np.float32)
    assert _dice(tissue_on_board(_photo(light * (1 - cover) + cream * cover)).mask, drawn > 0) > 0.98


def test_the_shaded_board_is_the_plain_board_where_no_shadow_lies():
    board = _paper()
    assert np.array_equal(shaded_board(board, board), board)
    assert not board_seen(board, board)[1].any()


def test_behind_a_leaf_the_board_goes_on_in_the_shade_seen_around_it():
    shaded = _paper((0.5, 0.5, 0.5))
    light, _ = _with_leaf(shaded)
    behind = shaded_board(light, _paper())
    beside = slice(145, 155), slice(295, 300)  # under the leaf's tip, well in the shadow
    assert abs(float(np.median(behind[beside] / shaded[beside])) - 1) < 0.08
    assert abs(float(np.median(behind[115:125, 110:130] / _paper()[115:125, 110:130])) - 1) < 0.03
