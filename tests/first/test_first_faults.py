"""A photo with one planted fault is told by that fault and by nothing else; a good one gets no complaint."""

import re

import cv2
import numpy as np
import pytest
from first_recipe import PHOTOS, recipe

from sproutlapse.first.check import judge
from sproutlapse.frames.decode import decode
from sproutlapse.tray import Tray
from sproutlapse.trayfile import read_tray

SIDE_FAULTS = recipe.EVERYWHERE | recipe.FROM_THE_SIDE
BARE = PHOTOS / "P3030001.JPG"


@pytest.fixture(scope="module")
def spoilt():
    return recipe.with_faults(BARE)


@pytest.mark.parametrize("fault", SIDE_FAULTS)
def test_one_planted_fault_is_named_and_no_other(fault, spoilt):
    picture, line = spoilt[fault]
    told = [found for found in judge(picture, Tray()) if found.grade == "MEND"]
    assert [found.topic for found in told] == [line]
    assert all(found.fix for found in told)


@pytest.mark.parametrize("name", ["P3030020.JPG", "P3030057.JPG"])
def test_good_photos_get_no_complaint_from_bare_pots_to_grown_plants(name):
    picture = decode((PHOTOS / name).read_bytes(), name)
    assert recipe.named(picture, read_tray(PHOTOS / "tray.toml")) == []


def test_a_print_four_percent_small_is_seen_only_against_a_measured_row():
    assert recipe.small_print(BARE) == ["Print size"]
    picture = decode(BARE.read_bytes(), BARE.name)
    (line,) = [line for line in judge(picture, Tray()) if line.topic == "Print size"]
    assert line.grade == "LOOK"
    assert "ruler" in line.fix


def test_a_second_mark_that_is_four_percent_smaller_is_told():
    picture = decode(BARE.read_bytes(), BARE.name)
    mark = picture[586:686, 46:146]
    small = cv2.resize(mark, None, fx=0.96, fy=0.96, interpolation=cv2.INTER_AREA)
    picture[40 : 40 + small.shape[0], 600 : 600 + small.shape[1]] = small
    (line,) = [line for line in judge(picture, Tray()) if line.topic == "Print size"]
    assert line.grade == "MEND"
    off = re.search(r"off by (-[\d.]+) %", line.says)
    assert off is not None
    assert float(off[1]) == pytest.approx(-4, abs=0.3)


def test_a_shaken_photo_is_told_to_be_soft_whatever_way_it_shook():
    photo = decode(BARE.read_bytes(), BARE.name)
    path = np.zeros((9, 9), np.float32)
    path[4] = 1 / 9
    for way in (path, path.T):
        assert recipe.named(cv2.filter2D(photo, -1, way)) == ["Focus"]


def test_a_focus_that_lies_on_the_mark_alone_is_told():
    photo = decode(BARE.read_bytes(), BARE.name)
    soft = cv2.GaussianBlur(photo, (0, 0), 3)
    soft[560:720, :170] = photo[560:720, :170]
    assert recipe.named(soft) == ["Focus"]


def test_a_dark_photo_is_told_to_be_dark_and_nothing_is_guessed_of_the_rest():
    picture = decode(BARE.read_bytes(), BARE.name) // 20
    assert [line.topic for line in judge(picture, Tray())] == ["Brightness"]


def test_a_phone_held_upright_shows_its_bands_from_left_to_right(spoilt):
    picture, _line = spoilt["bands"]
    turned = picture.transpose(1, 0, 2).copy()
    assert "Bands" in recipe.named(turned)
