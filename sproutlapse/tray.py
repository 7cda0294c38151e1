"""What stands in view (`tray.toml`) as typed models, and every threshold that judges a plant.

Reading, writing and the messages about a faulty file stand in `trayfile.py`.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat

Habit = Literal["broadleaf", "rosette", "grasslike", "climber", "feathery"]
LampKind = Literal["tube", "panel", "other"]
Need = Literal["light", "dark", "cold", "soaking", "warmth"]
PositiveMm = Annotated[FiniteFloat, Field(gt=0, le=100_000)]
DepthMm = Annotated[FiniteFloat, Field(ge=-100_000, le=100_000)]
Box = tuple[FiniteFloat, FiniteFloat, FiniteFloat, FiniteFloat]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class View(_Part):
    """How the camera looks at the tray."""

    from_: Literal["side", "above"] | None = Field(default=None, alias="from")
    pixels_of: str | None = None
    camera_to_plants_mm: PositiveMm | None = None


class Scale(_Part):
    """How pixels become millimetres: a printed marker, or two points and the length between them."""

    marker_mm: PositiveMm | None = None
    behind_plants_mm: DepthMm = 0.0
    from_px: tuple[FiniteFloat, FiniteFloat] | None = None
    to_px: tuple[FiniteFloat, FiniteFloat] | None = None
    length_mm: PositiveMm | None = None


class Season(_Part):
    """Dates of the garden."""

    plant_out: date | None = None


class Lamp(_Part):
    """One lamp from `since` on; a later entry of the same name says that it was moved or changed."""

    name: str = Field(min_length=1)
    kind: LampKind | None = None
    above_soil_mm: PositiveMm | None = None
    keep_clear_mm: PositiveMm | None = None
    since: datetime | None = None


class Sowing(_Part):
    """What was sown; plants of one sowing are compared with each other."""

    name: str = Field(min_length=1)
    crop: str | None = None
    variety: str | None = None
    lot: str | None = None
    sown: datetime | None = None
    seeds_per_cell: Annotated[int, Field(ge=1, le=1000)] | None = None
    seedlings_per_seed: Annotated[int, Field(ge=1, le=20)] = 1
    packet_percent: Annotated[FiniteFloat, Field(gt=0, le=100)] | None = None
    soil_c: Annotated[FiniteFloat, Field(ge=-10, le=60)] | None = None
    under_light: bool | None = None
    needs: tuple[Need, ...] = ()


class Plant(_Part):
    """One pot or cell: its place in the picture and how it grows."""

    name: str = Field(min_length=1)
    box_px: Box
    soil_y_px: FiniteFloat | None = None
    behind_mm: DepthMm = 0.0
    habit: Habit = "broadleaf"
    sowing: str | None = None
    lamp: str | None = None
    place: str | None = None
    keep_per_cell: Annotated[int, Field(ge=1, le=1000)] = 1
    trim_at_mm: PositiveMm | None = None
    trim_to_mm: PositiveMm | None = None


class Judge(_Part):
    """Every threshold that judges a plant, by name; `[judge]` in tray.toml overrules any of them."""

    # Three usable frames in a row with tissue make a plant emerged: the contract of files in and out.
    emerged_frames: Annotated[int, Field(ge=1, le=100)] = 3
    # A verdict of legginess must hold this long and in this many frames, so that no passing leaf movement makes one.
    leggy_hours: Annotated[FiniteFloat, Field(ge=0)] = 12.0
    leggy_frames: Annotated[int, Field(ge=1)] = 3
    # Below this height the ratio is not judged: the contract of files in and out.
    leggy_from_mm: PositiveMm = 20.0


class Tray(_Part):
    """The whole of tray.toml. Every part is optional; what is missing is found in the pictures."""

    view: View = View()
    scale: Scale = Scale()
    season: Season = Season()
    lamps: tuple[Lamp, ...] = Field(default=(), alias="lamp")
    sowings: tuple[Sowing, ...] = Field(default=(), alias="sowing")
    plants: tuple[Plant, ...] = Field(default=(), alias="plant")
    judge: Judge = Judge()

    def sowing_of(self, plant: Plant) -> Sowing | None:
        """The sowing that a plant belongs to, or None."""
        return next((s for s in self.sowings if s.name == plant.sowing), None)

    def lamp_of(self, plant: Plant, when: datetime | None = None) -> Lamp | None:
        """The lamp above a plant as it stood at `when` (the last entry if not given), or None."""
        own = [lamp for lamp in self.lamps if lamp.name == plant.lamp]
        if when is not None:
            own = [lamp for lamp in own if lamp.since is None or _wall(lamp.since) <= _wall(when)]
        return max(own, key=lambda lamp: _wall(lamp.since) if lamp.since else datetime.min, default=None)


def _wall(when: datetime) -> datetime:
    return when.replace(tzinfo=None)
