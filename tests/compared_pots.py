"""Pots made up for comparisons: what a photo every six hours would give of seedlings whose story is known."""

import math
from datetime import datetime

import numpy as np

from sproutlapse.growth.fair_pots import Grew, Pot
from sproutlapse.tray import Sowing

SOWN = datetime(2026, 3, 1)


def pot(
    lot: str,
    x: float,
    *,
    up: float | None = 5.0,
    height: float = 40.0,
    tray: str = "one",
    lamp: str = "",
    place: str = "",
    seeds: int | None = 1,
    mm: bool = True,
    above: bool = False,
    **sown: object,
) -> Pot:
    """A pot photographed every six hours for twelve days; `up` on a day after sowing, or never."""
    n = seeds or 1
    by = np.full(n, math.inf if up is None else up)
    ages = np.arange(0, 7, 0.25)
    grew = {} if up is None else {
        "height": Grew(ages, height * ages / 6), "canopy": Grew(ages, 5 * height * ages / 6),
        "height_to_leaf": Grew(ages, np.full(len(ages), 3 + height / 100)),
    }  # fmt: skip
    sowing = Sowing.model_validate(
        {"name": lot, "lot": lot, "crop": "tomato", "sown": SOWN, "seeds_per_cell": seeds} | sown
    )
    return Pot(
        tray=tray, plant=f"{lot}{x:g}", sowing=sowing, lamp=lamp, place=place, x=x, y=0.0,
        after=np.where(np.isfinite(by), by - 0.25, 12.0), by=by, dated=True, watched=12.0, late_from=10.0, grew=grew,
        in_mm=mm, scale_sd=0.006, above=above,
    )  # fmt: skip


def mixed(n: int, **other: object) -> list[Pot]:
    """Two lots in turn, A and B, n each."""
    rng = np.random.default_rng(5)
    own = [{"height": 40 + float(noise)} for noise in rng.normal(0, 2, 2 * n)]
    return [pot("AB"[k % 2], k, **(own[k] | (other if k % 2 else {}))) for k in range(2 * n)]
