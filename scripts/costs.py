"""What measuring costs beside merely opening the photos: seconds for each further photo, on the same files.

    python scripts/costs.py [PHOTOS] --out OUT [--few 100] [--many 400] [--workers 2]

PHOTOS are enlarged to 12 megapixels with grain, each file over 3 MB (the example's photos unless given; those that lie
in OUT already are taken again). Then, in turn, each with few and with many of them, always two processes:

- opening them with `cv2.imread`, nothing else;
- the plain recipe: excess green, Otsu's threshold, specks removed, by scikit-image;
- `sproutlapse run --no-film --no-report`;
- the whole run with report and film.

Seconds for a further photo are the difference of both counts over the photos between them; what is left is the fixed
start. Seconds by the clock mean something on a machine that does nothing else; seconds of a processor, of all processes
together, bear company.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import time
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from large_photos import large_photos, some_of

if sys.platform != "win32":
    import resource

ROOT = Path(__file__).resolve().parents[1]
EXAMPLE = ROOT / "fixtures" / "shelf" / "photos"
SPECK_PX = 64
# What is asked: at most so many times opening, at least so many times as fast as the recipe, and seconds to start.
MOST_MEASURING, LEAST_RECIPE, MOST_WHOLE, MOST_START_S = 1.5, 8.0, 3.0, 4.0


@dataclass(frozen=True)
class Took:
    """Seconds by the clock and of all processors."""

    clock: float
    processor: float


def opened(path: Path) -> int:
    """The photo as the library decodes it."""
    cv2.setNumThreads(1)
    picture = cv2.imread(str(path))
    return 0 if picture is None else picture.shape[0]


def by_the_recipe(path: Path) -> int:
    """Pixels of plant by excess green, an automatic threshold, and specks removed."""
    from skimage.filters import threshold_otsu  # noqa: PLC0415 - in the workers alone
    from skimage.io import imread  # noqa: PLC0415 - as above
    from skimage.morphology import remove_small_objects  # noqa: PLC0415 - as above

    rgb = imread(path).astype(np.float64)
    whole = rgb.sum(axis=2)
    whole[whole == 0] = 1
    red, green, blue = np.moveaxis(rgb / whole[..., None], 2, 0)
    excess = 2 * green - red - blue
    return int(remove_small_objects(excess > threshold_otsu(excess), SPECK_PX).sum())


def timed(command: list[str]) -> Took:
    """How long a command took, with all processes that it started and waited for."""
    before, began = _children(), time.perf_counter()
    done = subprocess.run(command, check=False, capture_output=True, text=True, cwd=ROOT, env=_here())
    if done.returncode:
        sys.exit(f"{' '.join(command)} ended with {done.returncode}:\n{done.stdout}{done.stderr}")
    return Took(time.perf_counter() - began, _children() - before)


def _here() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(ROOT / "scripts")])}


def _children() -> float:
    if sys.platform == "win32":
        return float("nan")
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def over_all(way: str, folder: Path, workers: int) -> None:
    """Each photo of a folder in so many processes; this is what `--way` does."""
    paths = sorted(folder.glob("*.JPG"))
    work = {"open": opened, "recipe": by_the_recipe}[way]
    with get_context("spawn").Pool(workers) as pool:
        for _ in pool.imap_unordered(work, paths):
            pass


def commands(folder: Path, out: Path, workers: int) -> dict[str, list[str]]:
    """What is run over one folder, by name."""
    ours = [sys.executable, "-m", "sproutlapse", "run", str(folder), "--out", str(out), "--workers", str(workers), "-q"]
    own = [sys.executable, __file__, str(folder), "--workers", str(workers), "--way"]
    return {
        "opening": [*own, "open"],
        "recipe": [*own, "recipe"],
        "measuring": [*ours, "--no-film", "--no-report"],
        "whole run": ours,
    }


def further(few: Took, many: Took, photos: int) -> Took:
    """Seconds of each further photo."""
    return Took((many.clock - few.clock) / photos, (many.processor - few.processor) / photos)


def tell(name: str, each: Took, start: Took, opening: Took) -> None:
    """One line of the table."""
    print(
        f"{name:<12}{each.clock:>10.4f}{each.processor:>12.4f}{each.clock / opening.clock:>12.2f}"
        f"{each.processor / opening.processor:>12.2f}{start.clock:>10.2f}{start.processor:>12.2f}"
    )


def compared(folders: dict[int, Path], out: Path, workers: int, leave_out: list[str]) -> int:
    """Run all of them over a folder with few photos and one with many, and tell; how many figures fall short."""
    few, many = folders
    each: dict[str, Took] = {}
    start: dict[str, Took] = {}
    for name in commands(folders[few], out, workers):
        if name in leave_out:
            continue
        took: dict[int, Took] = {}
        for count, folder in folders.items():
            results = out / f"results-{count}"
            shutil.rmtree(results, ignore_errors=True)
            took[count] = timed(commands(folder, results, workers)[name])
            print(f"{name}, {count} photos: {took[count].clock:.1f} s, {took[count].processor:.1f} s of processors")
        each[name] = further(took[few], took[many], many - few)
        start[name] = Took(took[few].clock - few * each[name].clock, took[few].processor - few * each[name].processor)
    print(f"\n{'':<12}{'a photo':>10}{'processor':>12}{'x opening':>12}{'processor':>12}{'start':>10}{'processor':>12}")
    for name, further_photo in each.items():
        tell(name, further_photo, start[name], each["opening"])
    return judged(each, start)


def judged(each: dict[str, Took], start: dict[str, Took]) -> int:
    """What is asked, and what came of it; how many fall short."""
    ratio = {name: took.clock / each["opening"].clock for name, took in each.items()}
    asked = []
    if "measuring" in each:
        asked.append(("measuring over opening", ratio["measuring"], "at most", MOST_MEASURING))
    if {"measuring", "recipe"} <= set(each):
        asked.append(("recipe over measuring", ratio["recipe"] / ratio["measuring"], "at least", LEAST_RECIPE))
    if "whole run" in each:
        asked.append(("whole run over opening", ratio["whole run"], "at most", MOST_WHOLE))
        asked.append(("start with report, s", start["whole run"].clock, "at most", MOST_START_S))
    short = 0
    for name, got, how, limit in asked:
        ok = got <= limit if how == "at most" else got >= limit
        short += not ok
        print(f"{'OK   ' if ok else 'SHORT'} {name}: {got:.2f} ({how} {limit})")
    return short


def main() -> int:
    """Make the photos, run everything, tell."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    ask.add_argument("photos", type=Path, nargs="?", default=EXAMPLE, metavar="PHOTOS")
    ask.add_argument("--out", type=Path)
    ask.add_argument("--few", type=int, default=100)
    ask.add_argument("--many", type=int, default=400)
    ask.add_argument("--workers", type=int, default=2)
    ask.add_argument("--leave-out", nargs="*", default=[], metavar="NAME", help='such as recipe or "whole run"')
    ask.add_argument("--way", choices=("open", "recipe"), help=argparse.SUPPRESS)
    said = ask.parse_args()
    if said.way is not None:
        over_all(said.way, said.photos, said.workers)
        return 0
    if said.out is None:
        ask.error("--out is needed")
    large = large_photos(said.photos, said.out / f"photos-{said.many}", said.many)
    fewer = some_of(large, said.out / f"photos-{said.few}-of-{said.many}", said.few)
    # Read once, so that nobody alone pays for the disk.
    sizes = [len(path.read_bytes()) for path in sorted(large.glob("*.JPG"))]
    print(f"{len(sizes)} photos of {min(sizes) / 1e6:.1f} to {max(sizes) / 1e6:.1f} MB")
    return min(1, compared({said.few: fewer, said.many: large}, said.out, said.workers, said.leave_out))


if __name__ == "__main__":
    sys.exit(main())
