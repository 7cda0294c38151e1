"""Findings of single photos put in time order: who has emerged, and the tidy table with its uncertainty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt
from operator import attrgetter
from statistics import median
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.findings import Findings, PlantFinding
from sproutlapse.vision.labels import relabelled
from sproutlapse.work.doubt import canopy_sd_mm2, height_noise_mm, height_sd_mm

COLUMNS = (
    "frame", "time", "plant", "height_mm", "height_sd_mm", "height_noise_mm", "canopy_mm2", "canopy_sd_mm2", "leaf_mm2",
    "stem_mm", "width_mm", "lean_deg", "height_to_leaf", "height_px", "canopy_px", "seedlings", "cut_off",
    "leaf_l", "leaf_a", "leaf_b", "tips_mm",
)  # fmt: skip

# Further columns for judging, which measurements.csv does not hold.
INNER = (
    "elapsed_h", "pot_x", "pot_y", "habit", "covered", "soil_light", "soil_rough", "light_red", "light_blue",
    "soil_same", "view", "patches", "patch_share",
)  # fmt: skip

PRESENT_PX = 6.0  # less tissue may be a speck that fell on the soil
LEAST_LEAF = 0.1  # of the silhouette: leaves still closed, or too thin to be told from the stem
STEM_PX = 4.0  # a stem's width where it could not be measured

# In a view of a camera that was set up anew, a plant that is read as less than this share of the middle of its last
# heights may be a thin stem of which a piece is seen. Own proposals; a real cut is seen in the next photo too.
STUB_SHARE = 0.5
STUB_FROM_MM = 8.0  # smaller plants come and go by as much
STUB_AMONG = 3  # heights

NAN = float("nan")
FIGURES = (*COLUMNS[3:15], *COLUMNS[17:])  # numbers, NaN where not known
# The figures of a plant whose pot is not in the photo, or hidden by a cover: not known, which is not the same as none.
NOT_THERE = {**dict.fromkeys(FIGURES, NAN), "seedlings": None, "cut_off": None}
NOT_UP = PlantFinding(0.0)
SOIL_AND_PATCHES = ("soil_light", "soil_rough", "soil_same", "patches", "patch_share")
soil_and_patches = attrgetter(*SOIL_AND_PATCHES)  # None where not known, which becomes NaN in the table

Way = tuple[float, float]  # right and down


@dataclass(frozen=True)
class UsedFrame:
    """One usable photo in time order; `view` counts the views of a camera that was set up anew, from 0."""

    frame: str
    time: str
    elapsed_h: float
    found: Findings
    view: int = 0


@dataclass(frozen=True)
class ViewScale:
    """Millimetres per pixel of each plant in a view of the camera, the scale's standard deviation as a share, and the
    plants that are not measured there, by their number in tray order."""

    mm_per_px: tuple[float | None, ...]
    sd_share: float
    lost: tuple[int, ...] = ()


@dataclass(frozen=True)
class Doubt:
    """What makes one row unsure besides its finding: the scale's standard deviation as a share, how wide the plant was
    seen in pixels, and how many of the photo's pixels make one of those that were measured."""

    scale_sd: float
    widest_px: float
    step: int


@dataclass
class _Ways:
    """How far pots stand from their first place, where the camera was set up anew since: in a new view they are taken
    to stand where they were last seen."""

    base: dict[tuple[int, int], Way] = field(default_factory=dict)
    last: dict[int, Way] = field(default_factory=dict)

    def since_first(self, k: int, view: int, way: Way | None) -> Way:
        """The way of pot k from its first place, from that in the pixels of a view; NaN while it is taken out."""
        if way is None:
            return NAN, NAN
        if (k, view) not in self.base:
            right, down = self.last.get(k, (0.0, 0.0))
            self.base[k, view] = (right - way[0], down - way[1]) if view else (0.0, 0.0)
        start = self.base[k, view]
        self.last[k] = start[0] + way[0], start[1] + way[1]
        return self.last[k]


@dataclass
class _Stubs:
    """Which heights of a further view are a stub that one photo alone tells of, from the photos before it."""

    known: dict[int, list[float]] = field(default_factory=dict)
    low: dict[int, bool] = field(default_factory=dict)

    def alone(self, k: int, view: int, height_mm: float) -> bool:
        """Whether to leave out what a photo tells of plant k: it fell, and the photo before does not say so."""
        heights = self.known.setdefault(k, [])
        middle = median(heights) if heights else 0.0
        fell, said = middle >= STUB_FROM_MM and height_mm < STUB_SHARE * middle, self.low.get(k, False)
        self.low[k] = fell
        if fell and not said and view:
            return True
        if height_mm > 0:
            self.known[k] = [*heights, height_mm][-STUB_AMONG:]
        return False


def emerged_from(present: Sequence[bool], in_a_row: int) -> int | None:
    """Index of the first of so many usable frames in a row that show tissue; None if there are none yet."""
    run = 0
    for index, there in enumerate(present):
        run = run + 1 if there else 0
        if run == in_a_row:
            return index - in_a_row + 1
    return None


def settle(
    frames: Sequence[UsedFrame],
    tray: Tray,
    mm_per_px: Sequence[float | None],
    scale_sd: float,
    habit_since: Mapping[str, int] = MappingProxyType({}),
    *,
    later: Sequence[ViewScale] = (),
) -> pd.DataFrame:
    """The table of measurements: a row per usable frame and plant.

    Parameters
    ----------
    frames
        Usable photos in time order.
    tray
        The complete tray.
    mm_per_px
        One a plant, at its depth; None without a scale.
    scale_sd
        Standard deviation of the scale as a share.
    habit_since
        By plant name the index of the photo from which on its habit is known, where it was not from the first.
    later
        The scales of further views of a camera that was set up anew.

    Returns
    -------
    DataFrame
        The columns of `measurements.csv`, `elapsed_h`, `pot_x` and `pot_y` (how far the pot stands from its first
        place, right and down in mm, in pixels without a scale; NaN while it is taken out), `habit` as it was known
        then (empty where not), `covered` (a cover hides the plant), `soil_light` and `soil_rough` over those of the
        bare stage, `light_red` and `light_blue` (red and blue over green light, in shares of those at first),
        `soil_same` (how well the soil's pattern lies where it did on the bare stage), `view`,
        `patches` and `patch_share` (from above, of how many pieces the tissue consists and the share of the largest).
        Lengths in mm, areas in mm2, colours in CIELAB; NaN where not measurable.
    """
    if not frames or not tray.plants:
        return pd.DataFrame(columns=[*COLUMNS, *INNER]).astype(_kinds())
    since, above = emergence(frames, tray), tray.view.from_ == "above"
    figures_of: list[tuple[object, ...]] = []
    others: list[tuple[object, ...]] = []
    scales = [ViewScale(tuple(mm_per_px), scale_sd), *later]
    last: dict[int, Way | None] = {}
    widths: dict[int, list[float]] = {}  # the two widest so far: one bad photo does not count
    ways, stubs = _Ways(), _Stubs()
    for index, frame in enumerate(frames):
        mm_here, sd_here, lost = scales[frame.view].mm_per_px, scales[frame.view].sd_share, scales[frame.view].lost
        for k, plant in enumerate(tray.plants):
            own = since[k]
            hidden, told = frame.found.hidden(k), frame.found.plants[k]
            seen = told if own is not None and index >= own else NOT_UP
            # Behind a cover a pot is taken to stand where it was last seen.
            stood = last.get(k, (0.0, 0.0)) if hidden else frame.found.stood(k)
            last[k] = stood
            size = mm_here[k] or 1.0
            pot = ways.since_first(k, frame.view, None if stood is None else (stood[0] * size, stood[1] * size))
            widths[k] = sorted([*widths.get(k, [0.0, 0.0]), (seen.width_px or 0.0) * size])[1:]
            there = stood is not None and not hidden and k not in lost
            if there and stubs.alone(k, frame.view, (seen.height_px or 0.0) * size):
                there = False
            if there:
                doubt = Doubt(sd_here, widths[k][0] / size, frame.found.step)
                figures_of.append(tuple(_figures(seen, plant, above, mm_here[k], doubt).values()))
            else:
                figures_of.append(tuple(NOT_THERE.values()))
            habit = plant.habit or "" if index >= habit_since.get(plant.name, 0) else ""
            others.append((*pot, habit, hidden, *soil_and_patches(told)))
    return _table(frames, [plant.name for plant in tray.plants], figures_of, others)


def _table(
    frames: Sequence[UsedFrame],
    plants: Sequence[str],
    figures_of: Sequence[tuple[object, ...]],
    others: Sequence[tuple[object, ...]],
) -> pd.DataFrame:
    """The table by its columns, which is many times faster than by its rows."""
    columns: dict[str, Any] = dict(zip(NOT_THERE, zip(*figures_of, strict=True), strict=True))
    names = ("pot_x", "pot_y", "habit", "covered", *SOIL_AND_PATCHES)
    columns |= dict(zip(names, zip(*others, strict=True), strict=True))
    text = {"habit": object, "covered": bool, "seedlings": object, "cut_off": object}
    columns = {name: np.array(values, dtype=text.get(name, float)) for name, values in columns.items()}
    each = len(plants)

    def of_frames(values: Sequence[object], kind: type) -> NDArray[Any]:
        return np.repeat(np.array(values, dtype=kind), each)

    gains = [frame.found.gains for frame in frames]
    columns |= {
        "frame": of_frames([frame.frame for frame in frames], object),
        "time": of_frames([frame.time for frame in frames], object),
        "plant": np.tile(np.array(plants, dtype=object), len(frames)),
        "elapsed_h": of_frames([frame.elapsed_h for frame in frames], float),
        "light_red": of_frames([red / max(green, 1e-6) for red, green, _blue in gains], float),
        "light_blue": of_frames([blue / max(green, 1e-6) for _red, green, blue in gains], float),
        "view": of_frames([frame.view for frame in frames], int),
    }
    return pd.DataFrame({name: columns[name] for name in (*COLUMNS, *INNER)}).astype(_kinds())


def _kinds() -> dict[Any, Any]:
    kinds: dict[Any, Any] = {"seedlings": "Int64", "cut_off": "boolean", "covered": bool}
    return kinds | dict.fromkeys(FIGURES, float)


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value


def emergence(frames: Sequence[UsedFrame], tray: Tray) -> list[int | None]:
    """For each plant in tray order the index of the frame from which on it has emerged; frames in which its pot is
    not there or hidden by a cover count neither way."""
    out: list[int | None] = []
    for k in range(len(tray.plants)):
        there = [i for i, f in enumerate(frames) if f.found.stood(k) is not None and not f.found.hidden(k)]
        least = [PRESENT_PX * frames[index].found.step ** 2 for index in there]
        present = [frames[index].found.plants[k].tissue_px >= px for index, px in zip(there, least, strict=True)]
        first = emerged_from(present, tray.judge.emerged_frames)
        out.append(None if first is None else there[first])
    return out


def settled_labels(png: bytes, not_up: Sequence[int]) -> bytes:
    """A label picture without the plants that have not emerged.

    Parameters
    ----------
    png
        Label picture as measured.
    not_up
        Their numbers, from 1 in tray order.
    """
    if not not_up:
        return png
    table = np.arange(256, dtype=np.uint8)
    table[list(not_up)] = 0
    return relabelled(png, table)


def _figures(seen: PlantFinding, plant: Plant, above: bool, mm: float | None, doubt: Doubt) -> dict[str, object]:
    """One row's figures from one finding."""
    nan = NAN
    out: dict[str, object] = dict.fromkeys(FIGURES, nan)
    out.update(seedlings=0, cut_off=False, canopy_px=0.0, canopy_mm2=nan if mm is None else 0.0)
    if mm is not None:
        out["canopy_sd_mm2"] = 0.0
    if seen.tissue_px <= 0:
        return out
    out.update(canopy_px=seen.tissue_px, seedlings=seen.seedlings, cut_off=seen.cut_off)
    out.update(leaf_l=_or_nan(seen.leaf_l), leaf_a=_or_nan(seen.leaf_a), leaf_b=_or_nan(seen.leaf_b))
    if mm is not None:
        area = seen.tissue_px * mm**2
        out.update(canopy_mm2=area, canopy_sd_mm2=canopy_sd_mm2(seen, mm, doubt.scale_sd, step=doubt.step))
        out["width_mm"] = nan if seen.width_px is None else seen.width_px * mm
    if above:
        return out
    out.update(
        height_px=nan if seen.height_px is None else seen.height_px,
        lean_deg=nan if seen.lean_deg is None else seen.lean_deg,
    )
    out.update(_leafiness(seen, plant, mm, doubt.step))
    if mm is not None and seen.height_px is not None:
        out["height_mm"] = seen.height_px * mm
        out["tips_mm"] = nan if seen.tips_px is None else seen.tips_px * mm
        if not seen.cut_off:
            sd = height_sd_mm(seen, mm, doubt.scale_sd, plant.soil_within_mm, doubt.widest_px, step=doubt.step)
            out.update(height_noise_mm=height_noise_mm(seen, mm, doubt.widest_px, step=doubt.step), height_sd_mm=sd)
    return out


def _leafiness(seen: PlantFinding, plant: Plant, mm: float | None, step: int) -> dict[str, float]:
    """Bare stem, leaf area and height-to-leaf; grass-like seedlings carry no such leaf, nor is it known of a habit yet
    to be told."""
    if plant.habit in ("grasslike", None) or seen.height_px is None:
        return {"leaf_mm2": float("nan") if mm is None else seen.tissue_px * mm**2}
    stem = seen.stem_px
    bare = 0.0 if stem is None else stem * (seen.stem_width_px or STEM_PX * step)
    leaf = max(seen.tissue_px - bare, LEAST_LEAF * seen.tissue_px)
    out = {"height_to_leaf": seen.height_px / sqrt(leaf) if leaf > 0 else float("nan")}
    if mm is not None:
        out["leaf_mm2"] = leaf * mm**2
        if stem is not None:
            out["stem_mm"] = stem * mm
    return out
