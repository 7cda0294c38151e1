"""Make a long film of few photos and tell how much memory it takes on its way, which must not grow with its length.

    python scripts/film_long.py RESULTS --out OUT [--photos 5000] [--height 720]

RESULTS is a results folder of `sproutlapse run` whose photos are still there; of them as many files as asked are made
in OUT, hard links where the disk can, each with a time and an outline picture of its own. Memory is told after the
first 50 photos, when everything is in place, and at each doubling: all that the process holds, and of that what the
records hold before the film begins.
"""

from __future__ import annotations

import argparse
import dataclasses
import os
import shutil
import sys
import time
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

import cv2

from sproutlapse.film.make import make_film
from sproutlapse.film.options import FilmOptions
from sproutlapse.job import open_results
from sproutlapse.results import FrameRecord

if sys.platform != "win32":
    import resource

FIRST = 50
EVERY_H = 1.0


def held_mb() -> float:
    """What this process holds in memory, MB; where the system does not tell what it holds now, the most it ever did."""
    now = Path("/proc/self/statm")
    if now.is_file():
        return int(now.read_text(encoding="ascii").split()[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
    if sys.platform == "win32":
        return float("nan")
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)


def many(frames: Sequence[FrameRecord], count: int, folder: Path) -> list[FrameRecord]:
    """So many records an hour apart, each with a file of its own."""
    folder.mkdir(parents=True, exist_ok=True)
    used = [frame for frame in frames if frame.used]
    begin = datetime.fromisoformat(used[0].time).replace(tzinfo=None)
    made = []
    for number in range(count):
        record = used[number % len(used)]
        path = folder / f"IMG_{number + 1:05d}.JPG"
        if not path.exists():
            try:
                path.hardlink_to(record.path.resolve())
            except OSError:
                shutil.copyfile(record.path, path)
        made.append(
            dataclasses.replace(
                record,
                frame=path.name,
                path=path,
                time=(begin + timedelta(hours=EVERY_H * number)).isoformat(),
                elapsed_h=EVERY_H * number,
                labels_png=bytes(bytearray(record.labels_png)) if record.labels_png else None,
            )
        )
    return made


def main() -> int:
    """Film and tell."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    ask.add_argument("results", type=Path, metavar="RESULTS")
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--photos", type=int, default=5000)
    ask.add_argument("--height", type=int, default=720)
    said = ask.parse_args()
    cv2.setNumThreads(1)
    records = many(open_results(said.results).frames, said.photos, said.out / "photos")
    print(f"{len(records)} photos of {records[0].size}, before the film: {held_mb():.0f} MB", flush=True)
    began, next_told = time.perf_counter(), FIRST

    def tell(done: int, _all: int) -> None:
        nonlocal next_told
        if done >= next_told:
            print(f"{done:5d} photos: {held_mb():.0f} MB, {time.perf_counter() - began:.0f} s", flush=True)
            next_told *= 2

    film = make_film(records, said.out / "long.mp4", options=FilmOptions(height_px=said.height), progress=tell)
    print(f"{len(records):5d} photos: {held_mb():.0f} MB, {time.perf_counter() - began:.0f} s")
    print(f"{film.sentence}; {film.width}x{film.height}, {film.path.stat().st_size / 1e6:.1f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
