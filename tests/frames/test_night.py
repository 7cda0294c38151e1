"""Night pictures are known by their missing colour, and no photo in colour is taken for one."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from test_audit import LEAVES, STAGES, USUAL, Rgb, in_light, shelf

from sproutlapse.frames.audit import fault, look, usual
from sproutlapse.frames.night import NIGHT, colour_share, is_night


def by_infrared(rgb: Rgb, *, light: float = 1.0, tint: tuple[float, float, float] = (1, 1, 1), noise: int = 7) -> Rgb:
    """The shelf by the camera's own lamp: grey, the leaves as white as the board, packed as JPEG."""
    leaf = (rgb[..., 1].astype(int) - rgb[..., 0] > 12) | (rgb[..., 1].astype(int) - rgb[..., 2] > 25)
    grey = np.where(leaf, 200.0, rgb.mean(axis=2)) + np.random.default_rng(noise).normal(0, 2.5, rgb.shape[:2])
    lit = in_light(np.repeat(np.clip(grey, 0, 255)[..., None], 3, axis=2).astype(np.uint8), *(light * np.array(tint)))
    packed = cv2.imencode(".jpg", lit, [cv2.IMWRITE_JPEG_QUALITY, 85])[1]
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), dtype=np.uint8)


def greyer(rgb: Rgb, colour: float) -> Rgb:
    grey = rgb.mean(axis=2, keepdims=True)
    return np.clip(grey + colour * (rgb - grey), 0, 255).astype(np.uint8)


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("light", [1.3, 1.0, 0.4, 0.1])
def test_an_infrared_picture_is_a_night_picture_and_never_dark(stage: float, light: float) -> None:
    seen = look(by_infrared(LEAVES[stage], light=light))
    assert fault(seen, USUAL).startswith(NIGHT)
    assert fault(seen, None).startswith(NIGHT)


@pytest.mark.parametrize("stage", STAGES)
def test_a_purple_night_is_known_by_what_is_usual_by_day(stage: float) -> None:
    assert fault(look(by_infrared(LEAVES[stage], tint=(1, 0.8, 1.08))), USUAL).startswith(NIGHT)


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("colour", [0.5, 0.7])
def test_pale_colours_are_no_night(stage: float, colour: float) -> None:
    assert fault(look(greyer(LEAVES[stage], colour)), USUAL) == ""


@pytest.mark.parametrize("gains", [(0.3, 0.3, 0.3), (1.15, 0.6, 1.1), (1.3, 1.0, 0.55)])
def test_bare_pots_in_any_light_are_no_night(gains: tuple[float, float, float]) -> None:
    assert fault(look(in_light(shelf(0), *gains)), None) == ""


@pytest.mark.parametrize("light", [0.004, 0.008])
def test_lamps_off_stays_dark_whatever_the_colour(light: float) -> None:
    assert fault(look(by_infrared(LEAVES[0.45], light=light)), USUAL).startswith("dark")


def test_colour_is_counted_beyond_an_even_tint() -> None:
    bare = shelf(0)
    assert colour_share(by_infrared(bare)) == pytest.approx(0, abs=1e-6)
    assert colour_share(in_light(bare, 1.0, 0.7, 1.0)) == pytest.approx(colour_share(bare), rel=0.3)


def test_of_a_tiny_or_a_black_picture_no_colour_is_told() -> None:
    assert colour_share(np.full((20, 30, 3), 120, np.uint8)) is None
    assert colour_share(np.zeros((200, 300, 3), np.uint8)) is None
    assert not is_night(None, 0.05)


def test_numbers_kept_without_colour_leave_the_usual_colour_unknown() -> None:
    old = look(shelf(0)).__dict__ | {"colour": None}
    assert usual([type(look(shelf(0)))(**old), look(shelf(0))]).colour is None
