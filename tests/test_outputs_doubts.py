"""Values of tray.toml that are possible alone and cannot be true together are said."""

import pandas as pd
import pytest

from sproutlapse.crops import near_name
from sproutlapse.outputs_doubts import doubts_in_words
from sproutlapse.tray import Tray

SIZE = (1280, 960)
BOXES = [[200 * k, 0, 200 * k + 190, 600] for k in range(3)]
NONE_UP = pd.DataFrame({"sowing": [], "first_days": []})


def shelf(soil=(560, 562, 563), view=None, **parts):
    each = parts.pop("each", {})
    plants = [
        {"name": name, "box_px": box, "soil_y_px": y, **each} for name, box, y in zip("ABC", BOXES, soil, strict=True)
    ]
    return Tray.model_validate({"view": {"from": "side", **(view or {})}, "plant": plants, **parts})


def told(tray, mm=0.35, sowings=NONE_UP):
    return doubts_in_words(tray, [mm] * 3, SIZE, sowings)


def test_a_shelf_as_it_should_be_raises_no_doubt():
    assert told(shelf(view={"camera_to_plants_mm": 820})) == []


def test_a_mark_told_in_centimetres_makes_pots_stand_too_near():
    said = told(shelf(view={"camera_to_plants_mm": 820}), mm=0.035)
    assert "7 mm from the next" in said[0]
    assert "45 mm wide" in said[1]


def test_a_distance_told_in_centimetres_fits_no_lens():
    (said,) = told(shelf(view={"camera_to_plants_mm": 82}))
    assert "camera_to_plants_mm, both in mm" in said


def test_a_digit_left_out_of_a_soil_line_is_named():
    (said,) = told(shelf(soil=(56, 562, 563)))
    assert said.startswith("The soil line of A lies at 56 pixels")


@pytest.mark.parametrize(("days", "many"), [(0.9, 1), (8.0, 0)])
def test_sprouts_sooner_than_any_seed_are_doubted(days, many):
    sowing = {"name": "s", "crop": "pepper", "sown": "2026-03-01T09:00:00", "soil_c": 24}
    table = pd.DataFrame({"sowing": ["s"], "first_days": [days]})
    said = told(shelf(each={"sowing": "s"}, sowing=[sowing]), sowings=table)
    assert len(said) == many
    assert all("check `sown`; or is it a weed?" in one for one in said)


def test_a_misspelt_crop_is_asked_about():
    assert (near_name("peper"), near_name("tomatoe"), near_name("stones")) == ("pepper", "tomato", None)
