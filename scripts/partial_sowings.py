"""How often "more is unlikely" is wrong: sowings that exist in numbers alone, counted as photos would count them.

Each world says how long seed really takes, how unevenly, how much of it ever comes up, and what is known beforehand.
The limits were looked at with `--seed 1`; figures that are to stand for something are from another.

    python scripts/partial_sowings.py --seed 2 --sowings 1000
"""

from __future__ import annotations

import argparse
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sproutlapse.crops import DAYS_TABLE, TEMPERATURES_C, days_to_emergence
from sproutlapse.growth.more_to_come import UNLIKELY, chance_of_more

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class World:
    """How sowings are made.

    Attributes
    ----------
    log_sd
        Least and most spread of log days.
    share
        Least and most share that ever comes up.
    heavy
        Log-logistic times: more stragglers than the model knows of.
    known
        Whether the soil's temperature is given; else the table's whole range in a room is taken.
    table_log_sd
        How far the true middle lies from 1.2 times the table's days, as a standard deviation of its logarithm.
    """

    name: str
    log_sd: tuple[float, float] = (0.08, 0.4)
    share: tuple[float, float] = (0.0, 1.0)
    heavy: bool = False
    known: bool = True
    table_log_sd: float = 0.3


WORLDS = (
    World("as assumed"),
    World("good seed", share=(0.6, 1.0)),
    World("temperature not known", known=False),
    World("uneven", log_sd=(0.3, 0.6)),
    World("stragglers", heavy=True),
    World("table far off", table_log_sd=0.6),
)


@dataclass(frozen=True)
class Outcome:
    """Of one sowing: day on which more were called unlikely (NaN: never), whether more came, days without a new one."""

    day: float
    wrong: bool
    quiet: float
    partial: bool


def sowing(world: World, rng: np.random.Generator) -> Outcome:
    """One sowing, watched from its first sprout on until called unlikely, or long after its last."""
    crop = str(rng.choice(sorted(DAYS_TABLE)))
    warm = [c for c in TEMPERATURES_C if 15 <= c <= 25 and days_to_emergence(crop, c) is not None]
    soil_c = float(rng.choice(warm))
    told = days_to_emergence(crop, soil_c if world.known else None)
    true = days_to_emergence(crop, soil_c)
    assert told is not None
    assert true is not None
    n = int(rng.integers(6, 51))
    middle = 1.2 * true.most * math.exp(rng.normal(0, world.table_log_sd))
    spread, share = rng.uniform(*world.log_sd), rng.uniform(*world.share)
    z = rng.logistic(0, math.sqrt(3) / math.pi, n) if world.heavy else rng.normal(0, 1, n)
    days = np.where(rng.random(n) < share, middle * np.exp(spread * z), np.inf)
    return watched(days, float(rng.choice([1 / 24, 0.25, 1.0])), (told.fewest, told.most))


def watched(days: Floats, every: float, usual: tuple[float, float] | None) -> Outcome:
    """A sowing's seeds, in days until up, photographed `every` so many days and judged at one photo a day."""
    up = np.isfinite(days)
    partial = 0 < up.sum() < len(days)
    if not up.any():
        return Outcome(math.nan, wrong=False, quiet=math.nan, partial=False)
    before = np.floor(days / every) * every
    last = float(days[up].max())
    for day in np.arange(math.ceil(days.min()) + 1, 2 * last + 30):
        seen = before + every <= day
        if seen.all():
            break
        after = np.where(seen, before, day)
        by = np.where(seen, before + every, np.inf)
        quiet = day - float(by[seen].max()) if seen.any() else 0.0
        if seen.any() and quiet >= 1 and chance_of_more(after, by, usual=usual) <= UNLIKELY:
            return Outcome(float(day), wrong=bool(last > day), quiet=quiet, partial=bool(partial))
    return Outcome(math.nan, wrong=False, quiet=math.nan, partial=bool(partial))


def told(world: World, sowings: int, seed: int) -> list[Outcome]:
    """Outcomes of so many sowings that stay partial or were called so."""
    rng = np.random.default_rng([seed, WORLDS.index(world)])
    found: list[Outcome] = []
    while len(found) < sowings:
        one = sowing(world, rng)
        found += [one] if one.partial or not math.isnan(one.day) else []
    return found


def main() -> None:
    """Print a line for each world."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sowings", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=2)
    asked = parser.parse_args()
    print(f"{'world':24}{'sowings':>8}{'called':>8}{'wrong':>7}{'of called':>11}{'middle quiet':>14}")
    for world in WORLDS:
        outcomes = told(world, asked.sowings, asked.seed)
        called = [one for one in outcomes if not math.isnan(one.day)]
        wrong = sum(one.wrong for one in called)
        quiet = float(np.median([one.quiet for one in called])) if called else math.nan
        share = 100 * wrong / len(called) if called else math.nan
        print(f"{world.name:24}{len(outcomes):8}{len(called):8}{wrong:7}{share:9.1f} %{quiet:9.1f} days", flush=True)


if __name__ == "__main__":
    main()
