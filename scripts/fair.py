"""Compare simulated lots, whose truth is known, and print how often a difference is claimed, and found.

    python scripts/fair.py [equal|worse ...] [--pairs N] [--seed N]

equal  pairs of equal lots under a light and warmth gradient from left to right, in halves, shuffled by chance, in
       shuffled blocks, and in two trays one each, and where pots in the middle grow taller, one lot at the edge, and
       shuffled: a difference claimed, and what stands in its way named
worse  two trays that hold both lots in shuffled blocks, one lot truly worse: found, and do intervals hold the truth?

The seedlings come from `simulate.py`; what a lot and a place do to them stands here. Nothing of that knows the judging.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
from scipy import stats
from simulate import SCALE_SD, START, clock_of, in_frame_order, measured, photo_hours, seedling

from sproutlapse.growth.compared import Compared, PairHeld, compared
from sproutlapse.growth.fair_pots import Pot, SeenTray, common_age, pots_of, size_at
from sproutlapse.tray import Tray

STEP_H, DAYS = 8.0, 12.0
COLUMN_PX = 100
LAYOUTS = ("halves", "shuffled", "blocks", "a tray each", "edge and middle", "middle, shuffled")
# From the light end of a tray to the dark one: stems so much longer, leaves so much smaller, seedlings so much later.
LONGER, SMALLER, LATER_H = 0.5, 0.3, 24.0
# In the middle of a tray, its inner 60 %, stems so much longer than at its edge, where the light comes from all sides.
IN_THE_MIDDLE, INNER = 0.25, 0.6


@dataclass(frozen=True)
class Lot:
    """A made-up lot: the share that comes up, the middle hour of it, and its size over the usual."""

    name: str
    share: float = 0.85
    middle_h: float = 96.0
    size: float = 1.0


def layout(kind: str, each: int, rng: np.random.Generator) -> list[int]:
    """Which lot (0 or 1) stands where, from left to right."""
    if kind == "halves":
        return [0] * each + [1] * each if rng.random() < 0.5 else [1] * each + [0] * each
    if kind in ("shuffled", "middle, shuffled"):
        return [int(k) for k in rng.permutation([0] * each + [1] * each)]
    if kind == "edge and middle":
        outer = int(rng.integers(2))
        ends = [outer] * (each // 2), [outer] * (each - each // 2)
        return [*ends[0], *[1 - outer] * each, *ends[1]]
    return [int(k) for _ in range(each) for k in rng.permutation(2)]


def tray_of(
    name: str, lots: tuple[Lot, ...], row: list[int], rng: np.random.Generator, *, gradient: float, middle: float = 0
) -> SeenTray:
    """A tray photographed from the side: a row of pots with one seed each, the light to the left or the right, and
    stems longer by the share `middle` in its middle."""
    hours = photo_hours(STEP_H, DAYS, rng)
    scale, side = 1 + SCALE_SD * float(rng.normal()), float(rng.choice([-1.0, 1.0]))
    tables, plants = [], []
    for k, which in enumerate(row):
        lot, dark = lots[which], gradient * side * (2 * k / max(len(row) - 1, 1) - 1) / 2
        up_h = float(lot.middle_h * np.exp(0.2 * rng.normal()) + LATER_H * dark)
        if rng.random() >= lot.share:
            up_h = 1e6
        plant, _ = seedling("sturdy", rng, up_h)
        sight = plant.seen(hours, clock_of(hours), facing=float(rng.uniform(0, 2 * np.pi)))
        inner = middle * (abs(2 * k / max(len(row) - 1, 1) - 1) <= INNER)
        longer, leaf = lot.size * (1 + LONGER * dark + inner), lot.size**2 * (1 - SMALLER * dark)
        sight = replace(
            sight, height=sight.height * longer, stem=sight.stem * longer, leaf_area=sight.leaf_area * leaf,
            leaf_seen=sight.leaf_seen * leaf, canopy=sight.canopy * leaf, width=sight.width * np.sqrt(leaf),
        )  # fmt: skip
        tables.append(measured(f"P{k + 1}", hours, sight, rng, scale=scale))
        box = [k * COLUMN_PX, 0, (k + 1) * COLUMN_PX, 400]
        plants.append({"name": f"P{k + 1}", "box_px": box, "habit": "broadleaf", "sowing": lot.name})
    sown = (START - timedelta(hours=6)).isoformat()
    sowings = [{"name": lot.name, "lot": lot.name, "crop": "tomato", "sown": sown, "seeds_per_cell": 1} for lot in lots]
    tray = Tray.model_validate({"view": {"from": "side"}, "plant": plants, "sowing": sowings})
    return SeenTray(name, tray, in_frame_order(tables), SCALE_SD)


def equal_pair(kind: str, rng: np.random.Generator, *, gradient: float = 1.0) -> Compared:
    """Two equal lots of 5 to 12 pots each in one of the layouts, compared."""
    lots, each = (Lot("one"), Lot("other")), int(rng.integers(5, 13))
    if kind == "a tray each":
        pots: list[Pot] = []
        for k in (0, 1):
            pots += pots_of(tray_of(f"tray {k}", lots, [k] * each, rng, gradient=gradient))
        return compared(pots, "lot")
    middle = IN_THE_MIDDLE if "middle" in kind else 0.0
    return compared(
        pots_of(tray_of("tray", lots, layout(kind, each, rng), rng, gradient=gradient, middle=middle)), "lot"
    )


def carelessly(pair: PairHeld) -> bool:
    """Whether the heights would be called different by a plain t test, without a look at where the pots stand."""
    age = common_age(pair.design.pots, "height")
    sides = [[size_at(p, "height", age) for p in side] for side in (pair.design.one, pair.design.other)]
    return bool(stats.ttest_ind(*sides, nan_policy="omit").pvalue <= 0.05)


def equal(pairs: int, seed: int) -> list[str]:
    """How often a difference between equal lots is claimed, and what stands in its way named, by layout."""
    claimed: Counter[str] = Counter()
    named: Counter[str] = Counter()
    raw: Counter[str] = Counter()
    figures: Counter[str] = Counter()
    for n in range(pairs):
        kind = LAYOUTS[n % len(LAYOUTS)]
        pair = equal_pair(kind, np.random.default_rng([seed, n])).pairs[0]
        claimed[kind] += any(h.claimed for h in pair.held)
        named[kind] += bool(pair.design.entangled)
        raw[kind] += carelessly(pair)
        figures.update(h.figure for h in pair.held if h.claimed)
    each = {kind: len(range(k, pairs, len(LAYOUTS))) for k, kind in enumerate(LAYOUTS)}
    total = sum(claimed.values())
    return [
        f"{pairs} pairs of equal lots under a gradient: a difference claimed {total} times ({total / pairs:.1%})",
        *(
            f"  {kind}: claimed {claimed[kind]} of {n}; lot and place named as entangled {named[kind]} of {n};"
            f" without care their heights would have differed in {raw[kind]}"
            for kind, n in each.items()
        ),
        f"  claimed by figure: {dict(figures)}",
    ]


GOOD, BAD = Lot("good", 0.95, 84.0, 1.0), Lot("bad", 0.5, 132.0, 0.75)
EACH = 10


def worse_pair(rng: np.random.Generator) -> Compared:
    """Two trays with ten pots of either lot in shuffled blocks, the bad lot fewer, later and smaller."""
    pots: list[Pot] = []
    for k in (1, 2):
        pots += pots_of(tray_of(f"tray {k}", (GOOD, BAD), layout("blocks", EACH, rng), rng, gradient=1.0))
    return compared(pots, "lot")


def worse(pairs: int, seed: int) -> list[str]:
    """How often a truly worse lot is found, and how often the interval holds the truth.

    Of the share and the days the truth is that of the lots; of the height it is the middle of a thousand plants.
    """
    truths = {"count": GOOD.share - BAD.share, "days": (GOOD.middle_h - BAD.middle_h) * float(np.exp(0.02)) / 24}
    found: Counter[str] = Counter()
    held: Counter[str] = Counter()
    told: Counter[str] = Counter()
    shares: list[float] = []
    for n in range(pairs):
        result = worse_pair(np.random.default_rng([seed, 7, n]))
        pair = result.pairs[0]
        sign = 1 if pair.one == "good" else -1
        found["any"] += any(h.claimed for h in pair.held)
        for h in pair.held:
            found[h.figure] += h.claimed
            if h.figure in truths and not np.isnan(h.effect.low):
                told[h.figure] += 1
                held[h.figure] += h.effect.low <= sign * truths[h.figure] <= h.effect.high
            if h.figure == "height" and not h.silent:
                good, bad = (h.one, h.other) if sign > 0 else (h.other, h.one)
                told["height"] += 1
                half = (h.effect.high - h.effect.low) / 2
                # A plant 25 % smaller at every age: the truth is that share of the good lot's own height.
                truth = sign * (1 - BAD.size) * good
                held["height"] += abs(h.effect.difference - truth) <= half
                shares.append(bad / good)
    return [
        f"{pairs} comparisons of two trays with one lot truly worse: found {found['any']} of {pairs}",
        *(f"  {k}: claimed {found[k]} of {pairs}; interval holds the truth {held[k]} of {told[k]}" for k in held),
        f"  canopy claimed {found['canopy']}, height to leaf {found['height_to_leaf']};"
        f" bad lot's height {np.mean(shares):.3f} of the good one's, in truth {BAD.size:.2f}",
    ]


def main() -> int:
    """Print what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", nargs="*", help="equal, worse; both if not given")
    parser.add_argument("--pairs", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    parts = {"equal": equal, "worse": worse}
    for part in asked.what or parts:
        print("\n".join(parts[part](asked.pairs, asked.seed)), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
