"""What a broken run left is cleared, and nothing else."""

import os
import subprocess
import sys
from pathlib import Path

from sproutlapse.work.leftovers import clear_leftovers

GONE = 2**22 + 1  # no process has such a number: Linux stops at 2**22, others before
OURS = (
    f"measurements.csv.{GONE}.part", f"report.html.{GONE}.part", f"film-A.jpg.{GONE}.part", f".film.mp4.{GONE}.part",
    f".film-together.gif.{GONE}.between.part", f".tray.toml.{GONE}.part", f".tray.toml.new.{GONE}.part",
    f"charts/growth-1.svg.{GONE}.part", f"masks/100CAM/IMG_2.png.{GONE}.part", f".locks.{GONE}",
    f"plants.csv.{os.getpid()}.part", "measurements.csv.part", "own-crops.csv.part", "run.json.part",
    "report.html.part", "film.jpg.part", "film-A+B.vtt.part", ".tray.toml.part", ".tray.toml.new.part",
    "tray.toml.new", "tray-before.toml.part", "charts/growth-1.svg.part", "charts/height-to-leaf-1.png.part",
    "masks/IMG_1.png.part", "masks/100CAM/IMG_2.png.part",
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


def test_what_another_process_is_writing_is_left_alone_until_it_ended(tmp_path: Path):
    (tmp_path / "charts").mkdir()
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE) as writer:
        pid = writer.pid
        names = {f".film.mp4.{pid}.part", f".film.gif.{pid}.between.part", f"report.html.{pid}.part",
                 f"charts/growth-1.svg.{pid}.part", f"run.json.{pid}.part", f".locks.{pid}"}  # fmt: skip
        for name in names:
            (tmp_path / name).write_bytes(b"half")
        clear_leftovers(tmp_path)
        assert {path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()} == names
        writer.communicate(b"\n")
    clear_leftovers(tmp_path)
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]
