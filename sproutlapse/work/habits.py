"""The habit of plants whose habit nobody wrote, told from their looks in time order once enough shows.

It is told once and stays, from photos up to that one: later photos never change it. Until then nothing that rests on
the habit is judged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sproutlapse.crops import is_allium
from sproutlapse.tray import Habit, Plant, Tray
from sproutlapse.vision.labels import read_labels
from sproutlapse.vision.scout_habit import Look, looks_from_labels
from sproutlapse.work.settle import UsedFrame, emergence

# A seedling that unfolds looks like another kind for half a day, so most photos of a day must agree. Own proposals,
# tried on rendered seedlings of both kinds.
LEAST_PHOTOS = 4
LEAST_HOURS = 18.0
WINDOW_HOURS = 24.0
AGREEING = 0.8

HABITS: dict[Look, Habit] = {"blades": "grasslike", "leaves": "broadleaf"}


@dataclass(frozen=True)
class Told:
    """A habit told from looks (or from the crop), and the index of the usable photo from which on it is known."""

    habit: Habit
    since: int
    by_crop: bool = False


def told_habits(frames: Sequence[UsedFrame], tray: Tray, labels: Callable[[int], bytes]) -> dict[str, Told]:
    """Habits by plant name, for those that nobody wrote and that can be told by now.

    Parameters
    ----------
    frames
        Usable photos in time order.
    tray
        The complete tray; from above nothing is told, since nothing there depends on it.
    labels
        Gives the label picture (PNG) of the photo with that index; asked only while a plant is left to be told.
    """
    if tray.view.from_ == "above":
        return {}
    up = emergence(frames, tray)
    found = {plant.name: Told("grasslike", 0, by_crop=True) for plant in tray.plants if _sown_as_onion(plant, tray)}
    waiting = {
        k: first
        for k, first in enumerate(up)
        if tray.plants[k].habit is None and first is not None and tray.plants[k].name not in found
    }
    seen: dict[int, list[tuple[float, Look]]] = {k: [] for k in waiting}
    for index, frame in enumerate(frames):
        # That a plant is up is known only so many photos later: what is told of it before would come too early.
        known = {k: first for k, first in waiting.items() if index >= first}
        if not known:
            continue
        png = labels(index)
        looks = looks_from_labels(read_labels(png), [k + 1 for k in known]) if png else []
        for k, look in zip(known, looks, strict=False):
            if look is None:
                continue
            seen[k].append((frame.elapsed_h, look))
            habit = habit_of(seen[k])
            if habit is not None and index >= waiting[k] + tray.judge.emerged_frames - 1:
                found[tray.plants[k].name] = Told(habit, index)
                del waiting[k]
    return found


def _sown_as_onion(plant: Plant, tray: Tray) -> bool:
    sowing = tray.sowing_of(plant)
    return plant.habit is None and sowing is not None and is_allium(sowing.crop)


def habit_of(looks: Sequence[tuple[float, Look]]) -> Habit | None:
    """The habit that looks (hours, look) in time order tell, or None while they are too few or do not agree."""
    last = looks[-1][0]
    if len(looks) < LEAST_PHOTOS or last - looks[0][0] < LEAST_HOURS:
        return None
    recent = [look for hour, look in looks if hour >= last - WINDOW_HOURS]
    recent = recent if len(recent) >= LEAST_PHOTOS else [look for _, look in looks[-LEAST_PHOTOS:]]
    for look, habit in HABITS.items():
        if float(np.mean([one == look for one in recent])) >= AGREEING:
            return habit
    return None


def with_habits(tray: Tray, told: Mapping[str, Told]) -> Tray:
    """The tray with the habits that were told written in."""
    plants = tuple(
        plant.model_copy(update={"habit": told[plant.name].habit}) if plant.name in told else plant
        for plant in tray.plants
    )
    return tray.model_copy(update={"plants": plants})


def habits_in_words(tray: Tray, told: Mapping[str, Told]) -> Iterator[str]:
    """What was told from looks and what could not be told yet, for the notes of a run.

    `tray` is the tray with the habits that were told.
    """
    for habit, words in (("grasslike", "grass-like, with blades"), ("broadleaf", "broad-leaved")):
        names = [p.name for p in tray.plants if p.name in told and p.habit == habit and not told[p.name].by_crop]
        if names:
            yield f"Taken as {words}, from the looks: {', '.join(names)}. Correct habit in tray.toml where it is wrong."
    sown = [plant.name for plant in tray.plants if plant.name in told and told[plant.name].by_crop]
    if sown:
        yield f"Taken as grass-like, since onions or their kin were sown: {', '.join(sown)}."
    open_still = [plant.name for plant in tray.plants if plant.habit is None]
    if open_still and tray.view.from_ != "above":
        yield (
            f"Too little shows yet to tell blades from leaves: {', '.join(open_still)}. Until it does, or habit is "
            "written in tray.toml, stretching and cuts are not judged there."
        )
