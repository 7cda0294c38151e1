"""Make a season of many trays out of scenes, and tell what `run --all` takes from nothing, again, and with new photos.

    python scripts/season.py SCENE ... --out OUT [--trays 10] [--photos 48] [--workers 2] [--broken] [--no-film]

SCENE is a folder of photos with tray.toml, or one with frames/ and tray.toml. Each tray gets the photos of one scene in
turn, with times of its own (a day and some minutes later each), written into their EXIF data byte for byte, so that
nothing is encoded again. With --broken each tenth tray has a misspelt key. Runs are timed, each in a process of its
own: from nothing; again with nothing new; after one further photo in each tray; and, with --alone, one tray after the
other by `run FOLDER`, from nothing. Clock seconds are those of the machine as busy as it is; CPU seconds are those of
the run and its workers.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

HEAD = 4096  # bytes in which a camera writes its times
TIME = re.compile(rb"\d{4}:\d\d:\d\d \d\d:\d\d:\d\d")


def shifted(data: bytes, by: timedelta) -> bytes:
    """A JPEG whose EXIF times are so much later; the picture's own bytes stay."""

    def later(found: re.Match[bytes]) -> bytes:
        when = datetime.strptime(found[0].decode("ascii"), "%Y:%m:%d %H:%M:%S") + by
        return when.strftime("%Y:%m:%d %H:%M:%S").encode("ascii")

    return TIME.sub(later, data[:HEAD]) + data[HEAD:]


def make_tray(scene: Path, folder: Path, later: Path, photos: int, by: timedelta) -> list[Path]:
    """One tray; the photos that are still to come, in `later`."""
    folder.mkdir(parents=True)
    later.mkdir(parents=True)
    holds = scene / "frames" if (scene / "frames").is_dir() else scene
    frames = sorted(path for path in holds.iterdir() if path.suffix.lower() == ".jpg")[: photos + 1]
    tray = (scene / "tray.toml").read_text(encoding="utf-8")
    (folder / "tray.toml").write_text(_sown_later(tray, by), encoding="utf-8", newline="\n")
    for path in frames:
        place = folder if path in frames[:photos] else later
        (place / path.name).write_bytes(shifted(path.read_bytes(), by))
    return sorted(later.iterdir())


def _sown_later(tray: str, by: timedelta) -> str:
    def later(found: re.Match[str]) -> str:
        return f"sown = {(datetime.fromisoformat(found[1]) + by).isoformat()}"

    return re.sub(r"sown = (\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d)", later, tray)


def timed(name: str, *arguments: object) -> None:
    """Run the command and tell how long it took."""
    before, start = os.times(), time.perf_counter()
    done = subprocess.run([sys.executable, "-m", "sproutlapse", *map(str, arguments)], check=False)
    after = os.times()
    cpu = after.children_user + after.children_system - before.children_user - before.children_system
    print(
        f"{name}: {time.perf_counter() - start:.1f} s by the clock, {cpu:.1f} s CPU, status {done.returncode}",
        flush=True,
    )


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("scenes", nargs="+", type=Path, metavar="SCENE")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--trays", type=int, default=10)
    parser.add_argument("--photos", type=int, default=48)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--broken", action="store_true", help="misspell a key in the tray.toml of every tenth")
    parser.add_argument("--alone", action="store_true", help="also each tray by itself")
    parser.add_argument("--no-film", action="store_true")
    asked = parser.parse_args(arguments)
    root = asked.out / "season"
    coming = {}
    for number in range(asked.trays):
        scene = asked.scenes[number % len(asked.scenes)]
        folder = root / f"shelf {number // 5 + 1}" / f"tray {number + 1}"
        by = timedelta(days=number, minutes=7 * number)
        coming[folder] = make_tray(scene, folder, asked.out / "later" / str(number), asked.photos, by)
        if asked.broken and number % 10 == 9:
            tray = folder / "tray.toml"
            tray.write_text(tray.read_text(encoding="utf-8").replace("[view]", "[veiw]"), encoding="utf-8")
    options = ["--quiet", "--workers", asked.workers, *(["--no-film"] if asked.no_film else [])]
    timed("from nothing", "run", "--all", root, *options)
    timed("again, nothing new", "run", "--all", root, *options)
    for folder, photos in coming.items():
        for photo in photos:
            shutil.move(photo, folder / photo.name)
    timed("with one further photo in each", "run", "--all", root, *options)
    if not asked.alone:
        return
    start = time.perf_counter()
    for number, folder in enumerate(coming):
        timed(f"alone, {number + 1}", "run", folder, "--out", asked.out / "alone" / str(number), *options)
    print(f"one after the other: {time.perf_counter() - start:.1f} s by the clock")


if __name__ == "__main__":
    main()
