"""`sproutlapse explain`: the story of one plant from the results alone."""

import shutil
from pathlib import Path

import pytest

from sproutlapse.cli import main
from sproutlapse.errors import ResultsError
from sproutlapse.job_explain import explain_job


@pytest.fixture
def alone(few: Path, tmp_path: Path) -> Path:
    """Results whose photos are gone."""
    return Path(shutil.copytree(few, tmp_path / "results"))


def test_it_needs_neither_photos_nor_writes_a_file(alone: Path):
    before = {path: path.read_bytes() for path in alone.rglob("*") if path.is_file()}
    lines = explain_job(alone, "B")
    assert lines[0] == "B"
    assert any("Came up" in line for line in lines)
    assert any("Height when last measured" in line and "give or take" in line for line in lines)
    assert {path: path.read_bytes() for path in alone.rglob("*") if path.is_file()} == before


def test_the_words_of_an_event_are_those_of_its_table(alone: Path):
    events = [line.split(",", 4) for line in (alone / "events.csv").read_text("utf-8").splitlines()[1:]]
    own = [detail for _, _, plant, event, detail in events if plant == "B" and event == "emerged"]
    assert own and all(any(detail in line for line in explain_job(alone, "B")) for detail in own)


def test_a_plant_that_is_not_there_is_named_with_those_that_are(alone: Path):
    with pytest.raises(ResultsError, match=r"no plant “Q”(.|\n)*Name one of: A, B, C, D, E"):
        explain_job(alone, "Q")


def test_capital_letters_do_not_matter(alone: Path):
    assert explain_job(alone, "b") == explain_job(alone, "B")


def test_a_folder_without_results_says_what_to_do(tmp_path: Path):
    with pytest.raises(ResultsError, match="no results of a run"):
        explain_job(tmp_path, "A")


def test_it_is_printed(alone: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("sys.argv", ["sproutlapse", "explain", str(alone), "A"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert not ended.value.code
    assert capsys.readouterr().out.startswith("A\n  ")
