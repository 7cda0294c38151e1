"""From a light meter's reading to the light that plants get in a day.

A meter in lux weighs light as eyes see it; plants count photons of 400 to 700 nm (PPFD, in micromol per square metre
and second). A day's sum (DLI) is in mol per square metre.
"""

from __future__ import annotations

from dataclasses import dataclass

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
