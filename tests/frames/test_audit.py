"""Faulty frames are told from good ones, however the plants grow and the light changes."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from sproutlapse.frames.audit import Look, damaged_reason, duplicate_reason, fault, look, sudden, usual

Rgb = NDArray[np.uint8]
WIDTH, HEIGHT = 640, 480
POTS = (90, 240, 390, 540)


def shelf(growth: float, *, wet: bool = False, noise: int = 0) -> Rgb:
    """A board, four black pots, a printed mark and plants: growth 0 is bare soil, 1 a canopy over half the picture."""
    light = np.linspace(205, 180, HEIGHT)[:, None, None] * np.ones((1, WIDTH, 1)) * np.array([1, 0.99, 0.97])
    rgb = light.astype(np.uint8)
    cv2.rectangle(rgb, (0, 420), (WIDTH, HEIGHT), (150, 135, 115), -1)
    cv2.rectangle(rgb, (8, 370, 40, 40), (235, 235, 235), -1)
    cv2.rectangle(rgb, (14, 376, 22, 22), (25, 25, 25), -1)
    for x in POTS:
        cv2.fillPoly(rgb, [np.array([(x - 50, 340), (x + 50, 340), (x + 38, 430), (x - 38, 430)])], (32, 32, 34))
        cv2.ellipse(rgb, (x, 340), (48, 7), 0, 0, 360, (40, 30, 22) if wet else (75, 58, 45), -1)
    dice = np.random.default_rng(4)
    for x in POTS:
        for _ in range(round(40 * growth)):
            reach = growth * dice.uniform(0.2, 1.0)
            tip = (round(x + 80 * reach * dice.uniform(-1, 1)), round(338 - 300 * reach))
            cv2.line(rgb, (x, 338), tip, (110, 140, 70), 2, cv2.LINE_AA)
            leaf = (round(8 + 26 * reach), round(4 + 12 * reach))
            green = tuple(int(v) for v in np.array([60, 130, 45]) * dice.uniform(0.6, 1.3))
            cv2.ellipse(rgb, tip, leaf, dice.uniform(0, 180), 0, 360, green, -1, cv2.LINE_AA)
    sensor = np.random.default_rng(noise).normal(0, 2.5, rgb.shape)
    seen = cv2.GaussianBlur(rgb, (0, 0), 0.6) + sensor
    packed = cv2.imencode(".jpg", np.clip(seen, 0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, 88])[1]
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_COLOR), dtype=np.uint8)


def in_light(rgb: Rgb, *gains: float) -> Rgb:
    """The picture under light `gains` times as strong, in linear light (IEC 61966-2-1), clipped as a sensor does."""
    v = rgb / 255.0
    linear = np.clip(np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4) * np.array(gains), 0, 1)
    srgb = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return (srgb * 255 + 0.5).astype(np.uint8)


def turned(rgb: Rgb, dx: float, dy: float, degrees: float) -> Rgb:
    matrix = cv2.getRotationMatrix2D((WIDTH / 2, HEIGHT / 2), degrees, 1)
    matrix[:, 2] += (dx, dy)
    return np.asarray(cv2.warpAffine(rgb, matrix, (WIDTH, HEIGHT), borderMode=cv2.BORDER_REPLICATE), dtype=np.uint8)


def shaken(rgb: Rgb, px: int, *, across: bool) -> Rgb:
    return np.asarray(cv2.blur(rgb, (px, 1) if across else (1, px)), dtype=np.uint8)


def fogged(rgb: Rgb, share: float) -> Rgb:
    return (cv2.GaussianBlur(rgb, (0, 0), 2) * (1 - share) + 185 * share).astype(np.uint8)


def with_arm(rgb: Rgb, start: tuple[int, int], end: tuple[int, int], skin: tuple[int, int, int]) -> Rgb:
    cover = cv2.line(np.zeros(rgb.shape[:2], np.float32), start, end, 1, 80)
    cover = cv2.GaussianBlur(cover, (0, 0), 2)[..., None]
    return (rgb * (1 - cover) + np.array(skin) * cover).astype(np.uint8)


BARE = [look(shelf(0, noise=k)) for k in range(7)]
USUAL = usual(BARE)
STAGES = (0.1, 0.45, 1.0)
LEAVES = {stage: shelf(stage, noise=20) for stage in STAGES}
BEFORE = {stage: look(shelf(stage - 0.03, noise=21)) for stage in STAGES}


def reason(rgb: Rgb, stage: float) -> str:
    seen = look(rgb)
    return fault(seen, USUAL) or sudden(seen, BEFORE[stage], USUAL)


GOOD: dict[str, Callable[[Rgb], Rgb]] = {
    "as it is": lambda rgb: rgb,
    "dimmer": lambda rgb: in_light(rgb, 0.6, 0.6, 0.6),
    "brighter": lambda rgb: in_light(rgb, 1.35, 1.35, 1.35),
    "pink lamps": lambda rgb: in_light(rgb, 1.15, 0.6, 1.1),
    "orange lamps": lambda rgb: in_light(rgb, 1.3, 1.0, 0.55),
    "bumped": lambda rgb: turned(rgb, 8, 5, 1.5),
    "moved by hand": lambda rgb: turned(rgb, 100, -20, 1),
    "a little soft": lambda rgb: np.asarray(cv2.GaussianBlur(rgb, (0, 0), 0.6), dtype=np.uint8),
}
ARMS = {
    "from the right": ((680, 230), (360, 260)),
    "from the left": ((-40, 200), (260, 240)),
    "from above": ((320, -40), (350, 200)),
    "from below": ((200, 520), (250, 260)),
}
SKIN = {"pale": (205, 150, 130), "dark": (95, 62, 48), "green sleeve": (45, 110, 60)}


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("change", GOOD)
def test_no_good_frame_is_lost(change: str, stage: float) -> None:
    assert reason(GOOD[change](LEAVES[stage]), stage) == ""


def test_a_whole_season_of_growth_passes_frame_by_frame() -> None:
    usable: list[Look] = []
    for k, growth in enumerate([0.0] * 7 + list(np.linspace(0, 1, 14))):
        seen = look(shelf(growth, wet=k % 5 == 4, noise=40 + k))
        norm = usual(usable) if usable else None
        assert fault(seen, norm) == ""
        assert norm is None or sudden(seen, usable[-1], norm) == ""
        usable.append(seen)


@pytest.mark.parametrize("stage", STAGES)
def test_lamps_off_is_dark_with_and_without_a_norm(stage: float) -> None:
    night = look(in_light(LEAVES[stage], 0.01, 0.01, 0.01))
    assert fault(night, None).startswith("dark: ")
    assert fault(night, USUAL).startswith("dark: ")


def test_a_washed_out_frame_is_burnt() -> None:
    assert fault(look(in_light(LEAVES[0.1], 30, 30, 30)), None).startswith("burnt: ")
    assert fault(look(in_light(LEAVES[0.1], 3, 3, 3)), USUAL).startswith("burnt: ")


def test_a_board_that_is_always_white_is_no_fault() -> None:
    bright = [look(in_light(shelf(0, noise=k), 2, 2, 2)) for k in range(3)]
    assert bright[0].burnt > 0.4
    assert fault(bright[0], None) == ""
    assert fault(bright[2], usual(bright[:2])) == ""


@pytest.mark.parametrize("stage", STAGES)
def test_out_of_focus_is_blurred(stage: float) -> None:
    for px in (2.0, 3.0, 6.0):
        assert reason(np.asarray(cv2.GaussianBlur(LEAVES[stage], (0, 0), px)), stage).startswith("blurred: ")


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("across", [True, False])
def test_a_shaken_camera_is_blurred_in_one_direction(stage: float, across: bool) -> None:
    assert reason(shaken(LEAVES[stage], 11, across=across), stage).startswith("blurred: ")


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("share", [0.35, 0.5, 0.65])
def test_condensation_on_the_lens_is_hazy(stage: float, share: float) -> None:
    assert reason(fogged(LEAVES[stage], share), stage).startswith("hazy: ")


@pytest.mark.parametrize("stage", STAGES)
@pytest.mark.parametrize("way", ARMS)
@pytest.mark.parametrize("skin", ["pale", "dark"])
def test_an_arm_over_the_pots_obstructs(stage: float, way: str, skin: str) -> None:
    rgb = with_arm(LEAVES[stage], *ARMS[way], SKIN[skin])
    assert reason(rgb, stage).startswith("obstructed: ")


def test_a_green_sleeve_obstructs_a_young_tray() -> None:
    assert reason(with_arm(LEAVES[0.1], *ARMS["from the right"], SKIN["green sleeve"]), 0.1).startswith("obstructed: ")


def test_the_frame_after_the_hand_is_good_again() -> None:
    hand = look(with_arm(LEAVES[0.1], *ARMS["from the right"], SKIN["pale"]))
    clean = look(LEAVES[0.1])
    assert sudden(clean, BEFORE[0.1], USUAL, before=hand) == ""
    assert sudden(clean, hand, USUAL) == ""


def test_what_stays_in_view_is_a_change_of_the_scene() -> None:
    rgb = with_arm(LEAVES[0.1], *ARMS["from the right"], SKIN["pale"])
    first, second = look(rgb), look(in_light(rgb, 1.05, 1.05, 1.05))
    assert sudden(first, BEFORE[0.1], USUAL).startswith("obstructed: ")
    assert sudden(second, BEFORE[0.1], USUAL, before=first) == ""


def test_a_hand_in_the_very_first_photo_does_not_cost_the_second() -> None:
    hand = look(with_arm(shelf(0), *ARMS["from the right"], SKIN["pale"]))
    assert sudden(BARE[1], hand, usual([hand])) == ""


def test_another_size_is_said_with_both() -> None:
    text = fault(look(np.ascontiguousarray(shelf(0)[:, :600])), USUAL)
    assert text == "other size: 600 x 480 pixels, the first photos have 640 x 480"


def test_a_dark_start_does_not_become_the_norm() -> None:
    usable: list[Look] = []
    reasons = []
    for k in range(6):
        rgb = shelf(0, noise=k)
        seen = look(in_light(rgb, 0.008, 0.008, 0.008) if k in {0, 3} else rgb)
        reasons.append(fault(seen, usual(usable) if usable else None))
        if not reasons[-1]:
            usable.append(seen)
    assert [text[:4] for text in reasons] == ["dark", "", "", "dark", "", ""]


def test_only_the_first_seven_make_the_norm() -> None:
    assert usual([*BARE, look(LEAVES[1.0])]) == USUAL


def test_numbers_of_a_photo_go_through_json_unchanged() -> None:
    assert Look(**json.loads(json.dumps(asdict(BARE[0])))) == BARE[0]


def test_the_same_pixels_have_the_same_hash_and_no_others() -> None:
    rgb = shelf(0)
    other = rgb.copy()
    other[0, 0, 0] ^= 1
    assert look(rgb).pixel_hash == look(rgb.copy()).pixel_hash != look(other).pixel_hash
    assert look(rgb.reshape(WIDTH, HEIGHT, 3)).pixel_hash != look(rgb).pixel_hash


def test_a_tiny_picture_is_judged_without_edges() -> None:
    assert fault(look(np.full((20, 30, 3), 120, np.uint8)), None) == ""


def test_reasons_of_the_caller_begin_with_the_contracts_words() -> None:
    assert duplicate_reason("IMG_0004.JPG") == "duplicate: same picture as IMG_0004.JPG"
    assert damaged_reason("cut short").startswith("damaged: cut short")
