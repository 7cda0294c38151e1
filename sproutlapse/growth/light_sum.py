"""From a light meter's reading to the light that plants get in a day.

A meter in lux weighs light as eyes see it; plants count photons of 400 to 700 nm (PPFD, in micromol per square metre
and second). A day's sum (DLI) is in mol per square metre.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sproutlapse.growth.light_hours import LightDay
from sproutlapse.tray import Tray

# lux per micromol/m2/s by source of light: handbook 2.5 (Thimijan & Heins 1983; a second data set lies 2 to 6 % away).
LUX_PER_UMOL = {
    "sun": 54.0,
    "blue sky": 52.0,
    "cool white tube": 74.0,
    "high-pressure sodium": 82.0,
    "metal halide": 71.0,
    "incandescent": 50.0,
}
# White LEDs have no published single value: 60 to 75 is typical (handbook 2.5, from memory).
LUX_PER_UMOL_LED = (60.0, 75.0)
SECONDS_PER_HOUR = 3600.0
UMOL_PER_MOL = 1e6
# One reading at one place by a meter of a few per cent: the light under a lamp falls off to its ends. Own proposal.
READING_SHARE = 0.2


@dataclass(frozen=True)
class Band:
    """Least and most that a figure may be."""

    least: float
    most: float


def umol_from_lux(lux: float, source: str) -> float:
    """PPFD in micromol/m2/s of `lux` of a source of `LUX_PER_UMOL`."""
    return lux / LUX_PER_UMOL[source]


def ppfd_band(lux: float, kind: str | None) -> Band:
    """PPFD in micromol/m2/s that a reading in lux may mean under a lamp of this kind (`tube`, `panel`, else any)."""
    low, high = {
        "tube": (0.98 * LUX_PER_UMOL["cool white tube"], 1.065 * LUX_PER_UMOL["cool white tube"]),
        "panel": LUX_PER_UMOL_LED,
    }.get(kind or "", (min(LUX_PER_UMOL.values()), max(LUX_PER_UMOL.values())))
    return Band(lux / high, lux / low)


def daily_light_mol(ppfd_umol: float, hours: float) -> float:
    """Daily light in mol/m2 of so many hours under a PPFD in micromol/m2/s."""
    return ppfd_umol * hours * SECONDS_PER_HOUR / UMOL_PER_MOL


def daily_light_band(ppfd: Band, hours: Band) -> Band:
    """Daily light in mol/m2 that a reading and hours of light allow, the reading's own doubt included."""
    return Band(
        daily_light_mol(ppfd.least * (1 - READING_SHARE), hours.least),
        daily_light_mol(ppfd.most * (1 + READING_SHARE), hours.most),
    )


def daily_light(days: Sequence[LightDay], tray: Tray) -> list[Band | None]:
    """Daily light in mol/m2 of each day, as a band; None where it cannot be known.

    It takes one lamp with a reading in lux, and photos that tell the light of the day and of the day of the reading
    (the lamp's `since`, else the first day), so that a dimmed or ageing lamp is followed.

    Parameters
    ----------
    days
        See `light_hours.light_days`.
    tray
        With the lamps.
    """
    lamps = [lamp for lamp in tray.lamps if lamp.lux is not None]
    # A lamp that was moved reads otherwise since then, and the board behind the plants need not show it.
    if len(lamps) != 1 or len(tray.lamps) != 1:
        return [None] * len(days)
    lamp = lamps[0]
    read: date | None = lamp.since.date() if lamp.since is not None else next((d.day for d in days), None)
    then = next((day.relative for day in days if day.day == read), None)
    ppfd = ppfd_band(lamp.lux or 0.0, lamp.kind)
    bands: list[Band | None] = []
    for day in days:
        if not then or not day.relative or not day.told:
            bands.append(None)
            continue
        share = day.relative / then
        bands.append(daily_light_band(Band(ppfd.least * share, ppfd.most * share), Band(day.least_h, day.most_h)))
    return bands


def daily_light_in_words(bands: Sequence[Band | None]) -> str:
    """The usual day's light as a sentence; empty where no day's is known."""
    known = [band for band in bands if band is not None]
    if not known:
        return ""
    middle = sorted(known, key=lambda band: band.least + band.most)[len(known) // 2]
    return (
        f"By the light meter's reading a day brings roughly {middle.least:.0f} to {middle.most:.0f} mol of light for "
        "plants per square metre."
    )
