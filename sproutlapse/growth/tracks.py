"""The measurements table, plant by plant, as plain arrays: what every judgement over time reads.

Rows stay in frame order. Nothing is smoothed or filled here; what was not measurable is NaN.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sproutlapse.tray import Habit, Lamp, Plant, Tray

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]


def wall_clock(text: str) -> datetime:
    """A time of the tables as the camera's own wall clock, without its offset."""
    return datetime.fromisoformat(text).replace(tzinfo=None)


@dataclass(frozen=True)
class Track:
    """One plant's rows in frame order, n of them.

    Attributes
    ----------
    plant, order
        Name, and place in tray order.
    settings
        The plant's entry of the tray, or None if the tray does not name it.
    time
        n texts, as the table writes them.
    elapsed_h
        (n,) hours since the first usable frame.
    height, height_sd
        (n,) in mm, or in pixels (sd NaN) where the tray has no scale.
    in_mm
        Whether `height` is in mm.
    canopy
        (n,) mm2, or pixels without a scale; 0 before emergence.
    stem_mm, ratio, seedlings
        (n,) bare stem, height-to-leaf, seedlings counted.
    cut_off
        (n,) true where the plant leaves the picture, so that its height is a lower bound.
    habit, habit_row
        How the plant grows, and the row from which on that is known; None while it is not.
    pot
        (n, 2) how far its pot stands from its first place, right and down, in the unit of `height`; NaN while it is
        taken out. Empty where the table does not say.
    covered
        (n,) true where a cover hides the plant, so that nothing is known of it. Empty where the table does not say.
    soil_light, soil_rough
        (n,) light and roughness of its soil over those at first; NaN where not seen. Empty where the table does not
        say.
    leaf
        (n, 3) CIELAB colour of its leaves; NaN where not told. Empty where the table does not say.
    lit
        (n, 2) red and blue over green light, in shares of those at first. Empty where the table does not say.
    soil_same
        (n,) how well its soil's crumbs and specks lie where they did at first, about 1 for the same; NaN where too
        little is seen. Empty where the table does not say.
    width
        (n,) widest extent in mm; NaN where not measured.
    view
        (n,) number of the camera's view, which changes where it was set up anew. Empty where the table does not say.
    """

    plant: str
    order: int
    settings: Plant | None
    time: tuple[str, ...]
    elapsed_h: Floats
    height: Floats
    height_sd: Floats
    in_mm: bool
    canopy: Floats
    stem_mm: Floats
    ratio: Floats
    seedlings: Floats
    cut_off: NDArray[np.bool_]
    habit: Habit | None = None
    habit_row: int = 0
    pot: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    covered: NDArray[np.bool_] = field(default_factory=lambda: np.zeros(0, np.bool_))
    soil_light: Floats = field(default_factory=lambda: np.zeros(0))
    soil_rough: Floats = field(default_factory=lambda: np.zeros(0))
    leaf: Floats = field(default_factory=lambda: np.zeros((0, 3)))
    lit: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    soil_same: Floats = field(default_factory=lambda: np.zeros(0))
    width: Floats = field(default_factory=lambda: np.zeros(0))
    view: Floats = field(default_factory=lambda: np.zeros(0))
    patches: Floats = field(default_factory=lambda: np.zeros((0, 2)))

    def one_view(self, first: int, last: int) -> bool:
        """Whether the camera showed one view from a row to another."""
        return not len(self.view) or bool((self.view[max(first, 0) : last + 1] == self.view[last]).all())

    def last_view(self, most: int) -> int:
        """Which view of the camera the last row shows, from 0 for the first one to `most`."""
        return min(int(self.view[-1]), most) if len(self.view) else 0

    def other_views(self) -> Rows:
        """Rows from which on the camera shows another view than in the row before."""
        return (np.flatnonzero(np.diff(self.view)) + 1).astype(np.intp)

    def clock(self, row: int) -> datetime:
        """The wall clock of a row, later clock shifts corrected."""
        return wall_clock(self.time[0]) + timedelta(hours=float(self.elapsed_h[row] - self.elapsed_h[0]))

    def lamp(self, tray: Tray, row: int) -> Lamp | None:
        """The lamp above the plant as it stood at a row."""
        return tray.lamp_of(self.settings, self.clock(row)) if self.settings and self.settings.lamp else None


def tracks(measurements: pd.DataFrame, tray: Tray) -> list[Track]:
    """Split the measurements table by plant, in tray order; plants the tray does not name follow as they appear.

    A plant of the tray without rows is left out.
    """
    groups = {str(name): rows for name, rows in measurements.groupby("plant", sort=False)}
    in_tray = {p.name: p for p in tray.plants}
    names = [n for n in in_tray if n in groups] + [n for n in groups if n not in in_tray]
    scaled = bool(measurements["height_mm"].notna().any() or (measurements["canopy_mm2"].fillna(0) > 0).any())
    return [_track(groups[name], name, order, in_tray.get(name), scaled) for order, name in enumerate(names)]


def _track(rows: pd.DataFrame, name: str, order: int, settings: Plant | None, scaled: bool) -> Track:
    def column(key: str) -> Floats:
        return pd.to_numeric(rows[key], errors="coerce").to_numpy(dtype=np.float64, na_value=np.nan)

    canopy_px = column("canopy_px")
    canopy = column("canopy_mm2") if scaled else canopy_px
    habit, habit_row = _habit(rows, settings)
    return Track(
        plant=name,
        order=order,
        settings=settings,
        time=tuple(rows["time"].astype(str)),
        elapsed_h=column("elapsed_h"),
        height=column("height_mm") if scaled else column("height_px"),
        height_sd=column("height_sd_mm"),
        in_mm=scaled,
        canopy=np.where(canopy_px > 0, canopy, canopy_px),
        stem_mm=column("stem_mm"),
        ratio=column("height_to_leaf"),
        seedlings=column("seedlings"),
        cut_off=rows["cut_off"].isin([True, "true", "True", 1]).to_numpy(dtype=np.bool_),
        habit=habit,
        habit_row=habit_row,
        pot=np.column_stack([column("pot_x"), column("pot_y")]) if "pot_x" in rows else np.zeros((0, 2)),
        covered=rows["covered"].to_numpy(dtype=np.bool_) if "covered" in rows else np.zeros(0, np.bool_),
        soil_light=column("soil_light") if "soil_light" in rows else np.zeros(0),
        soil_rough=column("soil_rough") if "soil_rough" in rows else np.zeros(0),
        leaf=np.column_stack([column(f"leaf_{c}") for c in "lab"]) if "leaf_l" in rows else np.zeros((0, 3)),
        lit=np.column_stack([column("light_red"), column("light_blue")]) if "light_red" in rows else np.zeros((0, 2)),
        soil_same=column("soil_same") if "soil_same" in rows else np.zeros(0),
        width=column("width_mm"),
        view=column("view") if "view" in rows else np.zeros(0),
        patches=np.column_stack([column("patches"), column("patch_share")]) if "patches" in rows else np.zeros((0, 2)),
    )


def _habit(rows: pd.DataFrame, settings: Plant | None) -> tuple[Habit | None, int]:
    """The habit as it is known in the last row, and the row since when; the tray's where the table does not say."""
    if "habit" not in rows:
        return (settings.habit if settings else None), 0
    known = (rows["habit"] != "").to_numpy()
    return (rows["habit"].iloc[-1], int(known.argmax())) if known.any() else (None, 0)
