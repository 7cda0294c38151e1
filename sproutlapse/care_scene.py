"""What the items of the care list are made from, and how its figures are said in plain words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import pandas as pd

from sproutlapse.crops import crop_name
from sproutlapse.figures import amount
from sproutlapse.growth.judge import Story
from sproutlapse.growth.lamps import Gap, keep_clear_mm
from sproutlapse.growth.tracks import Track
from sproutlapse.tray import Lamp, Sowing, Tray


@dataclass(frozen=True)
class Scene:
    """What every item is made from."""

    stories: list[Story]
    plants: pd.DataFrame
    tray: Tray
    now: datetime | None

    def sowing(self, track: Track) -> Sowing | None:
        return self.tray.sowing_of(track.settings) if track.settings else None

    def graded(self, grade: str) -> list[Story]:
        names = set(self.plants.loc[self.plants["grade"] == grade, "plant"])
        return [s for s in self.stories if s.track.plant in names]

    def gaps(self) -> list[Gap]:
        """The gap now under each lamp of known height, in tray order, from each plant's own last measured height.

        A plant that leaves the picture, or that no height was measured of in the last frame, may stand higher than
        the height that is known of it: the gap is then `at_most` so much.
        """
        tallest: dict[str, Gap] = {}
        unsure: set[str] = set()
        gone = set(self.plants.loc[self.plants["unusable_because"] == "gone", "plant"])
        for track in (s.track for s in self.stories if s.track.in_mm and s.track.plant not in gone):
            lamp, row = self.lamp_now(track), last_seen(track)
            if lamp is None or lamp.above_soil_mm is None:
                continue
            if row is None:
                if (track.canopy > 0).any():
                    unsure.add(lamp.name)
                continue
            if track.cut_off[row] or row < len(track.time) - 1:
                unsure.add(lamp.name)
            gap = float(lamp.above_soil_mm - track.height[row])
            if lamp.name not in tallest or gap < tallest[lamp.name].gap_mm:
                tallest[lamp.name] = Gap(lamp, track, row, gap, keep_clear_mm(lamp))
        names = dict.fromkeys(lamp.name for lamp in self.tray.lamps)
        return [replace(tallest[name], at_most=name in unsure) for name in names if name in tallest]

    def lamp_now(self, track: Track) -> Lamp | None:
        """The lamp above a plant as it hung in the last frame."""
        return track.lamp(self.tray, len(track.time) - 1) if track.time else None


def height_in_words(track: Track) -> str:
    """The last height that was measured, with its uncertainty, "at least" where the plant leaves the picture."""
    row = last_seen(track)
    if row is None:
        return ""
    if not track.in_mm:
        return f"{track.height[row]:.0f} pixels tall"
    if track.cut_off[row]:
        return f"at least {track.height[row]:.0f} mm tall"
    return amount(float(track.height[row]), "mm tall", float(track.height_sd[row]))


def last_seen(track: Track) -> int | None:
    rows = np.flatnonzero(np.isfinite(track.height) & (track.height > 0))
    return int(rows[-1]) if len(rows) else None


def last_height(track: Track) -> float:
    """The last height that was measured, 0 without one."""
    row = last_seen(track)
    return 0.0 if row is None else float(track.height[row])


def tallest_of(found: list[Story]) -> Track:
    return max(found, key=lambda s: last_height(s.track)).track


def names_of(found: list[Story]) -> tuple[str, ...]:
    return tuple(s.track.plant for s in found)


def listed(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def by_sowing(scene: Scene, found: list[Story]) -> dict[str, list[Story]]:
    groups: dict[str, list[Story]] = {}
    for s in found:
        sowing = scene.sowing(s.track)
        groups.setdefault(sowing.name if sowing else "", []).append(s)
    return groups


def by_crop(scene: Scene, found: list[Story]) -> dict[str, list[Story]]:
    groups: dict[str, list[Story]] = {}
    for s in found:
        sowing = scene.sowing(s.track)
        groups.setdefault(crop_name(sowing.crop if sowing else None) or "", []).append(s)
    return groups
