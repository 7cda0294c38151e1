"""The guide names every key of tray.toml, and the limits as they are."""

import re
from pathlib import Path

import pytest

from sproutlapse.tray import Judge, Lamp, Plant, Scale, Season, Sowing, View

TEXT = (Path(__file__).resolve().parents[1] / "README.md").read_text("utf-8")
TABLE = TEXT[TEXT.index("| Part | Key |") : TEXT.index("If a key is misspelt")]
ROWS = [[cell.strip() for cell in line.strip("|").split("|")] for line in TABLE.splitlines() if line.startswith("| ")]


@pytest.mark.parametrize("model", [View, Scale, Season, Lamp, Sowing, Plant])
def test_every_key_of_a_part_stands_in_its_rows(model: type):
    heads = {View: "[view]", Scale: "[scale]", Season: "[season]", Lamp: "[[lamp]]", Sowing: "[[sowing]]"}
    head = heads.get(model, "[[plant]]")
    part, keys = "", set()
    for row in ROWS:
        part = row[0].strip("`") or part
        if part == head:
            keys |= set(re.findall(r"`(\w+)`", row[1]))
    assert keys == {field.alias or name for name, field in model.model_fields.items()}


def test_every_limit_stands_there_with_its_value():
    told = {row[0].strip("`"): float(row[3]) for row in ROWS if row[0].strip("`") in Judge.model_fields}
    assert told == {name: float(value) for name, value in Judge()}
