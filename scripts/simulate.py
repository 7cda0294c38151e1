"""Tables of measurements of seedlings that exist in numbers alone, with their truth: what `simulated.py` judges.

Growth is that of `seedling_model.py`, each parameter varied by 15 %. What measuring adds: one error of the scale a
tray, one of the soil line a plant, one new in each photo, as the two sd columns say; stems that are now and then
misread, photos that are missing, and bad ones among the rest. Nothing here knows how the tool judges.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from seedling_model import CLIMBING, FEATHERY, LATE, LEGGY, LONG_STEMMED, STURDY, Kind, Seedling, Sight

Floats = NDArray[np.float64]

START = datetime(2026, 3, 1, 8)
VARIED = 0.15
DAYS = 14.0
# Measuring, as the two columns of the standard deviation say on rendered trays.
MM_PER_PX = 0.35
SCALE_SD = 0.006
SOIL_SD_MM = 0.2
STEM_SD_MM = 0.3
LEAF_SHARED_SD = 0.08  # how light and edges are read differs from plant to plant
OUTLINE_SD_MM = 0.56  # times the root of the area, of a leaf's outline
STEM_MISREAD, BAD_PHOTO, NOT_MEASURED, MISSING = 0.01, 0.005, 0.01, 0.02  # shares of the photos
# The rule of the rendered scenes for what is leggy in truth.
TRUE_RATIO, TRUE_FROM_MM = 3.0, 20.0
OPEN_AFTER_H = 60.0  # seed leaves stand open so long after emergence
LATE_AFTER_H = 72.0  # stretching that begins late begins no sooner after that
LATE_MM = 45.0
# How fast a stem lengthens that does so late: at most 9 mm a day, as crowded tomatoes grew by 5.9 to 7.7 mm a day in
# the mean (Bjorkman & Garner 1998), or, if fast, as it did after emergence, at most 18 mm a day.
LATE_S_H = {"late": 30.0, "late fast": 15.0}


@dataclass(frozen=True)
class Grown:
    """One simulated plant: what it is, what is true of it at each photo, and when it crossed (None: never)."""

    name: str
    kind: str
    sight: Sight
    crossed_h: float | None
    begun_h: float | None


def seedling(kind: str, rng: np.random.Generator, emerges_h: float) -> tuple[Seedling, float | None]:
    """A seedling of a kind (the keys below), and the hour at which it began to stretch late."""
    parameters = {
        "sturdy": STURDY, "leggy": LEGGY, "late": LATE, "late fast": LATE, "long-stemmed": LONG_STEMMED,
        "climbing": CLIMBING, "feathery": FEATHERY,
    }[kind]  # fmt: skip
    varied = parameters.varied(rng, VARIED)
    seed = int(rng.integers(2**31))
    if kind not in LATE_S_H:
        return Seedling(varied, emerges_h, seed), None
    begins = OPEN_AFTER_H + LATE_AFTER_H + float(rng.uniform(0, 36))
    late = _stretching_from(varied, begins, LATE_S_H[kind], rng)
    return Seedling(late, emerges_h, seed), emerges_h + begins


def _stretching_from(kind: Kind, age_h: float, width_h: float, rng: np.random.Generator) -> Kind:
    """The kind with a stem that starts to lengthen again at an age, by a logistic curve of this width."""
    width = width_h * (1 + VARIED * float(np.clip(rng.normal(), -2.5, 2.5)))
    length = LATE_MM * (1 + VARIED * float(np.clip(rng.normal(), -2.5, 2.5)))
    return replace(kind, late_len=length, late_s=width, late_mid=age_h + 3.0 * width)


def crossing(sight: Sight, hours: Floats) -> float | None:
    """The hour of the first photo in which a plant is leggy in truth: tall enough, and too tall for its leaf."""
    ratio = sight.height / np.sqrt(np.maximum(sight.leaf_area, 1))
    rows = np.flatnonzero((sight.height >= TRUE_FROM_MM) & (ratio >= TRUE_RATIO))
    return float(hours[rows[0]]) if len(rows) else None


def photo_hours(step_h: float, days: float, rng: np.random.Generator) -> Floats:
    """When photos were taken: every so often, a few missing."""
    hours = np.arange(0, 24 * days + 1e-6, step_h)
    keep = rng.random(len(hours)) >= MISSING
    keep[0] = True
    return hours[keep]


def clock_of(hours: Floats) -> Floats:
    """The hour of the day of each photo."""
    return np.asarray((START.hour + hours) % 24)


def grow_tray(
    kinds: Sequence[str],
    hours: Floats,
    rng: np.random.Generator,
    *,
    facing: float | None = None,
    within_h: float = 40.0,
) -> tuple[pd.DataFrame, list[Grown]]:
    """A tray's table of measurements, and its plants.

    Parameters
    ----------
    kinds
        One a plant.
    hours
        (n,) hours of the photos.
    rng
        Its chance.
    facing
        How far all plants are turned about their stems; each its own way if not given.
    within_h
        They come up within so many hours.
    """
    scale = 1 + SCALE_SD * float(rng.normal())
    tables, grown = [], []
    for k, kind in enumerate(kinds):
        plant, begun = seedling(kind, rng, 18 + float(rng.uniform(0, within_h)))
        turned = float(rng.uniform(0, 2 * np.pi)) if facing is None else facing
        sight = plant.seen(hours, clock_of(hours), facing=turned, down=float(rng.uniform(0.02, 0.14)))
        name = f"P{k + 1}"
        crossed = crossing(sight, hours) if kind in ("leggy", *LATE_S_H) else None
        grown.append(Grown(name, kind, sight, crossed, begun))
        tables.append(measured(name, hours, sight, rng, stem_d=plant.kind.stem_d, scale=scale))
    return in_frame_order(tables), grown


def turned_tray(
    kinds: Sequence[str], hours: Floats, facings: Floats, seed: int
) -> list[tuple[pd.DataFrame, list[Grown]]]:
    """The same seedlings, turned: one table a facing, with the same growth and errors of its own."""
    out = []
    for k, facing in enumerate(facings):
        rng = np.random.default_rng([seed, k])
        plants = np.random.default_rng(seed)
        scale = 1 + SCALE_SD * float(rng.normal())
        tables, grown = [], []
        for i, kind in enumerate(kinds):
            plant, begun = seedling(kind, plants, 18 + float(plants.uniform(0, 40)))
            sight = plant.seen(hours, clock_of(hours), facing=float(facing))
            grown.append(Grown(f"P{i + 1}", kind, sight, crossing(sight, hours), begun))
            tables.append(measured(f"P{i + 1}", hours, sight, rng, stem_d=plant.kind.stem_d, scale=scale))
        out.append((in_frame_order(tables), grown))
    return out


def measured(
    name: str, hours: Floats, sight: Sight, rng: np.random.Generator, *, stem_d: float = 1.5, scale: float = 1.0
) -> pd.DataFrame:
    """One plant's rows as they would be measured."""
    n = len(hours)
    up = sight.height >= 0.5
    noise = np.sqrt((0.5 * MM_PER_PX) ** 2 + (0.009 * sight.width) ** 2)
    sd = np.sqrt(noise**2 + SOIL_SD_MM**2 + (SCALE_SD * sight.height) ** 2)
    height = sight.height * scale + SOIL_SD_MM * float(rng.normal()) + noise * rng.normal(0, 1, n)
    leaf = sight.leaf_seen * scale**2 * float(np.exp(LEAF_SHARED_SD * rng.normal()))
    leaf = leaf + OUTLINE_SD_MM * np.sqrt(leaf) * rng.normal(0, 1, n)
    bad = rng.random(n) < BAD_PHOTO
    height = np.where(bad, height * rng.choice([0.6, 1.4], n), height)
    leaf = np.where(bad, leaf * 0.3, leaf)
    stem = sight.stem + STEM_SD_MM * rng.normal(0, 1, n)
    stem = np.where(rng.random(n) < STEM_MISREAD, 2.0, stem)
    height = np.maximum(height, 0.5)
    stem = np.clip(stem, 0.3, height)
    bare = stem * stem_d
    leaf = np.maximum(leaf, 0.1 * (np.maximum(leaf, 0) + bare))
    canopy = leaf + bare
    seen = up & (rng.random(n) >= NOT_MEASURED)

    def only(values: Floats, where: NDArray[np.bool_] = seen) -> Floats:
        return np.where(where, values, np.nan)

    return pd.DataFrame(
        {
            "frame": [f"IMG_{int(t * 10):06d}.JPG" for t in hours],
            "time": [(START + timedelta(hours=float(t))).isoformat(timespec="seconds") for t in hours],
            "plant": name,
            "height_mm": only(height), "height_sd_mm": only(sd), "height_noise_mm": only(noise),
            "canopy_mm2": np.where(up, canopy, 0.0),
            "canopy_sd_mm2": np.where(up, np.hypot(OUTLINE_SD_MM * np.sqrt(canopy), 2 * SCALE_SD * canopy), 0.0),
            "leaf_mm2": only(leaf), "stem_mm": only(stem), "width_mm": only(sight.width), "lean_deg": only(np.zeros(n)),
            "height_to_leaf": only(height / np.sqrt(leaf)), "height_px": only(height / MM_PER_PX),
            "canopy_px": np.where(up, canopy / MM_PER_PX**2, 0.0), "seedlings": up.astype(int),
            "cut_off": False, "elapsed_h": hours,
        }
    )  # fmt: skip


def in_frame_order(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Tables of single plants as one, in frame order, then in the order given."""
    joined = pd.concat(tables, keys=range(len(tables)), names=["order", "row"]).reset_index("order")
    return joined.sort_values(["elapsed_h", "order"], kind="stable").drop(columns="order").reset_index(drop=True)
