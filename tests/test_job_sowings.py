"""What may be wrong with a sowing as it is written or photographed: plain words, nothing made up, the rest is done."""

import csv
from datetime import datetime
from pathlib import Path

from shelf_photos import FEW, half_tray, run, write_half_tray

from sproutlapse.job_explain import explain_job
from sproutlapse.tray import Season, Sowing


def sowings(out: Path) -> list[dict[str, str]]:
    with (out / "sowings.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def sown(folder: Path, *, plants: int = 5, report: bool = False, **sowing: object) -> Path:
    """Run the shelf with its first pots as one sowing."""
    own = tuple(p.model_copy(update={"sowing": "s"}) for p in half_tray().plants[:plants])
    write_half_tray(folder / "tray.toml", plants=own, sowings=(Sowing(name="s", **sowing),))
    return run(folder, report=report).out


def test_without_a_date_of_sowing_counts_are_told_and_no_days(shelf_run: Path):
    out = sown(shelf_run, report=True)
    (row,) = sowings(out)
    assert (row["emerged"], row["share_low"], row["first_days"], row["mean_days"]) == ("5", "0.4782", "", "")
    assert "when is not known" in explain_job(out, "A")[1]
    assert "days after sowing" not in (out / "report.html").read_text("utf-8")


def test_a_date_of_sowing_after_the_sprouts_is_doubted_aloud(shelf_run: Path):
    out = sown(shelf_run, sown=datetime(2025, 3, 20))
    (row,) = sowings(out)
    assert "check it" in row["verdict"]
    assert (row["first_days"], row["t50_farooq_days"], row["fit_median_days"]) == ("", "", "")
    assert "check the date" in explain_job(out, "A")[1]


def test_a_date_after_the_first_photo_and_before_the_sprouts_is_taken_as_it_is(shelf_run: Path):
    (row,) = sowings(sown(shelf_run, sown=datetime(2025, 3, 3, 20)))
    assert float(row["first_after_days"]) >= 0
    assert row["verdict"].startswith("all up")


def test_a_gap_of_days_is_told_as_what_is_open(shelf_run: Path):
    """The photos between the bare pots and the grown seedlings are missing."""
    out = sown(shelf_run, sown=datetime(2025, 2, 26, 8))
    (row,) = sowings(out)
    assert float(row["first_by_days"]) - float(row["first_after_days"]) > 4
    assert " to " in next(line for line in explain_job(out, "A") if "days after sowing" in line).split("days after")[0]


def test_one_pot_is_a_sowing_with_no_spread_and_no_leader(shelf_run: Path):
    out = sown(shelf_run, plants=1, sown=datetime(2025, 2, 26, 8))
    (row,) = sowings(out)
    assert (row["emerged"], row["synchrony"], row["equal_age_spread"], row["usable"]) == ("1", "", "", "1")
    assert "spread" not in " ".join(explain_job(out, "A"))


def test_one_photo_is_too_few_to_say_what_is_up(shelf_run: Path):
    for name in FEW[:-1]:
        (shelf_run / name).unlink()
    out = sown(shelf_run, sown=datetime(2025, 2, 26, 8))
    (row,) = sowings(out)
    assert (row["emerged"], row["usable"]) == ("0", "")
    assert "not known yet" in row["verdict"]
    assert "  Whether it is up is not known yet." in explain_job(out, "A")


def test_seeds_in_a_pot_are_counted_as_they_were_written(shelf_run: Path):
    (row,) = sowings(sown(shelf_run, sown=datetime(2025, 2, 26, 8), seeds_per_cell=3))
    assert (row["seeds"], row["emerged"], row["times_of"]) == ("15", "5", "seed")


def test_what_yours_took_last_year_is_read_used_and_kept(shelf_run: Path):
    records = shelf_run / "my-records"
    records.mkdir()
    text = "crop,sown,first_days,last_days\ntomatoes,2024-03-01,11,16\n"
    (records / "own-crops-2024.csv").write_text(text, encoding="utf-8")
    own = tuple(p.model_copy(update={"sowing": "s"}) for p in half_tray().plants)
    sowing = Sowing(name="s", crop="tomato", sown=datetime(2025, 2, 26, 8), soil_c=8)
    write_half_tray(shelf_run / "tray.toml", plants=own, sowings=(sowing,), season=Season(own_records="my-records"))
    done = run(shelf_run, report=True)
    assert not any("Too cold for tomato" in line for line in done.lines)  # all are up
    tray = (done.out / "tray.toml").read_text("utf-8")
    assert "own_days = [11, 16]" in tray
    assert "own_records" not in tray
    assert "yours took 11 to 16 days last year" in (done.out / "report.html").read_text("utf-8")
    with (done.out / "own-crops.csv").open(encoding="utf-8", newline="") as file:
        (kept,) = csv.DictReader(file)
    assert (kept["crop"], kept["sown"], kept["of"], kept["up"], kept["finished"]) == (
        "tomato",
        "2025-02-26",
        "5",
        "5",
        "true",
    )
