"""What a season needs to know of one tray: taken from its results, kept in its store, so that a tray without anything
new costs nothing the next time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from pydantic import TypeAdapter

from sproutlapse.figures import amount
from sproutlapse.report.facts import (
    Measure,
    curve_of,
    enough_to_tell,
    from_above,
    measure_of,
    plant_names,
    used_frames,
)
from sproutlapse.report.told_sowings import days_told
from sproutlapse.report.words import as_float, counted, missing, moment, rounded
from sproutlapse.results import CareItem, Results
from sproutlapse.tray import Sowing

Cell = str | int | float | bool | None


@dataclass(frozen=True)
class SowingSeen:
    """One sowing of one tray in words.

    Attributes
    ----------
    name, crop
        As the tray names them.
    up
        How many came up, and between which shares such seed may lie.
    days
        Days from sowing until half of those that came up were up.
    size
        How tall the middle plant stands (from above: how large its leaf cover is) with its give or take, and from
        where to where all stand.
    age
        The day after sowing on which that was.
    """

    name: str
    crop: str
    up: str
    days: str
    size: str
    age: str


@dataclass(frozen=True)
class TrayTold:
    """One tray as it stands after its last photo; times as the tables write them.

    Attributes
    ----------
    photos, used
        Files with a picture's ending, and how many of them were measured.
    last
        Time of the last measured photo, empty without one.
    places, up
        Pots or cells, and how many with a plant; `up` None while that cannot be told.
    above
        Whether it is seen from above, where no stretching is judged.
    leggy, stretching
        Plants of these grades.
    trim, near_lamp
        Plants that are to be cut back, and lamps with what stands too near, each as far as not said to be done.
    care
        All that is to do.
    sowings
        In words.
    columns, rows
        Of sowings.csv; None where a cell holds nothing.
    """

    photos: int
    used: int
    last: str
    places: int
    up: int | None
    above: bool
    leggy: tuple[str, ...]
    stretching: tuple[str, ...]
    trim: tuple[str, ...]
    near_lamp: tuple[str, ...]
    care: tuple[CareItem, ...]
    sowings: tuple[SowingSeen, ...]
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]


_KEPT = TypeAdapter(TrayTold)


def to_values(told: TrayTold) -> dict[str, Any]:
    """Plain values for the store."""
    values: dict[str, Any] = _KEPT.dump_python(told, mode="json")
    return values


def from_values(values: object) -> TrayTold:
    """What `to_values` gave.

    Raises
    ------
    ValueError
        If another version wrote it.
    """
    return _KEPT.validate_python(values)


def tray_told(results: Results) -> TrayTold:
    """What a season needs to know of one tray."""
    used, names = used_frames(results), plant_names(results)
    plants, known = results.plants, enough_to_tell(results)
    up = sum(not missing(cell) for cell in plants["emerged_by"])
    leggy = [n for n, row in _rows(plants) if row["grade"] == "leggy" or str(row["leggy"]).lower() == "true"]
    return TrayTold(
        photos=len(results.frames),
        used=len(used),
        last=used[-1].time if used else "",
        places=len(names),
        up=up if known else None,
        above=from_above(results),
        leggy=tuple(leggy),
        stretching=tuple(n for n, row in _rows(plants) if row["grade"] == "stretching" and n not in leggy),
        trim=tuple(dict.fromkeys(n for item in results.care if _kind(item) == "trim" for n in item.plants)),
        near_lamp=tuple(
            f"{', '.join(item.plants)} below “{item.key.partition(':')[2]}”"
            for item in results.care
            if _kind(item) == "lamp"
        ),
        care=results.care,
        sowings=tuple(_seen(row, results) for row in _cells(results.sowings)),
        columns=tuple(str(name) for name in results.sowings.columns),
        rows=tuple(tuple(row.values()) for row in _cells(results.sowings)),
    )


def _rows(plants: pd.DataFrame) -> list[tuple[str, pd.Series]]:
    return [(str(row["plant"]), row) for _, row in plants.iterrows()]


def _kind(item: CareItem) -> str:
    return item.key.partition(":")[0]


def _cells(table: pd.DataFrame) -> list[dict[str, Cell]]:
    """Rows of a table as plain values; None where a cell holds nothing."""
    return [{str(name): _cell(value) for name, value in row.items()} for row in table.to_dict("records")]


def _cell(value: Any) -> Cell:
    if missing(value) or (isinstance(value, float) and not np.isfinite(value)):
        return None
    plain = value.item() if isinstance(value, np.generic) else value
    return plain if isinstance(plain, str | int | float | bool) else str(plain)


def _seen(row: dict[str, Cell], results: Results) -> SowingSeen:
    name = str(row["sowing"])
    sowing = next((s for s in results.tray.sowings if s.name == name), Sowing(name=name))
    size, age = _size(sowing, results)
    return SowingSeen(name, str(row["crop"] or ""), _up(row, results), _days(row), size, age)


def _up(row: dict[str, Cell], results: Results) -> str:
    """`3 of 4 pots, 75 %; may be 19 to 99 %`."""
    if not enough_to_tell(results):
        return "not known yet"
    seeds = as_float(row["seeds"])
    of = int(as_float(row["plants"]) or 0) if seeds is None else int(seeds)
    if not of:
        return "none in view"
    unit = "seed" if seeds is not None else ("cell" if from_above(results) else "pot")
    share, low, high = (as_float(row.get(key)) for key in ("emerged_share", "share_low", "share_high"))
    said = f"{row['emerged']} of {counted(of, unit)}"
    if share is None:
        return said
    said += f", {rounded(100 * share, 0)} %"
    return (
        said if low is None or high is None else f"{said}; may be {rounded(100 * low, 0)} to {rounded(100 * high, 0)} %"
    )


def _days(row: dict[str, Cell]) -> str:
    """Days to the middle one of those that came up, as far as the gap between two photos tells."""
    low, high = (as_float(row.get(key)) for key in ("median_after_days", "median_by_days"))
    if low is not None and high is not None:
        return days_told(low, high)
    days = as_float(row["median_days"])
    return "" if days is None else f"{rounded(days, 1)} days"


def _size(sowing: Sowing, results: Results) -> tuple[str, str]:
    """The middle plant's last figure, from where to where all stand, and on which day after sowing."""
    measure = measure_of(results)
    own = [plant.name for plant in results.tray.plants if plant.sowing == sowing.name]
    curves = [curve for name in own if (curve := curve_of(results, name, measure)).days.size]
    if not curves:
        return "", ""
    whole = sorted((float(c.value[-1]), float(c.sd[-1]), bool(c.at_least[-1])) for c in curves)
    said = _middle(whole, measure)
    if len(whole) > 1:
        low, high = (rounded(whole[k][0], 0) for k in (0, -1))
        said += f"; all from {low} to {'at least ' if whole[-1][2] else ''}{high}"
    last = used_frames(results)[-1].time
    if sowing.sown is None:
        return said, ""
    age = (moment(last) - sowing.sown.replace(tzinfo=None)).total_seconds() / 86400
    return said, f"day {rounded(age, 0)}"


def _middle(whole: list[tuple[float, float, bool]], measure: Measure) -> str:
    """The middle figure; of two their mean, as unsure as the less sure of them, for much of that is shared."""
    middle = whole[(len(whole) - 1) // 2 : len(whole) // 2 + 1]
    value, sd = float(np.mean([one[0] for one in middle])), max(one[1] for one in middle)
    return ("at least " if any(one[2] for one in middle) else "") + amount(value, measure.unit, sd)
