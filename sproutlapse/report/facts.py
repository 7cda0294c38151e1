"""What the tables say, in order for page and charts: what is measured, who belongs together, how each plant stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sproutlapse.figures import GIVE_OR_TAKE
from sproutlapse.growth.kinds import NO_JUDGEMENT
from sproutlapse.growth.unseen import unseen_since
from sproutlapse.report.words import amount, as_float, between, clock, day, missing, moment
from sproutlapse.results import FrameRecord, Results

SAYS_NOTHING_MM = 5.0  # a day: growth that is less sure than this, and than itself, is not told
LINES_PER_PANEL = 6  # as many lines as there are colours, dashes and markers to tell apart
PANELS = 6
POINTS_PER_LINE = 240  # more cannot be seen in a chart of 4.6 inches


@dataclass(frozen=True)
class Measure:
    """The figure that stands for growth: height from the side, leaf cover from above; in pixels without a scale."""

    column: str
    sd_column: str | None
    factor: float  # from the column's unit to `unit`
    unit: str
    name: str


@dataclass(frozen=True)
class Curve:
    """One plant's figures in time order: days since the first usable photo, value and its uncertainty."""

    plant: str
    days: NDArray[np.float64]
    value: NDArray[np.float64]
    sd: NDArray[np.float64]
    at_least: NDArray[np.bool_]


@dataclass(frozen=True)
class Group:
    """Plants that share a chart."""

    title: str
    plants: tuple[str, ...]


@dataclass(frozen=True)
class PlantNow:
    """One row of the page's table of plants, ready to be read."""

    name: str
    sowing: str
    up: str
    now: str
    growth: str
    verdict: str
    tone: str  # good | watch | act | quiet


def used_frames(results: Results) -> list[FrameRecord]:
    """The measured photos in time order."""
    return [frame for frame in results.frames if frame.used]


def start_of(results: Results) -> datetime | None:
    """Wall clock of the first usable photo."""
    used = used_frames(results)
    return moment(used[0].time) - timedelta(hours=used[0].elapsed_h) if used else None


def from_above(results: Results) -> bool:
    """Whether the camera looks down on the tray; where the tray does not say, heights tell."""
    if results.tray.view.from_ is not None:
        return results.tray.view.from_ == "above"
    table = results.measurements
    return bool(table["canopy_px"].gt(0).any() and not table["height_px"].notna().any())


def has_scale(results: Results) -> bool:
    """Whether any figure is known in mm."""
    return bool(results.measurements[["height_mm", "canopy_mm2"]].notna().any(axis=None))


def measure_of(results: Results) -> Measure:
    """The figure that stands for growth in these photos."""
    scale = has_scale(results)
    if from_above(results):
        if scale:
            return Measure("canopy_mm2", "canopy_sd_mm2", 0.01, "cm²", "leaf cover seen from above")
        return Measure("canopy_px", None, 1.0, "pixels", "leaf cover seen from above")
    if scale:
        return Measure("height_mm", "height_sd_mm", 1.0, "mm", "height above the soil")
    return Measure("height_px", None, 1.0, "pixels", "height above the soil")


def plant_names(results: Results) -> list[str]:
    """All plants in tray order, those that never came up included."""
    if results.tray.plants:
        return [plant.name for plant in results.tray.plants]
    return [str(name) for name in results.plants["plant"]]


def curve_of(results: Results, plant: str, measure: Measure) -> Curve:
    """A plant's figures from its emergence on, thinned to what a chart can show; the last one is always kept."""
    table = results.measurements
    own = table[(table["plant"] == plant) & table[measure.column].notna() & (table["canopy_px"] > 0)]
    own = own.sort_values("elapsed_h", kind="stable")
    step = max(1, -(-len(own) // POINTS_PER_LINE))
    keep = np.arange(len(own) - 1, -1, -step)[::-1]
    own = own.iloc[keep]
    sd = own[measure.sd_column] if measure.sd_column else pd.Series(np.nan, index=own.index)
    return Curve(
        plant,
        own["elapsed_h"].to_numpy(float) / 24,
        own[measure.column].to_numpy(float) * measure.factor,
        np.asarray(sd, dtype=np.float64) * measure.factor,
        own["cut_off"].fillna(False).to_numpy(bool),
    )


def groups_of(results: Results, names: list[str]) -> list[Group]:
    """Plants by sowing, in tray order; where there are many small sowings, several share a chart."""
    by_sowing: dict[str, list[str]] = {}
    sowing = {plant.name: plant.sowing or "" for plant in results.tray.plants}
    for name in names:
        by_sowing.setdefault(sowing.get(name, ""), []).append(name)
    if set(by_sowing) <= {""}:
        return [Group("All plants", tuple(names))] if names else []
    groups = [Group(title or "No sowing named", tuple(own)) for title, own in by_sowing.items()]
    return groups if len(groups) <= PANELS else _shared(groups)


def _shared(groups: list[Group]) -> list[Group]:
    packed: list[list[Group]] = []
    for group in groups:
        room = LINES_PER_PANEL - sum(len(g.plants) for g in packed[-1]) if packed else 0
        if len(group.plants) <= room:
            packed[-1].append(group)
        else:
            packed.append([group])
    return [Group(", ".join(g.title for g in pack), tuple(p for g in pack for p in g.plants)) for pack in packed]


def plants_now(results: Results) -> list[PlantNow]:
    """The table of plants for the page, in tray order."""
    measure = measure_of(results)
    return [plant_now(results, row, measure) for _, row in results.plants.iterrows()]


def latest(results: Results, plant: str, measure: Measure) -> str:
    """The last figure of a plant with its unit and uncertainty; "at least" where it leaves the picture."""
    curve = curve_of(results, plant, measure)
    if not curve.days.size:
        return ""
    if curve.at_least[-1]:
        return "at least " + amount(float(curve.value[-1]), measure.unit)
    return amount(float(curve.value[-1]), measure.unit, as_float(curve.sd[-1]))


def plant_now(results: Results, row: pd.Series, measure: Measure) -> PlantNow:
    """One row of that table."""
    verdict, tone = _verdict(row, above=from_above(results))
    return PlantNow(
        name=str(row["plant"]),
        sowing="" if missing(row["sowing"]) else str(row["sowing"]),
        up=up_since(row, results),
        now=latest(results, str(row["plant"]), measure) + _last_seen(results, str(row["plant"])),
        growth=_growth(row, measure, results),
        verdict=verdict,
        tone=tone,
    )


def _last_seen(results: Results, plant: str) -> str:
    """When a plant was last measured, where that is days ago."""
    own = results.measurements[results.measurements["plant"] == plant].sort_values("elapsed_h", kind="stable")
    row = unseen_since(own["canopy_px"].to_numpy(float), own["elapsed_h"].to_numpy(float))
    return "" if row is None else f", last seen on {day(moment(str(own['time'].iloc[row])))}"


def enough_to_tell(results: Results) -> bool:
    """Whether there are usable photos enough to say of any plant that it is or is not up."""
    return sum(frame.used for frame in results.frames) >= results.tray.judge.emerged_frames


def no_hour_because(row: pd.Series, results: Results) -> Literal["first photo", "cover", "away"]:
    """Why it is not known since when a plant was up: there in the first photo, hidden by a cover, or not in view."""
    by, used = str(row["emerged_by"]), used_frames(results)
    if used and by == used[0].time:
        return "first photo"
    own = results.measurements[results.measurements["plant"] == row["plant"]].sort_values("elapsed_h", kind="stable")
    before = own[(own["time"] == by).cumsum() == 0]
    return "cover" if "covered" in before and before["covered"].fillna(False).astype(bool).any() else "away"


def up_since(row: pd.Series, results: Results) -> str:
    """When a plant came up, as far as the photos tell."""
    if missing(row["emerged_by"]):
        return "not up yet" if enough_to_tell(results) else "not known yet"
    if missing(row["emerged_after"]):
        by = clock(str(row["emerged_by"]))
        return {
            "first photo": f"before the first photo ({by})",
            "cover": f"by {by}, with the cover off",
            "away": f"by {by}, when it was first in view",
        }[no_hour_because(row, results)]
    return between(str(row["emerged_after"]), str(row["emerged_by"]))


def _growth(row: pd.Series, measure: Measure, results: Results) -> str:
    per_day = as_float(row["growth_mm_per_day"])
    if measure.column == "height_mm" and per_day is not None:
        sd = as_float(row.get("growth_sd_mm_per_day"))
        if sd is not None and GIVE_OR_TAKE * sd > max(abs(per_day), SAYS_NOTHING_MM):
            return "not known yet: too few photos"
        said = amount(per_day, "mm a day", sd, places=1)
        return f"{'+' if per_day > 0.05 else ''}{said}{_period(row, results)}"
    share = as_float(row["rgr_per_day"])
    if measure.column.startswith("canopy") and share is not None:
        said = amount(100 * float(np.expm1(share)), "% a day", places=0)
        return f"{'+' if share > 0 else ''}{said}{_period(row, results)}"
    return ""


def _period(row: pd.Series, results: Results) -> str:
    """The span over which growth was read, as it is named beside the figure."""
    since = row.get("growth_since")
    if missing(since):
        return ""
    if str(since) in cut_times(results, str(row["plant"])):
        return f", since the cut on {clock(str(since))}"
    return f", since {clock(str(since))}"


def cut_times(results: Results, plant: str) -> list[str]:
    """When a plant was cut back, as the tables write times."""
    events = results.events
    own = events[(events["plant"] == plant) & (events["event"] == "trimmed")]
    return [str(time) for time in own["time"]]


def unlike_spans(results: Results) -> list[str]:
    """Plants whose growth is that since a cut, where others' is not: their figures are not to be compared."""
    names = [p.name for p in plants_now(results) if p.growth]
    cut = [p.name for p in plants_now(results) if ", since the cut on" in p.growth]
    return cut if 0 < len(cut) < len(names) else []


def _verdict(row: pd.Series, *, above: bool) -> tuple[str, str]:
    if missing(row["emerged_by"]):
        return "nothing to judge yet", "quiet"
    grade = "" if missing(row["grade"]) else str(row["grade"])
    if grade == "leggy" or str(row["leggy"]).lower() == "true":
        since = "" if missing(row["leggy_since"]) else f" since {clock(str(row['leggy_since']))}"
        return f"leggy{since}", "act"
    if grade == "stretching":
        return "stretching", "watch"
    if grade == "sturdy":
        return "sturdy", "good"
    return _unjudged(row, above=above), "quiet"


def _unjudged(row: pd.Series, *, above: bool) -> str:
    """Why no verdict stands there; from above no kind is ever judged."""
    if row["habit"] == "grasslike":
        trims = int(as_float(row["trims"]) or 0)
        cut = f", cut back {'once' if trims == 1 else f'{trims} times'}" if trims else ""
        return f"blades: not judged for stretching{cut}"
    if str(row.get("grade_why", "")).startswith(NO_JUDGEMENT):
        return str(row["grade_why"])
    waits = missing(row["habit"]) or (row["habit"] in ("broadleaf", "rosette") and not above)
    return "too little shows yet to judge" if waits else "not judged"
