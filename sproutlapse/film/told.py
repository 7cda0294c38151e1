"""What a film can tell besides its pictures: how tall each plant is when, and what happened. Tables in, lists out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sproutlapse.errors import ResultsError
from sproutlapse.figures import amount
from sproutlapse.film.options import Note
from sproutlapse.film.words import in_words, told_of
from sproutlapse.tray import Plant, Tray

Floats = NDArray[np.float64]

CM2 = 100.0  # mm2


@dataclass(frozen=True)
class Told:
    """One tray's tables as they are: `measurements`, `events` and `plants` have the columns of their files.

    `name` is what a picture of this tray is called beside another one. `scale` is mm per pixel of each plant in the
    first view, on whose pixels the film lays every photo, also those of a camera that was set up anew; without it the
    tables' heights tell it, which is right while there is one view.
    """

    name: str
    tray: Tray
    measurements: pd.DataFrame
    events: pd.DataFrame
    plants: pd.DataFrame
    scale: Mapping[str, float | None] = field(default_factory=dict)

    @property
    def from_above(self) -> bool:
        """Whether the camera looks down, so that there are no heights."""
        return self.tray.view.from_ == "above"


@dataclass(frozen=True)
class Course:
    """One plant's figures over time: `hours` as in the tables, `value` and `sd` in the unit of `unit_of`."""

    plant: str
    number: int
    hours: Floats
    value: Floats
    sd: Floats


@dataclass(frozen=True)
class Happening:
    """Something to tell at a time, hours as in the tables."""

    hours: float
    text: str


def plant_named(told: Told, name: str) -> tuple[int, Plant]:
    """A plant and its number in tray order, from 0.

    Raises
    ------
    ResultsError
        If there is none of that name; those there are are named.
    """
    for number, plant in enumerate(told.tray.plants):
        if plant.name == name:
            return number, plant
    there = ", ".join(plant.name for plant in told.tray.plants) or "none"
    raise ResultsError(f'there is no plant "{name}"', where=told.name, remedy=f"choose one of: {there}")


def unit_of(told: Told) -> str:
    """The unit of the growth curve: heights in mm, canopy in cm² from above, pixels without a scale."""
    column, _divide = _column(told)
    return {"height_mm": "mm", "canopy_mm2": "cm²", "height_px": "pixels", "canopy_px": "pixels"}[column]


def _column(told: Told) -> tuple[str, float]:
    table = told.measurements
    names = ("canopy_mm2", "canopy_px") if told.from_above else ("height_mm", "height_px")
    scaled = table[names[0]].notna().any()
    return (names[0] if scaled else names[1]), (CM2 if scaled and told.from_above else 1.0)


def courses(told: Told) -> list[Course]:
    """Each plant's height (from above: canopy) over time, in tray order, from its emergence on."""
    column, divide = _column(told)
    table = told.measurements
    sd = column.replace("_mm2", "_sd_mm2").replace("height_mm", "height_sd_mm")
    made = []
    for number, plant in enumerate(told.tray.plants):
        own = table[table["plant"] == plant.name]
        value = own[column].to_numpy(dtype=np.float64) / divide
        known = np.isfinite(value) & (value > 0)
        hours = own["elapsed_h"].to_numpy(dtype=np.float64)
        doubt = own[sd].to_numpy(dtype=np.float64) / divide if sd != column else np.full(len(own), np.nan)
        made.append(Course(plant.name, number, hours[known], value[known], doubt[known]))
    return made


def at(hours: Floats, values: Floats, now: float) -> float:
    """The value at a time, straight from one measurement to the next; NaN before the first and without any."""
    if not hours.size or now < hours[0] - 1e-6:
        return float("nan")
    return float(np.interp(now, hours, values))


def mm_per_px(told: Told, plant: str | None = None) -> float | None:
    """Millimetres per pixel of the first view at the plants' depth (or this plant's); None if not known."""
    given = [mm for name, mm in told.scale.items() if mm is not None and plant in {None, name}]
    if given:
        return float(np.median(given))
    table = told.measurements if plant is None else told.measurements[told.measurements["plant"] == plant]
    mm, px = ("canopy_mm2", "canopy_px") if told.from_above else ("height_mm", "height_px")
    known = (table[mm] > 0) & (table[px] > 0)
    if not known.any():
        return None if plant is None else mm_per_px(told)
    ratio = float(np.median(table.loc[known, mm] / table.loc[known, px]))
    return float(np.sqrt(ratio)) if told.from_above else ratio


def unscaled(told: Told) -> bool:
    """Whether plants were measured, but in pixels only, for want of a scale."""
    return unit_of(told) == "pixels" and measured(told)


def measured(told: Told) -> bool:
    """Whether there is anything to draw a growth curve of."""
    column, _divide = _column(told)
    return bool((told.measurements[column] > 0).any())


def emerged_h(told: Told, plant: str | None = None) -> float | None:
    """When the first plant (or this one) was up, hours as in the tables; None if none is.

    A plant that stood in the first photo has no event of coming up: it was up by that photo.
    """
    found = [hour for time in _ups(told, plant)["emerged_by"] if (hour := _hours_of(told, str(time))) is not None]
    return min(found, default=None)


def stood_already(told: Told, plant: str | None = None) -> list[str]:
    """Those of the plants (or this one) that were up in the first photo that tells of them: their age is not known."""
    ups = _ups(told, plant)
    return [str(name) for name in ups.loc[~_filled(ups["emerged_after"]), "plant"]]


def _ups(told: Told, plant: str | None) -> pd.DataFrame:
    """The rows of plants.csv of those that are up."""
    table = told.plants
    up = _filled(table["emerged_by"])
    return table[up if plant is None else up & (table["plant"] == plant)]


def _filled(cells: pd.Series[str]) -> pd.Series[bool]:
    return cells.notna() & (cells.astype(str) != "")


def _hours_of(told: Told, time: str) -> float | None:
    """Hours of a frame time; of another time by the clock of the first frame."""
    table = told.measurements
    same = table.loc[table["time"] == time, "elapsed_h"]
    if len(same):
        return float(same.iloc[0])
    if not len(table):
        return None
    first = datetime.fromisoformat(str(table["time"].iloc[0])).replace(tzinfo=None)
    when = datetime.fromisoformat(time).replace(tzinfo=None)
    return float(table["elapsed_h"].iloc[0]) + (when - first).total_seconds() / 3600


def happenings(told: Told, notes: Sequence[Note] = (), plant: str | None = None) -> list[Happening]:
    """What happened in time order, in a grower's words; several of one kind at one time are told together.

    Parameters
    ----------
    notes
        The grower's own notes.
    plant
        Only what concerns this plant or the whole tray.
    """
    grouped: dict[tuple[float, str], list[str]] = {}
    columns = (told.events[name] for name in ("time", "plant", "event", "detail"))
    for time, who, event, detail in zip(*columns, strict=True):
        name = str(who) if isinstance(who, str) else ""
        if plant is not None and name not in {"", plant}:
            continue
        hours = _hours_of(told, str(time))
        if hours is not None:
            name, entry = told_of(name, str(event), str(detail))
            grouped.setdefault((hours, entry), []).append(name)
    made = [Happening(hours, in_words(names, entry)) for (hours, entry), names in grouped.items()]
    for note in notes:
        hours = _hours_of(told, note.when.isoformat())
        if hours is not None:
            made.append(Happening(hours, note.text))
    return sorted(made, key=lambda one: one.hours)


def ending(told: Told, days: float, until_h: float) -> list[str]:
    """The end card's lines, as it stood `until_h`: how long, how many came up, the tallest plant, its give or take."""
    lines = [f"{days:.0f} days" if days >= 2 else f"{24 * days:.0f} hours"]
    ups = [emerged_h(told, plant.name) for plant in told.tray.plants]
    lines.append(f"{sum(up is not None and up <= until_h for up in ups)} of {len(ups)} came up")
    last = []
    for course in courses(told):
        seen = np.flatnonzero(course.hours <= until_h + 1e-6)
        if seen.size:
            last.append((course.value[seen[-1]], course.sd[seen[-1]], course.plant))
    if last:
        value, sd, plant = max(last)
        most = "largest" if told.from_above else "tallest"
        lines.append(f"{most}: {plant}, {amount(value, unit_of(told), sd)}")
    return lines
