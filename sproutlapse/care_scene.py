"""What the items of the care list are made from, and how its figures are said in plain words."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, time, timedelta

import numpy as np
import pandas as pd

from sproutlapse.care_marks import is_open
from sproutlapse.crops import crop_name
from sproutlapse.figures import amount
from sproutlapse.growth.cuts import CONFIRM_FRAMES
from sproutlapse.growth.judge import Story
from sproutlapse.growth.lamps import Gap, keep_clear_mm
from sproutlapse.growth.tracks import Track
from sproutlapse.growth.unseen import unseen_since
from sproutlapse.tray import Judge, Lamp, Sowing, Tray

WET_CAUTION = "Switch off and unplug lamps and mats before you handle water or wet pots near them."
# A height written down as of so long before the lamp was said to be moved is that of the same move. Own proposal.
SAME_MOVE = timedelta(hours=24)


@dataclass(frozen=True)
class Touch:
    """Two neighbours whose leaves reach each other, since when, and how far apart their pots stand in mm."""

    one: Story
    other: Story
    since: datetime
    apart_mm: float


@dataclass(frozen=True)
class Scene:
    """What every item is made from.

    Attributes
    ----------
    now
        The moment to advise for.
    marks
        When each cause was last said to be done.
    light
        The columns of light.csv; empty where photos do not tell.
    table
        The measurements.
    touching
        Neighbours whose leaves reach each other, as `care_room.touching` finds them.
    unseen
        Plants that are not among `stories`, see `lately_seen`.
    """

    stories: list[Story]
    plants: pd.DataFrame
    tray: Tray
    now: datetime | None
    marks: Mapping[str, datetime] = field(default_factory=dict)
    light: pd.DataFrame = field(default_factory=pd.DataFrame)
    table: pd.DataFrame = field(default_factory=pd.DataFrame)
    touching: Sequence[Touch] = ()
    unseen: Sequence[Story] = ()

    def to_do(self, kind: str, about: str, since: datetime | None) -> bool:
        """Whether there is still something to do about a cause that began at a moment."""
        return is_open(self.marks, f"{kind}:{about}", since)

    def warm(self, track: Track) -> bool:
        """Whether a plant stands on a heat mat by the tray, and nobody said that it was taken off."""
        sowing = self.sowing(track)
        return on_mat(track) and (sowing is None or f"cover:{sowing.name}" not in self.marks)

    def here(self) -> list[Story]:
        """The plants that are up and not gone."""
        gone = set(self.plants.loc[self.plants["unusable_because"] == "gone", "plant"])
        return [s for s in self.stories if s.up is not None and s.track.plant not in gone]

    def lately_seen(self) -> Scene:
        """The scene without plants that were not measured for days: what they need today is not known. A lamp above
        them still hangs no further away than what was last known of them lets it."""
        old = [s for s in self.stories if unseen_since(s.track.canopy, s.track.elapsed_h) is not None]
        if not old:
            return self
        names = set(names_of(old))
        return replace(
            self,
            stories=[s for s in self.stories if s.track.plant not in names],
            plants=self.plants[~self.plants["plant"].isin(names)],
            touching=[t for t in self.touching if not names & set(names_of([t.one, t.other]))],
            unseen=old,
        )

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
        for track in self._not_gone():
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

    def moved(self, lamp: Lamp) -> datetime | None:
        """When a lamp was last said to be raised or lowered with no new height written down since; else None."""
        said = [self.marks[key] for key in (f"lamp:{lamp.name}", f"lamp far:{lamp.name}") if key in self.marks]
        hung = lamp.since.replace(tzinfo=None) if lamp.since else None
        if not said or (hung is not None and max(said) <= hung + SAME_MOVE):
            return None
        return max(said)

    def known_gaps(self) -> list[Gap]:
        """The gaps now under lamps that hang where tray.toml says."""
        return [gap for gap in self.gaps() if self.moved(gap.lamp) is None]

    def _not_gone(self) -> list[Track]:
        gone = set(self.plants.loc[self.plants["unusable_because"] == "gone", "plant"])
        told = [*self.stories, *self.unseen]
        return [s.track for s in told if s.track.in_mm and s.track.plant not in gone]

    def lamp_now(self, track: Track) -> Lamp | None:
        """The lamp above a plant as it hung in the last frame."""
        return track.lamp(self.tray, len(track.time) - 1) if track.time else None


def is_down(s: Story, limits: Judge) -> bool:
    """Whether a plant fell and its last heights are not back where it fell from, however long that took.

    Blades that flop are long, and are cut back; blades that collapse are in the same straits as any other.
    """
    kinds = ("collapsed",) if s.track.habit == "grasslike" else ("flopped", "collapsed")
    if not s.drops or s.drops[-1].event not in kinds:
        return False
    rows = np.flatnonzero(np.isfinite(s.track.height) & (s.track.height > 0))
    rows = rows[rows > s.drops[-1].row][-CONFIRM_FRAMES:]
    back = s.track.height[rows] >= limits.wilt_recovers_share * s.drops[-1].before
    return not (len(rows) == CONFIRM_FRAMES and bool(back.all()))


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


def since_text(moments: list[datetime]) -> str:
    """The earliest of these moments as the tables write times, empty without any."""
    return min(moments).isoformat(timespec="seconds") if moments else ""


def day_text(when: datetime) -> str:
    """`5 March, 14:00`; the day alone at its beginning."""
    return f"{when.day} {when:%B}" + ("" if when.time() == time() else f", {when:%H:%M}")


def on_mat(track: Track) -> bool:
    """Whether the tray says that a plant stands on a heat mat: the word stands in its `place`."""
    place = track.settings.place if track.settings else None
    return bool(place and re.search(r"(?<![a-z])(?:heat[- ]?)?mat(?![a-z])", place.lower()))


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
