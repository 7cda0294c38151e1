"""How soon a photo that arrives stands in the tables: photos written slowly by another process into a folder that is
watched, the watch killed and started again in between, the tables held against those of a run.

    .venv/bin/python scripts/watching.py SCENE --out OUT [--photos 100]

SCENE holds photos and their tray.toml; they are taken over and over, an hour apart. Prints seconds from the last byte
to the row in frames.csv by the clock (median and worst, of the first 7 photos and of the later ones), the processor
seconds of the watch and its memory, and whether tables and masks are those of `run`, byte for byte.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import signal
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

import psutil
from PIL import ExifTags, Image

FIRST = datetime(2026, 3, 1, 8, 0)
PARTS = 8  # that a photo is written in
LOST_S = 120.0  # a row that does not come
WRITER = """
import sys, time
for line in sys.stdin:
    source, target, seconds, parts = line.rstrip("\\n").split("|")
    data = open(source, "rb").read()
    step = -(-len(data) // int(parts))
    with open(target, "wb", buffering=0) as file:
        for start in range(0, len(data), step):
            if start:
                time.sleep(float(seconds) / int(parts))
            file.write(data[start:start + step])
    print(time.time(), flush=True)
"""


def staged(scene: Path, out: Path, count: int) -> list[Path]:
    """So many photos out of those of a scene, an hour apart."""
    out.mkdir(parents=True, exist_ok=True)
    there = sorted(scene.rglob("*.[jJ][pP][gG]"))
    made = []
    for number in range(count):
        path = out / f"IMG_{number + 1:04d}.JPG"
        made.append(path)
        # What is bare at first and what stands later come once each, in the order of the scene.
        source = there[min(number, 6) if number < 7 else 7 + (number - 7) * (len(there) - 7) // max(count - 7, 1)]
        with Image.open(source) as photo:
            exif, taken = photo.getexif(), (FIRST + timedelta(hours=number)).strftime("%Y:%m:%d %H:%M:%S")
            exif[ExifTags.Base.DateTime] = taken
            for tag in (ExifTags.Base.DateTimeOriginal, ExifTags.Base.DateTimeDigitized):
                exif.get_ifd(ExifTags.IFD.Exif)[tag] = taken
            # A little of the picture differs, as in photos of a camera.
            photo.putpixel((number % photo.width, 0), (number % 256,) * 3)
            photo.save(path, quality=95, exif=exif)
    return made


@contextmanager
def watched(folder: Path, results: Path, told: Path, workers: int) -> Iterator[subprocess.Popen[bytes]]:
    """A watch in a process of its own; killed if it still runs at the end."""
    command = [sys.executable, "-m", "sproutlapse", "watch", str(folder), "--out", str(results), "--masks"]
    command += ["--no-film", "--no-report", "--workers", str(workers), "--exec", f'cat >> "{told}"']
    with subprocess.Popen(command) as process:
        try:
            yield process
        finally:
            if process.poll() is None:
                process.kill()


def row_came(results: Path, name: str) -> float:
    """When the row of a photo was first seen."""
    until = time.time() + LOST_S
    while time.time() < until:
        path = results / "frames.csv"
        if path.is_file() and f"\n{name}," in path.read_text("utf-8"):
            return time.time()
        time.sleep(0.02)
    raise SystemExit(f"{name} has no row after {LOST_S:.0f} s")


def hashes(results: Path) -> dict[str, str]:
    """Of every table and mask."""
    files = [*results.glob("*.csv"), results / "run.json", results / "tray.toml", *(results / "masks").rglob("*.png")]
    return {p.relative_to(results).as_posix(): hashlib.sha256(p.read_bytes()).hexdigest() for p in files}


def same_as_a_run(folder: Path, results: Path, out: Path, *, anew: bool) -> bool:
    """Whether a run into another folder writes the same."""
    if anew:
        out = out.with_name(out.name + "-anew")
    command = [sys.executable, "-m", "sproutlapse", "run", str(folder), "--out", str(out), "--masks"]
    subprocess.run([*command, "--no-film", "--no-report", "--quiet"], check=True)
    return hashes(results) == hashes(out)


def spent_s(process: subprocess.Popen[bytes]) -> float:
    """Processor seconds of a process and those that it started."""
    one = psutil.Process(process.pid)
    return sum(sum(p.cpu_times()[:4]) if p is one else sum(p.cpu_times()[:2]) for p in [one, *one.children()])


def tell(late: list[float], equal: list[bool], told: Path) -> None:
    """All figures over the two turns."""
    for name, some in (("first 7", late[:7]), ("later", late[7:])):
        within = sum(s <= 2 for s in some)
        print(
            f"{name}: median {statistics.median(some):.2f} s, worst {max(some):.2f} s, {within} of {len(some)} in 2 s"
        )
    print(f"equal to a run: {equal.count(True)} of {len(equal)}")
    sent = [json.loads(line) for line in told.read_text("utf-8").splitlines()] if told.is_file() else []
    keys = [(one["sowing"], event["time"], event["plant"], event["event"]) for one in sent for event in one["events"]]
    print(f"{len(sent)} messages, {len(keys) - len(set(keys))} events told twice")
    print(f"cores {os.cpu_count()}, load {os.getloadavg()[0]:.1f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("scene", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--photos", type=int, default=100)
    parser.add_argument("--copying", type=float, default=0.8, help="seconds that a photo is written in")
    parser.add_argument("--pause", type=float, default=0.5, help="seconds from its row to the next photo")
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    folder, results, told = asked.out / "photos", asked.out / "results", asked.out / "told.jsonl"
    folder.mkdir(parents=True)
    staging = staged(asked.scene, asked.out / "staged", asked.photos)
    tray = next(p for p in (asked.scene / "tray.toml", asked.scene.parent / "tray.toml") if p.is_file())
    (folder / "tray.toml").write_bytes(tray.read_bytes())
    compared = {1, 8, asked.photos // 4, asked.photos // 2, asked.photos}
    late: list[float] = []
    equal: list[bool] = []
    writer = subprocess.Popen([sys.executable, "-c", WRITER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert writer.stdin is not None
    assert writer.stdout is not None
    parts = [range(asked.photos // 2), range(asked.photos // 2, asked.photos)]
    for turn, numbers in enumerate(parts):
        with watched(folder, results, told, asked.workers) as process:
            time.sleep(8)
            used, rss = [], []
            for number in numbers:
                path = staging[number]
                print(f"{path}|{folder / path.name}|{asked.copying}|{PARTS}", file=writer.stdin, flush=True)
                done = float(writer.stdout.readline())
                late.append(row_came(results, path.name) - done)
                used.append(spent_s(process))
                rss.append(psutil.Process(process.pid).memory_info().rss / 2**20)
                if number + 1 in compared:
                    equal.append(same_as_a_run(folder, results, asked.out / "run", anew=number + 1 == asked.photos))
                time.sleep(asked.pause)
            tail = len(used) // 2
            each = (used[-1] - used[tail]) / max(len(used) - tail - 1, 1)
            print(f"{each:.2f} processor s a photo; memory {rss[tail]:.0f} MB, then {rss[-1]:.0f} MB", flush=True)
            if turn == 0:
                process.kill()
            else:
                process.send_signal(signal.SIGTERM)
                print(f"ended by SIGTERM with status {process.wait(30)}")
    writer.stdin.close()
    tell(late, equal, told)


if __name__ == "__main__":
    main()
