"""How sure a height and a canopy are."""

import pytest

from sproutlapse.vision.findings import PlantFinding
from sproutlapse.work.doubt import SOIL_SD_MM, SOIL_SD_PX, canopy_sd_mm2, height_noise_mm, height_sd_mm

MM = 0.35
SEEN = PlantFinding(400.0, height_px=100.0, width_px=60.0, top_slope=0.05)


def varied(**change):
    return PlantFinding(**{**SEEN.__dict__, **change})


def test_a_flat_view_of_a_slim_plant_is_known_best():
    flat = height_noise_mm(varied(top_slope=0.0), MM)
    assert flat < height_noise_mm(SEEN, MM) < height_noise_mm(varied(top_slope=0.3), MM)
    assert height_noise_mm(SEEN, MM) < height_noise_mm(varied(width_px=200.0), MM)


def test_a_plant_turned_to_show_its_narrow_side_is_known_no_better():
    wide, narrow = varied(top_slope=0.15, width_px=150.0), varied(top_slope=0.15, width_px=20.0)
    assert height_noise_mm(narrow, MM) < height_noise_mm(wide, MM)
    assert height_noise_mm(narrow, MM, widest_px=150.0) == height_noise_mm(wide, MM)


def test_without_a_known_camera_a_usual_slope_is_taken():
    known, unknown = (height_noise_mm(varied(top_slope=s, width_px=200.0), MM) for s in (0.0, None))
    assert unknown > known


def test_what_may_be_tissue_above_the_top_is_part_of_the_doubt():
    assert height_noise_mm(varied(top_doubt_px=10.0), MM) > 0.3 * 10 * MM


def test_parts_add_up_as_squares_and_the_shared_ones_are_those_told():
    shared = (SOIL_SD_PX * MM) ** 2 + SOIL_SD_MM**2 + (0.01 * 100 * MM) ** 2
    assert height_sd_mm(SEEN, MM, 0.01) ** 2 == pytest.approx(height_noise_mm(SEEN, MM) ** 2 + shared)


def test_a_canopys_outline_counts_more_for_small_plants():
    small, large = (canopy_sd_mm2(varied(tissue_px=px), MM, 0.005) / (px * MM**2) for px in (50.0, 5000.0))
    assert small > 3 * large


def test_a_soil_line_that_the_person_is_unsure_of_makes_every_height_so():
    unsure = height_sd_mm(SEEN, MM, 0.01, soil_within_mm=4.0)
    shared = (SOIL_SD_PX * MM) ** 2 + 2.0**2 + (0.01 * 100 * MM) ** 2
    assert unsure**2 == pytest.approx(height_noise_mm(SEEN, MM) ** 2 + shared)
