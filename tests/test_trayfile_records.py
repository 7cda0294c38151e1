"""What the grower saw before: kept as own-crops.csv, read from a folder, used for the sowings it fits."""

from pathlib import Path

import pandas as pd
import pytest

from sproutlapse.errors import TrayError
from sproutlapse.outputs_sowings import own_crops, sowings_in_words
from sproutlapse.tray import Tray
from sproutlapse.trayfile import read_tray
from sproutlapse.trayfile_records import COLUMNS, with_own_records
from sproutlapse.work.files import csv_bytes

TRAY = """[season]
own_records = "records"

[[sowing]]
name = "p"
crop = "chilli"
variety = "long red"
sown = 2026-02-01
soil_c = 24
"""


def told(folder: Path, text: str, tray: str = TRAY):
    (folder / "records").mkdir(exist_ok=True)
    (folder / "records" / "own-crops-2025.csv").write_text(text, encoding="utf-8")
    return read_with_records(folder, tray)


def read_with_records(folder: Path, tray: str = TRAY):
    path = folder / "tray.toml"
    path.write_text(tray, encoding="utf-8")
    return with_own_records(read_tray(path), path)


def test_a_record_of_last_year_goes_into_the_sowing(tmp_path):
    tray = told(tmp_path, "crop,sown,first_days,last_days\nPeppers,2025-02-10,11,16\n")
    assert (tray.sowings[0].own_days, tray.sowings[0].own_year) == ((11, 16), 2025)
    assert tray.season.own_records is None  # what was used stands in the sowing, wherever the file is written to


def test_of_several_the_widest_span_is_told_and_no_year(tmp_path):
    tray = told(tmp_path, "crop,sown,first_days,last_days\npepper,2025-02-10,11,16\npepper,2024-02-10,9,12\n")
    assert (tray.sowings[0].own_days, tray.sowings[0].own_year) == ((9, 16), None)


def test_the_same_variety_goes_before_others(tmp_path):
    rows = "crop,variety,first_days,last_days\npepper,Long Red,14,20\npepper,round,8,9\n"
    assert told(tmp_path, rows).sowings[0].own_days == (14, 20)
    assert told(tmp_path, rows.replace("Long Red", "short")).sowings[0].own_days == (8, 20)


@pytest.mark.parametrize(
    "row",
    [
        "tomato,2025-02-10,24,6,8,True",  # another crop
        "pepper,2026-02-01,24,6,8,True",  # this very sowing
        "pepper,2026-03-10,24,6,8,True",  # a later one
        "pepper,2025-02-10,18,20,28,True",  # a colder soil
        "pepper,2025-02-10,24,6,8,False",  # more were still coming when it was written
        "pepper,2025-02-10,24,,,True",  # nothing came up
    ],
)
def test_what_does_not_fit_is_passed_over(tmp_path, row):
    assert told(tmp_path, f"crop,sown,soil_c,first_days,last_days,finished\n{row}\n").sowings[0].own_days is None


def test_days_written_by_hand_go_before_records(tmp_path):
    tray = told(tmp_path, "crop,first_days,last_days\npepper,11,16\n", TRAY + "own_days = [5, 7]\n")
    assert tray.sowings[0].own_days == (5, 7)


def test_a_crop_that_no_table_knows_is_known_by_own_records(tmp_path):
    tray = told(tmp_path, "crop,first_days,last_days\nMoon flower,11,16\n", TRAY.replace("chilli", "moon flower"))
    assert tray.sowings[0].own_days == (11, 16)


def test_whole_results_folders_may_lie_in_the_folder(tmp_path):
    inner = tmp_path / "records" / "shelf-results"
    inner.mkdir(parents=True)
    (inner / "own-crops.csv").write_text("crop,first_days,last_days\npepper,11,16\n", encoding="utf-8")
    assert read_with_records(tmp_path).sowings[0].own_days == (11, 16)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("crop,first_days\npepper,3\n", ("line 1", "last_days")),
        ("", ("line 1", "crop")),
        ("crop,first_days,last_days\npepper,3,4\npepper,many,4\n", ("line 3", "first_days", "many")),
        ("crop,first_days,last_days\npepper,9,4\n", ("line 2", "first the smaller")),
        ("crop,first_days,last_days\npepper,9\n", ("line 2", "2 fields")),
        ("crop,sown,first_days,last_days\npepper,last spring,9,14\n", ("line 2", "last spring")),
        ("crop,first_days,last_days\npepper,-2,nan\n", ("line 2", "no number")),
    ],
)
def test_a_broken_file_is_named_with_its_line(tmp_path, text, words):
    with pytest.raises(TrayError) as caught:
        told(tmp_path, text)
    assert all(word in str(caught.value) for word in ("own-crops-2025.csv", "What to do", *words))


def test_a_file_that_is_no_text_is_named(tmp_path):
    (tmp_path / "records").mkdir()
    (tmp_path / "records" / "own-crops.csv").write_bytes(b"\xff\xfe\x00\x81")
    with pytest.raises(TrayError, match="UTF-8"):
        read_with_records(tmp_path)


def test_a_folder_that_is_not_there_or_empty_is_said(tmp_path):
    with pytest.raises(TrayError, match="not there"):
        read_with_records(tmp_path)
    (tmp_path / "records").mkdir()
    with pytest.raises(TrayError, match=r"no own-crops\.csv"):
        read_with_records(tmp_path)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("soil_c = 75", ("75 looks like degrees Fahrenheit, which is 24 °C",)),
        ("soil_c = 50", ("Fahrenheit, which is 10 °C",)),
        ("soil_c = 300", ("a number of 45 or less",)),
        ('needs = ["sunshine"]', ("sunshine", '"light", "dark", "cold", "soaking", "warmth"')),
        ('needs = ["lihgt"]', ('Write "light"',)),
        ('needs = "light"', ("a list in square brackets",)),
        ('needs = ["dark", "light"]', ('both "light" and "dark"',)),
        ("own_days = [16, 11]", ("[16, 11]", "other way round")),
        ("own_days = 16", ("two numbers",)),
        ("own_days = [0, 11]", ("two numbers",)),
    ],
)
def test_a_slip_in_a_sowing_is_named_with_its_line(tmp_path, line, words):
    path = tmp_path / "tray.toml"
    path.write_text(f'[[sowing]]\nname = "p"\n{line}\n', encoding="utf-8")
    with pytest.raises(TrayError) as caught:
        read_tray(path)
    assert all(word in str(caught.value) for word in ("line 3", *words))
    assert "Fahrenheit" not in str(caught.value) or "soil_c" in line


SOWINGS = pd.DataFrame(
    [
        {"sowing": "p", "seeds": 12.0, "plants": 3, "emerged": 11, "first_days": 11.25, "median_days": 13.0,
         "spread_days": 4.5, "verdict": "11 of 12 seeds up, the last 20 days ago: more is unlikely (about 2 in 100)"},
        {"sowing": "q", "seeds": float("nan"), "plants": 3, "emerged": 1, "first_days": 6.0, "median_days": 6.0,
         "spread_days": 0.0, "verdict": "coming up: 1 of 3 pots up"},
        {"sowing": "r", "seeds": float("nan"), "plants": 2, "emerged": 0, "first_days": float("nan"),
         "median_days": float("nan"), "spread_days": float("nan"), "verdict": "nothing up yet"},
    ]
)  # fmt: skip
SEASON = Tray.model_validate(
    {
        "season": {"plant_out": "2025-01-20"},
        "sowing": [
            {"name": "p", "crop": "pepper", "variety": "long, red", "sown": "2025-02-01T09:00:00", "seeds_per_cell": 4,
             "soil_c": 15},
            {"name": "q", "crop": "moon flower", "sown": "2025-01-01T09:00:00"},
            {"name": "r", "crop": "leek", "sown": "2025-01-01T09:00:00"},
        ],
    }
)  # fmt: skip


def test_what_a_run_keeps_is_read_by_the_next_season(tmp_path):
    kept = own_crops(SOWINGS, SEASON)
    assert tuple(kept.columns) == COLUMNS
    assert list(kept["sowing"]) == ["p", "q"]  # nothing came up of r
    assert list(kept["finished"]) == [True, False]
    assert (kept["of"].tolist(), kept["up"].tolist(), kept["unit"].tolist()) == ([12, 3], [11, 1], ["seed", "pot"])
    tray = told(tmp_path, csv_bytes(kept).decode("utf-8"), TRAY.replace("soil_c = 24", "soil_c = 16"))
    assert (tray.sowings[0].own_days, tray.sowings[0].own_year) == ((11.25, 15.75), 2025)


def test_what_is_wrong_with_a_sowing_is_said_at_once():
    said = sowings_in_words(SOWINGS.assign(emerged=0), SEASON)
    assert any(line.startswith("p: Cold for pepper") for line in said)
    assert any("No table knows “moon flower”" in line for line in said)
    assert sum("plant_out (2025-01-20) is not after" in line for line in said) == 1


def test_once_something_is_up_nobody_is_told_to_warm_the_soil():
    # Seedlings grow best cooler than seed sprouts (Univ. of Delaware: pepper 80 to 90 F to sprout, then 70 to 75 F).
    assert not any("Cold" in line or "No table" in line for line in sowings_in_words(SOWINGS, SEASON))
