"""A comparison as tables: a row a pair and figure, a row a group, a row a pot. Empty where a thing is not known."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pandas as pd

from sproutlapse.growth.compared import Compared, Held, PairHeld
from sproutlapse.growth.fair_pots import SIZES, Pot, Size, common_age, size_at

PAIR_COLUMNS = (
    "by", "one", "other", "figure", "unit", "at_days", "one_value", "other_value", "one_n", "other_n", "difference",
    "difference_low", "difference_high", "chance", "chance_strict", "claimed", "counts_as_one", "trays",
    "not_to_be_told_from", "not_compared",
)  # fmt: skip
GROUP_COLUMNS = ("by", "group", "pots", "trays", "up", "of", "share_low", "share_high", "middle_days", "up_to_days")
POT_COLUMNS = (
    "tray", "plant", "sowing", "crop", "variety", "lot", "lamp", "place", "sown", "up", "of", "counted",
    "first_after_days", "first_by_days", "watched_days", "age_days", "height", "height_unit", "canopy", "canopy_unit",
    "height_to_leaf",
)  # fmt: skip


def pairs_table(c: Compared) -> pd.DataFrame:
    """A row a pair and figure, all of them."""
    rows = [_held(c, pair, h) for pair in c.pairs for h in pair.held]
    return pd.DataFrame(rows, columns=list(PAIR_COLUMNS))


def _held(c: Compared, pair: PairHeld, h: Held) -> dict[str, object]:
    e = h.effect
    return {
        "by": c.by, "one": pair.one, "other": pair.other, "figure": h.figure, "unit": h.unit, "at_days": h.at_days,
        "one_value": h.one, "other_value": h.other, "one_n": h.n_one, "other_n": h.n_other, "difference": e.difference,
        "difference_low": e.low, "difference_high": e.high, "chance": _chance(e.chance),
        "chance_strict": _chance(h.strict), "claimed": h.claimed, "counts_as_one": pair.design.unit.split()[0],
        "trays": len(pair.design.trays), "not_to_be_told_from": ", ".join(pair.design.entangled),
        "not_compared": h.silent,
    }  # fmt: skip


def _chance(value: float) -> str:
    """Three figures that count, since chances may be small."""
    return "" if math.isnan(value) else f"{value:.3g}"


def groups_table(c: Compared) -> pd.DataFrame:
    """A row a group."""
    rows = [
        {
            "by": c.by, "group": g.name, "pots": len(g.pots), "trays": len({p.tray for p in g.pots}), "up": g.up,
            "of": g.of, "share_low": g.low, "share_high": g.high, "middle_days": g.middle_days, "up_to_days": g.days,
        }
        for g in c.groups
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(GROUP_COLUMNS))


def pots_table(pots: Sequence[Pot]) -> pd.DataFrame:
    """A row a pot: what was sown, when it came up, and its sizes at one age for all."""
    ages = {size: common_age(pots, size) for size in SIZES}
    return pd.DataFrame([_pot(p, ages) for p in pots], columns=list(POT_COLUMNS))


def _pot(p: Pot, ages: dict[Size, float]) -> dict[str, object]:
    up = np.isfinite(p.by)
    first = int(np.argmin(p.by)) if up.any() else None
    sown = p.sowing.sown
    return {
        "tray": p.tray, "plant": p.plant, "sowing": p.sowing.name, "crop": p.sowing.crop or "",
        "variety": p.sowing.variety or "", "lot": p.sowing.lot or "", "lamp": p.lamp, "place": p.place,
        "sown": "" if sown is None else sown.isoformat(), "up": int(up.sum()), "of": len(p.by),
        "counted": "seed" if p.per_seed else "pot",
        "first_after_days": math.nan if first is None or not p.dated else float(p.after[first]),
        "first_by_days": math.nan if first is None else float(p.by[first]), "watched_days": p.watched,
        "age_days": ages["height"] if not math.isnan(ages["height"]) else ages["canopy"],
        "height": size_at(p, "height", ages["height"]), "height_unit": "mm" if p.in_mm else "pixels",
        "canopy": size_at(p, "canopy", ages["canopy"]), "canopy_unit": "mm²" if p.in_mm else "pixels",
        "height_to_leaf": size_at(p, "height_to_leaf", ages["height_to_leaf"]),
    }  # fmt: skip
