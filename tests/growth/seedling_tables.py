"""Measurement tables made up for tests: what a photo every six hours would give of seedlings whose story is known."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from sproutlapse.tray import Tray

START = datetime(2026, 3, 1, 8)
NAN = float("nan")


def clock(hours: float) -> str:
    return (START + timedelta(hours=float(hours))).isoformat(timespec="seconds")


def plant_rows(
    name: str,
    hours: Sequence[float],
    height: Sequence[float],
    *,
    canopy: Sequence[float] | float = 100.0,
    ratio: Sequence[float] | float = 2.5,
    stem: Sequence[float] | float = 12.0,
    seedlings: Sequence[float] | float = 1,
) -> pd.DataFrame:
    """Rows of one plant; a height of 0 is a frame before emergence."""
    h = np.asarray(height, dtype=float)
    up = h > 0

    def seen(values: Sequence[float] | float) -> np.ndarray:
        return np.where(up, np.broadcast_to(np.asarray(values, dtype=float), h.shape), NAN)

    return pd.DataFrame(
        {
            "frame": [f"IMG_{int(t):04d}.JPG" for t in hours],
            "time": [clock(t) for t in hours],
            "plant": name,
            "height_mm": seen(h),
            "height_sd_mm": seen(0.8),
            "height_noise_mm": seen(0.4),
            "canopy_mm2": np.where(up, seen(canopy), 0),
            "canopy_sd_mm2": seen(2.0),
            "leaf_mm2": seen(canopy),
            "stem_mm": seen(stem),
            "width_mm": seen(20.0),
            "lean_deg": seen(0.0),
            "height_to_leaf": seen(ratio),
            "height_px": seen(h * 3),
            "canopy_px": np.where(up, seen(canopy) * 9, 0),
            "seedlings": np.where(up, seen(seedlings), 0),
            "cut_off": False,
            "elapsed_h": np.asarray(hours, dtype=float),
        }
    )


def leaves(
    rows: pd.DataFrame, *, hue: Sequence[float] | float, strength: Sequence[float] | float = 0.6, tone: object = 45.0
) -> pd.DataFrame:
    """The rows with the colour of leaves by hue (degrees), strength (of L + 16) and L, where the plant is up."""
    up = rows["canopy_px"].to_numpy() > 0
    light = np.broadcast_to(np.asarray(tone, dtype=float), up.shape)
    angle, long = np.radians(np.asarray(hue, dtype=float)), np.asarray(strength, dtype=float) * (light + 16)
    return rows.assign(
        leaf_l=np.where(up, light, NAN),
        leaf_a=np.where(up, long * np.cos(angle), NAN),
        leaf_b=np.where(up, long * np.sin(angle), NAN),
    )


def together(*plants: pd.DataFrame) -> pd.DataFrame:
    """Tables of several plants in frame order, then in the order given."""
    joined = pd.concat(plants, keys=range(len(plants)), names=["order", "row"]).reset_index("order")
    return joined.sort_values(["elapsed_h", "order"], kind="stable").drop(columns="order").reset_index(drop=True)


def until(table: pd.DataFrame, hours: float) -> pd.DataFrame:
    return table[table["elapsed_h"] <= hours].reset_index(drop=True)


def without_scale(table: pd.DataFrame) -> pd.DataFrame:
    lengths = [c for c in table.columns if c.endswith(("_mm", "_mm2"))]
    return table.assign(**dict.fromkeys(lengths, NAN))


def tray_of(*names: str, **parts: object) -> Tray:
    """A tray with plants of these names; `plant` settings in `each`, other parts of tray.toml by keyword."""
    each = parts.pop("each", {})
    assert isinstance(each, dict)
    plants = [{"name": n, "box_px": [0, 0, 9, 9], "habit": "broadleaf", **each} for n in names]
    return Tray.model_validate({"plant": plants, **parts})


def every(step: float, count: int) -> np.ndarray:
    return np.arange(count) * float(step)
