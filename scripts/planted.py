"""Plant errors of scale and soil line, run the tool, and count how often its intervals hold the truth.

Each draw is a run of a scene with truth whose tray.toml has a wrong `marker_mm` (one error for the tray) and a wrong
`soil_y_px` for each plant, and says within what they are right (`within_mm`, `soil_within_mm`):

    python scripts/planted.py SCENE SCENE --out OUT [--draws 20] [--scale-percent 4] [--soil-mm 2]

Printed is the share of intervals of about 95 % that hold the truth: of heights, of growth a day, of the differences of
two plants in both, and of two trays (draws of the first scene against those of the second). Growth is read at several
moments; the truth's growth is that of its heights in the same photos. Draws of one tray share an error of the scale, so
the figures of few draws are rough.
"""

from __future__ import annotations

import argparse
import itertools
import json
import shutil
import subprocess
import sys
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
from differences import of_two_plants, of_two_trays

from sproutlapse.growth.curves import growth_per_day, last_break
from sproutlapse.growth.intervals import Figure, Interval, of_plant, own_part
from sproutlapse.growth.judge import Story, stories
from sproutlapse.tray import Judge
from sproutlapse.trayfile import read_tray, write_tray

MOMENTS = (0.4, 0.6, 0.8, 1.0)  # of the frames
Pair = tuple[Figure, float]  # measured, true
Moment = dict[str, list[Pair]]  # by kind of figure, in plant order


def planted(scene: Path, folder: Path, seed: int, said: argparse.Namespace) -> Path:
    """Write a tray.toml with errors and return it."""
    rng = np.random.default_rng(seed)
    tray = read_tray(scene / "tray.toml")
    mm_per_px = float(json.loads((scene / "scene.json").read_text(encoding="utf-8"))["mm_per_px_plants"])
    side, share = tray.scale.marker_mm or 30.0, said.scale_percent / 100
    wrong = {"marker_mm": round(side * (1 + rng.normal(0, share)), 4), "within_mm": round(2 * share * side, 4)}
    plants = []
    for plant in tray.plants:
        soil_y_px = round((plant.soil_y_px or 0.0) + rng.normal(0, said.soil_mm) / mm_per_px, 2)
        plants.append(plant.model_copy(update={"soil_y_px": soil_y_px, "soil_within_mm": 2 * said.soil_mm}))
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "tray.toml"
    scale = tray.scale.model_copy(update=wrong)
    write_tray(tray.model_copy(update={"scale": scale, "plants": tuple(plants)}), path)
    return path


def measured(scene: Path, tray: Path, out: Path, tool: str) -> float:
    """Run the tool; the standard deviation of the scale that it says."""
    shutil.rmtree(out, ignore_errors=True)
    command = [tool, "run", str(scene / "frames"), "--tray", str(tray), "--out", str(out), "--no-film", "--no-report"]
    subprocess.run([*command, "--quiet"], check=True, stdout=subprocess.DEVNULL)
    run = json.loads((out / "run.json").read_text(encoding="utf-8"))
    return float(run["shared_uncertainty"]["scale_sd_share"])


def moments(scene: Path, out: Path, scale_sd: float) -> list[Moment]:
    """Heights and growths of all plants at some moments, each with its truth."""
    table = pd.read_csv(out / "measurements.csv", keep_default_na=True)
    times = pd.to_datetime(table["time"])
    table["elapsed_h"] = (times - times.iloc[0]).dt.total_seconds() / 3600
    truth = pd.read_csv(scene / "truth.csv").set_index(["plant", "frame"])["height_mm"]
    tray = read_tray(out / "tray.toml")
    frames = list(dict.fromkeys(table["frame"]))
    told: list[Moment] = []
    for share in MOMENTS:
        part = table[table["frame"].isin(frames[: int(share * len(frames))])]
        moment: Moment = defaultdict(list)
        for story in stories(part, tray):
            own = part.loc[part["plant"] == story.track.plant, "frame"]
            true = truth.loc[[(story.track.plant, frame) for frame in own]].to_numpy(float)
            _add(moment, story, true, tray.judge, scale_sd)
        told.append(moment)
    return told


def _add(moment: Moment, story: Story, true: np.ndarray, judge: Judge, scale_sd: float) -> None:
    track, first = story.track, last_break(story.drops)
    if np.isfinite(track.height[-1]) and not track.cut_off[-1]:
        figure = own_part(float(track.height[-1]), float(track.height_sd[-1]), scale_sd)
        moment["height"].append((figure, float(true[-1])))
    really = replace(track, height=np.where(np.isfinite(track.height), true, np.nan))
    grown, truly = growth_per_day(track, judge, first=first), growth_per_day(really, judge, first=first)
    if grown is not None and truly is not None and np.isfinite(grown.sd):
        moment["growth"].append((Figure(grown.per_day, grown.sd), truly.per_day))


def count(held: dict[str, list[bool]], moment: Moment, scale_sd: float) -> None:
    """One tray at one moment: each plant, and each two of them."""
    for kind, pairs in moment.items():
        for figure, true in pairs:
            held[kind].append(_holds(of_plant(figure, scale_sd), true))
        for (one, true_one), (other, true_other) in itertools.combinations(pairs, 2):
            held[f"{kind}, two plants"].append(_holds(of_two_plants(one, other, scale_sd), true_one - true_other))


def count_trays(held: dict[str, list[bool]], sides: tuple[Moment, Moment], scale_sds: tuple[float, float]) -> None:
    """Two trays at one moment: the difference of their plants' means."""
    for kind in sides[0].keys() & sides[1].keys():
        one, other = sides[0][kind], sides[1][kind]
        true = float(np.mean([t for _, t in one]) - np.mean([t for _, t in other]))
        less = of_two_trays([f for f, _ in one], [f for f, _ in other], scale_sds)
        held[f"{kind}, two trays"].append(_holds(less, true))


def _holds(interval: Interval, true: float) -> bool:
    return interval.low <= true <= interval.high


def main() -> int:
    """Plant, run, count, tell."""
    ask = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    ask.add_argument("scenes", nargs="+", type=Path, metavar="SCENE")
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--tool", default="sproutlapse", help="the command to run (default: sproutlapse)")
    ask.add_argument("--draws", type=int, default=20)
    ask.add_argument("--scale-percent", type=float, default=4.0)
    ask.add_argument("--soil-mm", type=float, default=2.0)
    said = ask.parse_args()
    held: dict[str, list[bool]] = defaultdict(list)
    for draw in range(said.draws):
        trays = []
        for number, scene in enumerate(said.scenes):
            folder = said.out / f"{scene.name}-{draw}"
            tray = planted(scene, folder, 1000 * number + draw, said)
            scale_sd = measured(scene, tray, folder / "results", said.tool)
            trays.append((moments(scene, folder / "results", scale_sd), scale_sd))
            for moment in trays[-1][0]:
                count(held, moment, scale_sd)
        for (one, sd_one), (other, sd_other) in itertools.combinations(trays, 2):
            for at_one, at_other in zip(one, other, strict=True):
                count_trays(held, (at_one, at_other), (sd_one, sd_other))
        print(f"draw {draw + 1} of {said.draws}", file=sys.stderr, flush=True)
    for kind, holds in sorted(held.items()):
        print(f"{kind}: {np.mean(holds):.3f} of {len(holds)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
