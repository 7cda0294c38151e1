"""What a broken run left is cleared, and nothing else."""

from pathlib import Path

from sproutlapse.work.leftovers import clear_leftovers

OURS = (
    "measurements.csv.part", "own-crops.csv.part", "run.json.part", "report.html.part", "film.jpg.part",
    "film-A+B.vtt.part", ".film.mp4.4711.part", ".film-together.gif.4711.between.part", ".tray.toml.part",
    ".tray.toml.new.part", "tray.toml.new", "tray-before.toml.part", "charts/growth-1.svg.part",
    "charts/height-to-leaf-1.png.part", "masks/IMG_1.png.part", "masks/100CAM/IMG_2.png.part", ".locks.4711",
)  # fmt: skip
NOT_OURS = (
    "measurements.csv", "film.mp4", "my notes.part", "letter.docx.part", "compare-lot/compare.csv.part",
    "photos/IMG_1.png.part", "masks/IMG_1.png", ".held.json",
)  # fmt: skip


def test_what_a_broken_run_left_is_cleared_and_nothing_else(tmp_path: Path):
    for name in (*OURS, *NOT_OURS):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_bytes(b"half")
    clear_leftovers(tmp_path)
    left = {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()}
    assert left == set(NOT_OURS)


def test_a_folder_that_is_not_there_has_none(tmp_path: Path):
    clear_leftovers(tmp_path / "nowhere")
