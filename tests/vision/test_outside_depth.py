"""Lengths by depth against the similar triangles of a pinhole camera."""

import pytest

from sproutlapse.tray import Plant
from sproutlapse.vision.scale import Scale, depth_scale

# Measured over true length = camera to mark over camera to plant, if depth is left out of account: similar triangles of
# a pinhole camera (any textbook of optics); the error in per cent of length and of area, worked out by hand.
DEPTHS = [
    (1000, 950, 5.263, 10.803),
    (1000, 1050, -4.762, -9.297),
    (500, 450, 11.111, 23.457),
    (2000, 1950, 2.564, 5.194),
    (600, 580, 3.448, 7.015),
]


@pytest.mark.parametrize(("mark_mm", "plant_mm", "length_percent", "area_percent"), DEPTHS)
def test_a_plant_off_the_marks_plane_is_corrected_by_what_it_would_be_wrong(
    mark_mm, plant_mm, length_percent, area_percent
):
    wrong = 0.35
    right = depth_scale(wrong, mark_mm, plant_mm)
    assert 100 * (wrong / right - 1) == pytest.approx(length_percent, abs=0.0006)
    assert 100 * ((wrong / right) ** 2 - 1) == pytest.approx(area_percent, abs=0.0006)


@pytest.mark.parametrize(("mark_mm", "plant_mm", "length_percent", "area_percent"), DEPTHS)
def test_the_scale_of_a_plant_follows_its_depth(mark_mm, plant_mm, length_percent, area_percent):
    row_mm = 1000
    plant = Plant(name="A", box_px=(0, 0, 10, 10), behind_mm=plant_mm - row_mm)
    scale = Scale(0.35, 0.01, camera_to_mark_mm=mark_mm, camera_to_plants_mm=row_mm)
    assert 100 * (0.35 / scale.at(plant) - 1) == pytest.approx(length_percent, abs=0.0006)


def test_without_a_distance_every_plant_stands_in_the_marks_plane():
    plant = Plant(name="A", box_px=(0, 0, 10, 10))
    assert Scale(0.35, 0.01).at(plant) == 0.35
