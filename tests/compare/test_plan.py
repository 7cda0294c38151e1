"""`sproutlapse plan`: a map to print, the same as a table, and what the numbers can show."""

from pathlib import Path

import pandas as pd
import pypdfium2
import pytest

from sproutlapse.compare.plan import can_show, write_plan
from sproutlapse.errors import SproutlapseError


def plan(out: Path, *lots: str, rows: int = 4, columns: int = 6, seeds: int = 1, number: int | None = 7) -> list[str]:
    return write_plan(out, lots, rows=rows, columns=columns, seeds=seeds, number=number, paper="a4")


def test_the_map_and_its_table_say_the_same(tmp_path: Path):
    lines = plan(tmp_path / "map.pdf", "old packet", "new packet")
    table = pd.read_csv(tmp_path / "map.csv")
    assert table["lot"].value_counts().to_dict() == {"old packet": 12, "new packet": 12}
    page = pypdfium2.PdfDocument(tmp_path / "map.pdf")[0].get_textpage().get_text_range()
    letters = [word for word in page.split() if word in ("A", "B")]
    assert sorted(letters[2:]) == sorted(table["letter"])  # after the two of the legend
    assert "shuffle 7" in page
    assert any("--shuffle 7" in line for line in lines)


def test_the_same_number_gives_the_same_bytes(tmp_path: Path):
    for name in ("one", "two"):
        plan(tmp_path / f"{name}.pdf", "a", "b", rows=1)
    for end in ("pdf", "csv"):
        assert (tmp_path / f"one.{end}").read_bytes() == (tmp_path / f"two.{end}").read_bytes()


def test_without_a_number_one_is_drawn_and_told(tmp_path: Path):
    line = plan(tmp_path / "map.pdf", "a", "b", rows=1, number=None)[-1]
    number = int(line.split("--shuffle ")[1].split(",")[0])
    before = (tmp_path / "map.csv").read_bytes()
    plan(tmp_path / "map.pdf", "a", "b", rows=1, number=number)
    assert (tmp_path / "map.csv").read_bytes() == before


def test_what_the_numbers_can_show():
    assert can_show(2, 12, 1)[0].startswith("12 seeds a lot find 90 % against 50 % only 42 times in 100")
    assert can_show(2, 24, 1)[0] == "24 seeds a lot find 90 % against 50 % 83 times in 100."
    assert "share its luck" in can_show(2, 6, 4)[-1]
    assert "stricter" in can_show(3, 12, 1)[0]
    assert can_show(2, 1600, 1000)[0] == "1600000 seeds a lot find 90 % against 50 % every time."


@pytest.mark.parametrize(
    ("lots", "columns", "words"),
    [(("a",), 6, "two lots or more"), (("a", " A "), 6, "named twice"), (("a", ""), 6, "no name"),
     (tuple(f"lot {k}" for k in range(27)), 40, "too many"), (("a", "b", "c", "d"), 1, "could not be told apart")],
)  # fmt: skip
def test_plans_that_cannot_be(tmp_path: Path, lots, columns, words):
    with pytest.raises(SproutlapseError, match=words):
        plan(tmp_path / "map.pdf", *lots, columns=columns)
    assert not list(tmp_path.iterdir())
