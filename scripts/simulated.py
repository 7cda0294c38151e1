"""Judge simulated seedlings, whose truth is known, and print how often the judgement is right.

    python scripts/simulated.py [verdicts|facing|forecast|speed ...] [--trays N] [--seed N]

verdicts  leggy plants found and how soon, stretching that begins late warned of, healthy plants called leggy
facing    the same seedlings turned through 360 degrees: is the verdict the same?
forecast  how often the band of a forecast holds the day on which a height is reached
speed     5,000 photos of 50 plants judged

The seedlings come from `simulate.py`, which knows nothing of the judging. Its first seeds were looked at while the
limits were chosen; figures that are to stand for something are from another `--seed`.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from datetime import timedelta

import numpy as np
import pandas as pd
from seedling_model import Sight
from simulate import (
    DAYS,
    LATE_S_H,
    SCALE_SD,
    START,
    Floats,
    Grown,
    clock_of,
    grow_tray,
    in_frame_order,
    measured,
    photo_hours,
    seedling,
    turned_tray,
)

from sproutlapse.growth.judge import Judgement, judge
from sproutlapse.growth.lamps_ahead import first_to_reach
from sproutlapse.growth.tracks import tracks
from sproutlapse.tray import Tray

MIX = ("sturdy",) * 5 + ("leggy",) * 3 + ("late",) * 2 + ("late fast",)
TALL_BY_NATURE = {"long-stemmed": "snap bean", "climbing": "pea", "feathery": "carrot"}
STEPS_H = (1.0, 4.0, 6.0, 12.0)
FACINGS = 40
PLANTS = 4  # of a tray for which a lamp's gap is forecast
FINE_H = 2.0


def tray_for(plants: list[Grown], *, crops: bool = False) -> Tray:
    """A tray in which all are written down as broad-leaved; by `crops` each kind is a sowing of its own crop."""
    entries = [
        {"name": g.name, "box_px": [0, 0, 9, 9], "habit": "broadleaf", "sowing": g.kind if crops else "one"}
        for g in plants
    ]
    if not crops:
        return Tray.model_validate({"plant": entries, "sowing": [{"name": "one", "crop": "tomato"}]})
    sowings = [{"name": k, "crop": TALL_BY_NATURE.get(k, "tomato")} for k in dict.fromkeys(g.kind for g in plants)]
    return Tray.model_validate({"plant": entries, "sowing": sowings})


def hours_known(judged: Judgement, plant: str, event: str) -> float | None:
    """Hours from the first photo to the one at which an event of a plant could be said, or None."""
    rows = judged.events[(judged.events["plant"] == plant) & (judged.events["event"] == event)]
    if rows.empty:
        return None
    return float((pd.Timestamp(rows.iloc[0]["known"]) - pd.Timestamp(START)).total_seconds() / 3600)


def verdicts(trays: int, seed: int) -> list[str]:
    """Leggy plants found and how soon, late ones warned of, healthy ones accused; by photos every so many hours."""
    out = []
    for step in STEPS_H:
        count: Counter[str] = Counter()
        waits: list[float] = []
        for k in range(trays):
            rng = np.random.default_rng([seed, int(step), k])
            hours = photo_hours(step, DAYS, rng)
            table, plants = grow_tray(MIX, hours, rng)
            judged = judge(table, tray_for(plants))
            grades = judged.plants.set_index("plant")["grade"]
            for g in plants:
                count[g.kind] += 1
                leggy, warned = hours_known(judged, g.name, "leggy"), hours_known(judged, g.name, "stretching")
                count[f"{g.kind} graded {grades[g.name] or 'nothing'}"] += 1
                if g.kind == "sturdy":
                    count["accused"] += leggy is not None
                    count["sturdy warned"] += warned is not None
                elif g.crossed_h is None:
                    count[f"{g.kind} never crossed"] += 1
                elif g.kind == "leggy":
                    count["leggy found"] += leggy is not None
                    waits.append(np.inf if leggy is None else leggy - g.crossed_h)
                else:
                    count[f"{g.kind} crossed"] += 1
                    count[f"{g.kind} found"] += leggy is not None
                    first = min((h for h in (leggy, warned) if h is not None), default=np.inf)
                    count[f"{g.kind} warned"] += first <= g.crossed_h - 24
        within = np.array(waits) <= max(24.0, 2 * step) + 1e-6
        found, leggy_n = count["leggy found"], count["leggy"] - count["leggy never crossed"]
        out += [
            f"photos every {step:g} h, {trays} trays:",
            f"  leggy found {found} of {leggy_n} ({found / leggy_n:.1%}); known within a day of crossing"
            f" {within.mean():.1%} (median {np.median(waits):.0f} h, 99 % within {np.quantile(waits, 0.99):.0f} h)",
            f"  healthy called leggy {count['accused']} of {count['sturdy']}"
            f" ({count['accused'] / count['sturdy']:.2%}); healthy warned of {count['sturdy warned']}",
            *(
                f"  stretching {kind}: warned a day ahead {count[f'{kind} warned']} of {count[f'{kind} crossed']}"
                f" ({count[f'{kind} warned'] / max(count[f'{kind} crossed'], 1):.1%}), called leggy in the end"
                f" {count[f'{kind} found']}, never crossed {count[f'{kind} never crossed']}"
                for kind in LATE_S_H
            ),
            "  graded: " + ", ".join(f"{k} {v}" for k, v in sorted(count.items()) if " graded " in k),
        ]
    return [*out, *not_judged(trays, seed)]


def not_judged(trays: int, seed: int) -> list[str]:
    """Kinds that are tall by nature, none of which is to be called leggy."""
    accused, plants_n = 0, 0
    for k in range(max(trays // 4, 1)):
        rng = np.random.default_rng([seed, 99, k])
        table, plants = grow_tray(tuple(TALL_BY_NATURE) * 2, photo_hours(6.0, DAYS, rng), rng)
        judged = judge(table, tray_for(plants, crops=True))
        plants_n += len(plants)
        accused += int(judged.events["event"].isin(["leggy", "stretching"]).sum())
    return [f"long-stemmed, climbing and feathery: {accused} accused of {plants_n}"]


def facing(trays: int, seed: int) -> list[str]:
    """The same seedlings turned through 360 degrees in 40 steps, hourly photos: how often the verdict is the same."""
    same, total = 0, 0
    kinds = ("sturdy", "sturdy", "leggy", "late")
    told: Counter[str] = Counter()
    turns = np.linspace(0, 2 * np.pi, FACINGS, endpoint=False)
    for k in range(trays):
        hours = photo_hours(1.0, DAYS, np.random.default_rng([seed, k]))
        by_plant: dict[str, Counter[str]] = {}
        for table, plants in turned_tray(kinds, hours, turns, seed * 1000 + k):
            judged = judge(table, tray_for(plants))
            leggy = set(judged.events.loc[judged.events["event"] == "leggy", "plant"])
            for g in plants:
                by_plant.setdefault(f"{g.kind} {g.name}", Counter())["leggy" if g.name in leggy else "not"] += 1
        for name, seen in by_plant.items():
            same += max(seen.values())
            total += sum(seen.values())
            told[f"{name.split()[0]} always the same"] += len(seen) == 1
    return [f"turned through 360 degrees: the same verdict in {same} of {total} ({same / total:.2%}); {dict(told)}"]


def forecasts(trays: int, seed: int) -> list[str]:
    """How often the band of a forecast holds the hour at which the first plant of a tray reaches a height."""
    held, late, early, none = 0, 0, 0, 0
    lengths: list[float] = []
    for k in range(trays):
        rng = np.random.default_rng([seed, 8, k])
        hours, fine = photo_hours(float(rng.choice(STEPS_H)), DAYS, rng), np.arange(0, 24 * 22 + 1, FINE_H)
        now = float(rng.uniform(4, 13)) * 24
        truth, table = heights_of_tray(hours[hours <= now], fine, rng)
        limit = float(truth[fine <= now].max() + rng.uniform(5, 35))
        entries = [{"name": f"P{i + 1}", "box_px": [0, 0, 9, 9], "habit": "broadleaf"} for i in range(PLANTS)]
        tray = Tray.model_validate({"plant": entries})
        told = first_to_reach([(track, 0) for track in tracks(table, tray)], limit, tray.judge)
        if told is None:
            none += 1
            continue
        reached = np.flatnonzero(truth >= limit)
        # Not within the hours that were simulated: after all of them.
        after_h = float(fine[reached[0]]) if len(reached) else 10 * float(fine[-1])
        when, latest = START + timedelta(hours=after_h), told.when.latest
        too_soon = when < told.when.earliest
        too_late = latest is not None and when - timedelta(hours=FINE_H) > latest
        early, late, held = early + too_soon, late + too_late, held + (not too_soon and not too_late)
        if latest is not None:
            lengths.append((latest - told.when.earliest).total_seconds() / 86400)
    n = trays - none
    return [
        f"forecast band holds the truth in {held} of {n} ({held / max(n, 1):.1%}); sooner {early}, later {late};"
        f" nothing said for {none}; with a last day {len(lengths)}, then {np.median(lengths):.1f} days in the middle"
    ]


def heights_of_tray(hours: Floats, fine: Floats, rng: np.random.Generator) -> tuple[Floats, pd.DataFrame]:
    """The true height of the tallest plant of a tray at the hours `fine`, and what was measured of all at `hours`."""
    scale = 1 + SCALE_SD * float(rng.normal())
    tallest, tables = np.zeros(len(fine)), []
    for i in range(PLANTS):
        kind = str(rng.choice(["sturdy", "leggy", "late"], p=[0.6, 0.25, 0.15]))
        plant, _ = seedling(kind, rng, 18 + float(rng.uniform(0, 40)))
        tallest = np.maximum(tallest, plant.heights(fine, clock_of(fine)))
        height = plant.heights(hours, clock_of(hours))
        # Leaf and stem do not matter here.
        sight = Sight(height, 0.4 * height, 10 * height, 8 * height, 10 * height, 15 + 0.8 * height)
        tables.append(measured(f"P{i + 1}", hours, sight, rng, scale=scale))
    return tallest, in_frame_order(tables)


def speed(_trays: int, seed: int) -> list[str]:
    """5,000 photos of 50 plants."""
    rng = np.random.default_rng(seed)
    hours = np.arange(5000) * 0.25
    coarse = np.arange(0, 1250.1, 6.0)
    tables = []
    for k in range(50):
        kind = ("sturdy", "leggy", "late")[k % 3]
        plant, _ = seedling(kind, rng, 18 + float(rng.uniform(0, 40)))
        s = plant.seen(coarse[:80], clock_of(coarse[:80]))
        fine = Sight(*(np.interp(hours, coarse[:80], getattr(s, n)) for n in s.__dataclass_fields__))
        tables.append(measured(f"P{k + 1}", hours, fine, rng))
    table = in_frame_order(tables)
    each = {"box_px": [0, 0, 9, 9], "habit": "broadleaf", "sowing": "s", "lamp": "l"}
    tray = Tray.model_validate(
        {
            "plant": [{"name": f"P{k + 1}", **each} for k in range(50)],
            "sowing": [{"name": "s", "crop": "tomato", "sown": "2026-02-25T08:00:00"}],
            "lamp": [{"name": "l", "kind": "tube", "above_soil_mm": 150}],
        }
    )
    begun = time.perf_counter()
    judge(table, tray)
    return [f"5,000 photos x 50 plants judged in {time.perf_counter() - begun:.1f} s"]


CHECKS = {"verdicts": verdicts, "facing": facing, "forecast": forecasts, "speed": speed}
USUAL_TRAYS = {"verdicts": 40, "facing": 4, "forecast": 1000, "speed": 1}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("checks", nargs="*", metavar="CHECK", help=", ".join(CHECKS))
    parser.add_argument("--trays", type=int, help="how many to simulate (each check has its own usual number)")
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    for name in args.checks or list(CHECKS):
        begun = time.perf_counter()
        for line in CHECKS[name](args.trays or USUAL_TRAYS[name], args.seed):
            print(line, flush=True)
        print(f"  ({name}: {time.perf_counter() - begun:.0f} s)", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
