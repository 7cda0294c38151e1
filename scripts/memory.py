"""How much memory a run takes with ever more photos, which must not grow with them: the main process and each worker.

    python scripts/memory.py [PHOTOS] --out OUT [--counts 50 200 800] [--megapixels 12] [--film]
    python scripts/memory.py [PHOTOS] --out OUT --counts 12 --megapixels 24 --limit-mb 2048

PHOTOS are enlarged as in `costs.py`. What each process holds is read ten times a second (`/proc`, Linux only): of each
the most that it ever held by the system's own count, and the most that all held at once. With `--limit-mb` the run is
stopped as soon as all together hold more, as a machine with so little memory would do; memory that two processes share
counts twice there, so the check is on the safe side.

It ends well if no worker ever held more than 400 MiB, and if neither the main process nor all at once held more than a
tenth above what they held with the fewest photos.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

from costs import EXAMPLE, ROOT
from large_photos import large_photos, some_of

EVERY_S = 0.1
MOST_WORKER_MIB = 400.0
MOST_GROWTH = 1.10  # of the main process and of all together, over what they held with the fewest photos
MIB = 2**20
PROC = Path("/") / "proc"


@dataclass
class Peak:
    """MiB: the most that the main process and each worker held, and that all held at one time."""

    main: float = 0.0
    workers: dict[int, float] = field(default_factory=dict)
    together: float = 0.0
    seconds: float = 0.0
    over: bool = False


def _fields(pid: int) -> dict[str, str]:
    try:
        text = (PROC / str(pid) / "status").read_text(encoding="utf-8", errors="replace")
    except OSError:  # it ended meanwhile
        return {}
    return dict(re.findall(r"^(\w+):\s*(.*)$", text, flags=re.MULTILINE))


def below(pid: int) -> list[int]:
    """The processes that one started, and those that they started."""
    try:
        children = (PROC / str(pid) / "task" / str(pid) / "children").read_text(encoding="ascii").split()
    except OSError:
        return []
    return [own for child in children for own in (int(child), *below(int(child)))]


def held(pid: int, what: str) -> float:
    """MiB that a process holds (`VmRSS`) or ever held (`VmHWM`); 0 for one that ended."""
    told = _fields(pid).get(what, "0 kB").split()
    return int(told[0]) * 1024 / MIB


def watched(command: list[str], limit_mib: float | None) -> Peak:
    """Run a command and watch what it holds."""
    peak, began = Peak(), time.perf_counter()
    run = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    while run.poll() is None:
        others = below(run.pid)
        peak.main = max(peak.main, held(run.pid, "VmHWM"))
        for pid in others:
            # The process that only keeps count of shared things is no worker.
            if "spawn_main" in _command_of(pid):
                peak.workers[pid] = max(peak.workers.get(pid, 0.0), held(pid, "VmHWM"))
        peak.together = max(peak.together, sum(held(pid, "VmRSS") for pid in (run.pid, *others)))
        if limit_mib is not None and peak.together > limit_mib:
            peak.over = True
            run.terminate()
            break
        time.sleep(EVERY_S)
    out, _ = run.communicate()
    peak.seconds = time.perf_counter() - began
    if run.returncode and not peak.over:
        sys.exit(f"the run ended with {run.returncode}:\n{out}")
    return peak


def _command_of(pid: int) -> str:
    try:
        return (PROC / str(pid) / "cmdline").read_bytes().replace(b"\0", b" ").decode("utf-8", "replace")
    except OSError:
        return ""


def shortcomings(peaks: dict[int, Peak]) -> list[str]:
    """What is not as it should be, by the number of photos."""
    few = peaks[min(peaks)]
    told = []
    for count, peak in sorted(peaks.items()):
        if peak.over:
            told.append(f"{count} photos: all together held more than the limit")
        if any(mib > MOST_WORKER_MIB for mib in peak.workers.values()):
            told.append(f"{count} photos: a worker held more than {MOST_WORKER_MIB:.0f} MiB")
        for who, now, least in (("the main process", peak.main, few.main), ("all", peak.together, few.together)):
            if now > MOST_GROWTH * least:
                more = f"{now:.0f} MiB, more than {MOST_GROWTH:g} times the {least:.0f} MiB with {min(peaks)}"
                told.append(f"{count} photos: {who} held {more}")
    return told


def main() -> int:
    """Make the photos, run, tell."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    ask.add_argument("photos", type=Path, nargs="?", default=EXAMPLE, metavar="PHOTOS")
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--counts", type=int, nargs="+", default=[50, 200, 800])
    ask.add_argument("--megapixels", type=int, choices=(12, 24), default=12)
    ask.add_argument("--workers", type=int, default=2)
    ask.add_argument("--film", action="store_true", help="with film and report")
    ask.add_argument("--limit-mb", type=float, help="stop where all together hold more, MiB")
    said = ask.parse_args()
    if not PROC.is_dir():
        ask.error("this reads /proc, which only Linux has")
    most = max(said.counts)
    large = large_photos(said.photos, said.out / f"photos-{said.megapixels}mp-{most}", most, said.megapixels)
    peaks = {}
    for count in said.counts:
        folder = large if count == most else some_of(large, large.with_name(f"{large.name}-{count}"), count)
        results = said.out / f"results-{said.megapixels}mp-{count}"
        shutil.rmtree(results, ignore_errors=True)
        command = [sys.executable, "-m", "sproutlapse", "run", str(folder), "--out", str(results), "-q"]
        command += ["--workers", str(said.workers), *([] if said.film else ["--no-film", "--no-report"])]
        peak = peaks[count] = watched(command, said.limit_mb)
        workers = ", ".join(f"{mib:.0f}" for mib in peak.workers.values()) or "none"
        print(
            f"{count:5d} photos of {said.megapixels} megapixels: main process {peak.main:.0f} MiB, workers {workers} "
            f"MiB, all at once {peak.together:.0f} MiB, {peak.seconds:.0f} s{' STOPPED: over' if peak.over else ''}",
            flush=True,
        )
    short = shortcomings(peaks)
    print("\n".join(f"SHORT: {what}" for what in short) or "OK")
    return 1 if short else 0


if __name__ == "__main__":
    sys.exit(main())
