"""What a comparison is made of: each pot or cell of each tray with what was sown in it, where it stands, when its units
came up, and how it grew by age. Tables in, no pictures, no files.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np
import pandas as pd

from sproutlapse.crops import crop_name, overdue_after_days
from sproutlapse.growth.emergence import Emergence
from sproutlapse.growth.judge import Story, stories
from sproutlapse.growth.sowing_times import times_of
from sproutlapse.growth.sown_units import units_sown, units_up
from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.tray import Sowing, Tray

By = Literal["sowing", "crop", "variety", "lot", "lamp", "place", "tray"]
# What is compared of a plant's size, as columns: height, leaf cover, and height over the root of the leaf area.
Size = Literal["height", "canopy", "height_to_leaf"]
SIZES: tuple[Size, ...] = ("height", "canopy", "height_to_leaf")

HALF_DAY = 0.5  # sizes are read over a day around an age, so that the daily movement of leaves does not decide
FEW_ROWS = 3
NO_SOWING = "no sowing named"
LEAST_AGE_DAYS = 1.0
# A plant younger than this share of the middle age does not take the others back to it. As in `standing.py`.
OLD_ENOUGH = 2 / 3
# A place last seen so long before the last day tells nothing of what came up by then.
LOST_DAYS = 1.0


@dataclass(frozen=True)
class SeenTray:
    """One tray as measured: its name, what stands in it, its table, and the standard deviation of its scale."""

    name: str
    tray: Tray
    measurements: pd.DataFrame
    scale_sd: float = 0.0


@dataclass(frozen=True)
class Grew:
    """A plant's size by age: days since it came up and the figure, up to its first cut or fall."""

    days: Floats
    value: Floats


@dataclass(frozen=True)
class Pot:
    """One pot or cell.

    Attributes
    ----------
    tray, plant, lamp, place
        Names; empty where nobody gave one.
    sowing
        What was sown in it.
    x, y
        The middle of its place in the picture, in pixels; `y` 0 from the side, where one row is seen.
    after, by
        (n,) days after sowing (after the first photo where no day of sowing is known) between which each unit came up;
        `by` infinite for one that had not when its place was last seen, at `after`.
    dated
        Whether it is known of each unit that came up since when it was up.
    watched
        Days after sowing up to which its tray was photographed.
    late_from
        Days after sowing from which on what is not up is overdue; None where no table knows the crop.
    grew
        Its sizes by age; none for a plant of which it is not known when it came up.
    in_mm, scale_sd
        Whether sizes are in mm, and the standard deviation of its tray's scale as a share.
    above
        Whether its tray is seen from above.
    """

    tray: str
    plant: str
    sowing: Sowing
    lamp: str
    place: str
    x: float
    y: float
    after: Floats
    by: Floats
    dated: bool
    watched: float
    late_from: float | None
    grew: dict[Size, Grew]
    in_mm: bool
    scale_sd: float
    above: bool

    @property
    def per_seed(self) -> bool:
        """Whether seeds are counted; else the pot."""
        return self.sowing.seeds_per_cell is not None

    @property
    def crowd(self) -> bool:
        """Whether several seeds share it, so that its leaves are those of several plants."""
        return (self.sowing.seeds_per_cell or 1) * self.sowing.seedlings_per_seed > 1

    def group(self, by: By) -> str:
        """Its group's name, empty where nobody gave it one; one crop is one group however it was written."""
        if by == "crop":
            return crop_name(self.sowing.crop) or " ".join((self.sowing.crop or "").casefold().split())
        if by in ("sowing", "variety", "lot"):
            value = getattr(self.sowing, "name" if by == "sowing" else by)
            return "" if value == NO_SOWING else str(value or "").strip()
        return {"lamp": self.lamp, "place": self.place, "tray": self.tray}[by]

    def up_by(self, days: float) -> int:
        """How many units had come up so many days after sowing."""
        return int((self.by <= days).sum())

    @property
    def lost_at(self) -> float:
        """Days after sowing when its place was last seen, if that was before something was up; infinite if all were."""
        return min((float(last) for last in self.after[~np.isfinite(self.by)]), default=math.inf)


@dataclass(frozen=True)
class Counted:
    """Up to which day some pots are counted.

    Attributes
    ----------
    days
        Days after sowing: the last on which all were photographed, or the day after which some were gone that had not
        come up. Later counts would keep those that were up, and not those.
    gone
        Pots gone before anything came up at all, so that nobody could choose by it: these are left out.
    taken
        How many others were gone before the last photos, not up, for which the count ends sooner.
    """

    days: float
    gone: tuple[Pot, ...] = ()
    taken: int = 0

    def has(self, pot: Pot) -> bool:
        """Whether a pot is counted."""
        return not any(pot is one for one in self.gone)


def counted_until(pots: Sequence[Pot]) -> Counted:
    """Up to which day these can be counted, so that those taken away make no difference."""
    days = min((p.watched for p in pots), default=math.nan)
    lost = [p for p in pots if p.lost_at < days - LOST_DAYS]
    first = min((float(by) for p in pots for by in p.by), default=math.inf)
    gone = tuple(p for p in lost if p.lost_at < first)
    taken = [p.lost_at for p in lost if p.lost_at >= first]
    return Counted(min([days, *taken]), gone, len(taken))


def pots_of(seen: SeenTray) -> list[Pot]:
    """All pots of a tray in its order, those without a sowing too; pots without a row are left out."""
    return [pot for s in stories(seen.measurements, seen.tray) if (pot := _pot(s, seen)) is not None]


def _pot(story: Story, seen: SeenTray) -> Pot | None:
    plant, track = story.track.settings, story.track
    if plant is None or not np.isfinite(track.canopy).any():
        return None
    sowing = seen.tray.sowing_of(plant) or Sowing(name=plant.sowing or NO_SOWING)
    after, by, dated, watched = _times(track, story.up, sowing, seen)
    return Pot(
        tray=seen.name,
        plant=plant.name,
        sowing=sowing,
        lamp=plant.lamp or "",
        place=(plant.place or "").strip(),
        x=(plant.box_px[0] + plant.box_px[2]) / 2,
        y=(plant.box_px[1] + plant.box_px[3]) / 2 if seen.tray.view.from_ == "above" else 0.0,
        after=after,
        by=by,
        dated=dated,
        watched=watched,
        late_from=overdue_after_days(sowing.crop, sowing.soil_c, times=seen.tray.judge.overdue_times),
        grew=_grew(story),
        in_mm=track.in_mm,
        scale_sd=seen.scale_sd,
        above=seen.tray.view.from_ == "above",
    )


def _times(track: Track, up: Emergence | None, sowing: Sowing, seen: SeenTray) -> tuple[Floats, Floats, bool, float]:
    times = times_of([(track, up)], sowing, seen.tray.judge)
    if times is not None:
        return times.after, times.by, times.dated, float(times.looked[-1]) if len(times.looked) else 0.0
    # No day of sowing, or one that lies after the first sprout: days are counted from the first photo.
    days = (track.elapsed_h - track.elapsed_h[0]) / 24
    units = units_up(track, up, sowing, seen.tray.judge)
    missing = units_sown([(track, up)], sowing) - len(units)
    last = float(days[np.flatnonzero(np.isfinite(track.canopy))[-1]])
    after = [0.0 if u.after_row is None else float(days[u.after_row]) for u in units] + [last] * missing
    by = [float(days[u.by_row]) for u in units] + [math.inf] * missing
    dated = all(u.after_row is not None for u in units)
    return np.asarray(after, np.float64), np.asarray(by, np.float64), dated, float(days[-1])


def _grew(story: Story) -> dict[Size, Grew]:
    t, up = story.track, story.up
    if up is None or up.after_row is None:
        return {}
    until = min((d.row for d in story.drops if d.breaks_growth), default=len(t.elapsed_h))
    born = float(t.elapsed_h[up.by_row] + t.elapsed_h[up.after_row]) / 2
    there = np.zeros(len(t.elapsed_h), np.bool_)
    there[up.by_row : until] = True
    values: dict[Size, Floats] = {"height": t.height, "canopy": t.canopy, "height_to_leaf": t.ratio}
    out: dict[Size, Grew] = {}
    for name, value in values.items():
        ok = there & np.isfinite(value) & (value > 0) & ~t.cut_off
        if ok.any():
            out[name] = Grew((t.elapsed_h[ok] - born) / 24, value[ok])
    return out


def common_age(pots: Sequence[Pot], size: Size) -> float:
    """The age in days at which a size is compared: that of the youngest that is not far younger than the rest.

    NaN where fewer than two have an age to compare.
    """
    ages = np.asarray([p.grew[size].days[-1] - HALF_DAY for p in pots if size in p.grew], np.float64)
    ages = ages[ages >= LEAST_AGE_DAYS]
    return float(ages[ages >= OLD_ENOUGH * np.median(ages)].min()) if len(ages) >= 2 else math.nan


def size_at(pot: Pot, size: Size, age: float) -> float:
    """A pot's size at an age, read over a day around it; NaN where no photo is near enough."""
    grew = pot.grew.get(size)
    if grew is None or math.isnan(age) or grew.days[-1] < age + HALF_DAY - 1e-9 or grew.days[0] > age:
        return math.nan
    near = np.abs(grew.days - age) <= HALF_DAY + 1e-9
    return float(np.median(grew.value[near]) if near.sum() >= FEW_ROWS else np.interp(age, grew.days, grew.value))


def sown_day(pot: Pot) -> float | None:
    """When it was sown, in days of the camera's wall clock; None where nobody wrote it."""
    sown = pot.sowing.sown
    return None if sown is None else (sown.replace(tzinfo=None) - datetime(1970, 1, 1)).total_seconds() / 86400
