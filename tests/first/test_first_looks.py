"""Single looks at the first photo, on drawn pictures whose truth is known."""

import cv2
import numpy as np
import pytest

from sproutlapse.first.bands import bands
from sproutlapse.first.check import pots_in_view
from sproutlapse.first.focus import TEN_TO_NINETY, edge_width
from sproutlapse.first.level import mark_turn
from sproutlapse.first.room import SPARE_MM, USUAL_MM, needed_mm
from sproutlapse.first.sight import Sight
from sproutlapse.tray import Judge, Lamp, Plant, Sowing, Tray
from sproutlapse.vision.scale import Mark


def edge(spread: float, *, noise: float = 0.0, lean: float = 0.0) -> np.ndarray:
    """Profiles across a blurred edge, a quarter of a pixel apart, that wanders by `lean` pixels from end to end."""
    steps = np.arange(-14, 14.01, 0.25)
    wander = np.linspace(-lean / 2, lean / 2, 60)[:, None]
    fine = np.arange(-40, 40, 0.05)
    soft = cv2.GaussianBlur((fine > 0).astype(np.float32)[None, :], (0, 0), max(spread / 0.05, 0.1)).ravel()
    profiles = 0.05 + 0.5 * np.interp(steps[None, :] - wander, fine, soft)
    return (profiles + np.random.default_rng(1).normal(0, noise, profiles.shape)).astype(np.float32)


@pytest.mark.parametrize("spread", [0.7, 1.5, 2.5])
@pytest.mark.parametrize(("noise", "lean"), [(0.0, 0.0), (0.03, 0.0), (0.01, 4.0)])
def test_the_width_of_an_edge_is_read_through_noise_and_lean(spread, noise, lean):
    assert edge_width(edge(spread, noise=noise, lean=lean)) == pytest.approx(TEN_TO_NINETY * spread, rel=0.15)


def test_where_there_is_no_edge_no_width_is_made_up():
    assert edge_width(np.full((60, 113), 0.4, np.float32)) is None
    assert edge_width(np.empty((0, 113), np.float32)) is None


def board(light: np.ndarray) -> Sight:
    """A sight of nothing but a board."""
    empty = np.zeros(light.shape, bool)
    colours = np.repeat(light[..., None], 3, axis=2).astype(np.float32)
    return Sight(
        picture=np.zeros((*light.shape, 3), np.uint8), light=colours, shrink=1.0, marks=[], card=empty, view="side",
        pots=[], grid=None, row=None, ground=~empty, tray=Tray(),
    )  # fmt: skip


def smooth_board() -> np.ndarray:
    """Lit from the upper left by a near lamp, dark corners, some noise."""
    y, x = np.mgrid[0:480, 0:640] / 480
    light = 0.9 / (1 + (y + 0.2) ** 2 + 0.5 * (x - 0.3) ** 2) * (1 - 0.25 * ((x - 0.67) ** 2 + (y - 0.5) ** 2))
    return light + np.random.default_rng(2).normal(0, 0.01, light.shape)


def test_a_near_lamp_and_dark_corners_are_no_bands():
    assert bands(board(smooth_board()))[0].grade == "OK"


def test_a_bend_in_the_light_at_one_place_is_no_band():
    x = np.linspace(0, 1, 640)
    bent = np.where(x < 0.5, 0.8 - 0.1 * x, np.maximum(0.75 - 1.2 * (x - 0.5), 0.45) - 0.1 * x)
    assert bands(board(smooth_board() * bent[None, :]))[0].grade == "OK"


@pytest.mark.parametrize("turns", [5, 11, 40])
def test_bands_are_told_and_counted(turns):
    wave = 1 + 0.03 * np.sin(np.linspace(0, 2 * np.pi * turns, 480))
    (line,) = bands(board(smooth_board() * wave[:, None]))
    assert line.grade == "MEND"
    assert f"about {turns} light and dark bands" in line.says


def test_ripples_on_one_half_of_the_board_are_a_shadow_and_no_bands():
    wave = np.ones((480, 640))
    wave[:, :300] += 0.05 * np.sin(np.linspace(0, 2 * np.pi * 8, 480))[:, None]
    assert bands(board(smooth_board() * wave))[0].grade == "OK"


@pytest.mark.parametrize("turn", [-4.0, 0.0, 3.0])
def test_a_turned_mark_is_read_as_turned_whatever_way_up_it_stands(turn):
    square = np.array([(0, 0), (100, 0), (100, 100), (0, 100)], float)
    way = np.radians(turn)
    turned = square @ np.array([(np.cos(way), np.sin(way)), (-np.sin(way), np.cos(way))])
    assert mark_turn(Mark(7, turned)) == pytest.approx(turn, abs=1e-6)
    assert mark_turn(Mark(7, np.roll(turned, 1, axis=0))) == pytest.approx(turn, abs=1e-6)


def plant(**more) -> Plant:
    return Plant(name="A", box_px=(0, 0, 10, 10), **more)


def test_room_is_asked_for_the_crop_its_cut_and_its_lamp():
    def need(*lamps: Lamp, **more) -> float:
        onions = Sowing(name="onions", crop="onions")
        return needed_mm(Tray(plant=(plant(**more),), lamp=lamps, sowing=(onions,))) - SPARE_MM

    assert need() == USUAL_MM["broadleaf"]
    assert need(habit="climber") == USUAL_MM["climber"]
    assert need(habit="grasslike", trim_at_mm=100) == 100
    assert need(Lamp(name="low", above_soil_mm=90), lamp="low") == 90
    assert need(habit="grasslike", sowing="onions") == Judge().allium_trim_at_mm


def test_a_photo_without_any_pot_does_not_pass():
    (view,) = pots_in_view(board(smooth_board()))
    assert view.grade == "MEND" and view.fix
