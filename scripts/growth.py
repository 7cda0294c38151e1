"""How the cost of everything but measuring grows with the number of photos, from 100 to 3,200.

    python scripts/growth.py RESULTS --out OUT [--counts 100 200 400 800 1600 3200] [--no-film]

RESULTS is a results folder of `sproutlapse run` whose photos are still there. Its findings are spread over as many
photos as asked, an hour apart, all of them measured (hard links where the disk can); then `run` goes over them once
more, in this process. Told are seconds of a processor by part, and how each grows: the slope of the logarithms over all
counts, 1 where twice the photos cost twice as much, and that of the last doubling alone, which a fixed start no longer
flatters. Both are judged; a single doubling says less of it, so its bound is wider.
"""

from __future__ import annotations

import argparse
import math
import shutil
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

import cv2
import numpy as np
from long_store import long_store

from sproutlapse.job import open_results, run_job
from sproutlapse.progress import Silent
from sproutlapse.spent import noting
from sproutlapse.trayfile import write_tray

MOST_SLOPE = 1.02
MOST_LAST = 1.10  # of the last doubling: 7 % more than twice
FROM_S = 0.5  # parts that never take as long are noise


def folder_of(results: Path, photos: int, out: Path) -> tuple[Path, Path]:
    """A folder of so many photos and a results folder in which all of them are measured."""
    told = open_results(results)
    folder, place = out / f"photos-{photos}", out / f"results-{photos}"
    shutil.rmtree(place, ignore_errors=True)
    folder.mkdir(parents=True, exist_ok=True)
    write_tray(told.tray, folder / "tray.toml")
    long_store(results, place, photos, folder=folder, paths={one.frame: one.path for one in told.frames})
    return folder, place


def costs(folder: Path, place: Path, *, film: bool) -> dict[str, float]:
    """Seconds of a processor by part, of a run over photos that are all measured."""
    with noting() as spent:
        run_job(
            folder, tray_path=None, out=place, masks=False, film=film, report=True, workers=1, progress=Silent()
        )  # fmt: skip
        whole = spent.whole().processor
    parts = {name: took.processor for name, took in spent.parts.items() if "/" not in name}
    if "measuring photos" in parts:
        sys.exit(f"{folder}: photos were measured anew, so these are no results of this version")
    return {**parts, "everything": whole}


def slope(counts: Sequence[int], seconds: Sequence[float]) -> float:
    """Of the logarithms, least squares."""
    return float(np.polyfit(np.log(counts), np.log(np.maximum(seconds, 1e-6)), 1)[0])


def last_slope(counts: Sequence[int], seconds: Sequence[float]) -> float:
    """Of the logarithms, between the last two counts."""
    return math.log(max(seconds[-1], 1e-6) / max(seconds[-2], 1e-6)) / math.log(counts[-1] / counts[-2])


def tell(found: Mapping[int, Mapping[str, float]]) -> bool:
    """The table, and whether everything together grows no faster than it may."""
    counts = list(found)
    names = list(dict.fromkeys(name for parts in found.values() for name in parts))
    print(f"{'':<18}" + "".join(f"{count:>9}" for count in counts) + f"{'slope':>9}{'last':>9}")
    for name in names:
        seconds = [found[count].get(name, 0.0) for count in counts]
        if max(seconds) < FROM_S:
            continue
        own, last = slope(counts, seconds), last_slope(counts, seconds)
        print(f"{name:<18}" + "".join(f"{value:>9.2f}" for value in seconds) + f"{own:>9.2f}{last:>9.2f}", flush=True)
    whole = [found[count]["everything"] for count in counts]
    over_all, last = slope(counts, whole), last_slope(counts, whole)
    ok = over_all <= MOST_SLOPE and last <= MOST_LAST
    print(
        f"{'OK' if ok else 'SHORT'}: slope {over_all:.3f} (at most {MOST_SLOPE}), "
        f"of the last doubling {last:.3f} (at most {MOST_LAST})"
    )
    return ok


def main() -> int:
    """Spread, run, tell."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    ask.add_argument("results", type=Path, metavar="RESULTS")
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--counts", type=int, nargs="+", default=[100, 200, 400, 800, 1600, 3200])
    ask.add_argument("--no-film", action="store_true")
    said = ask.parse_args()
    if len(set(said.counts)) < 2:
        ask.error("two counts at least make a slope")
    cv2.setNumThreads(1)
    found: dict[int, dict[str, float]] = {}
    warm = folder_of(said.results, min(said.counts), said.out)
    costs(*warm, film=not said.no_film)  # libraries are loaded once, which is not told
    for count in sorted(set(said.counts)):
        found[count] = costs(*folder_of(said.results, count, said.out), film=not said.no_film)
        print(f"{count} photos: {found[count]['everything']:.1f} s", flush=True)
    return 0 if tell(found) else 1


if __name__ == "__main__":
    sys.exit(main())
