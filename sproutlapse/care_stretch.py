"""Care of stretched plants: more light where that is safe, and what to do about a long stem.

A lamp is only ever told to be lowered by a distance where its gap is known to be well above the one to keep, and not
for one plant alone.
"""

from __future__ import annotations

import math
from datetime import datetime

import numpy as np

from sproutlapse.care_distance import LAMP_STEP_MM, pale_under, pots_waiting
from sproutlapse.care_hours import hours_remedy, in_hours, known_hours, long_enough, too_short
from sproutlapse.care_lamp_height import LAMP_CAUTION
from sproutlapse.care_light import shares_lamp
from sproutlapse.care_scene import (
    Scene,
    by_crop,
    height_in_words,
    last_height,
    last_seen,
    listed,
    names_of,
    since_text,
    tallest_of,
)
from sproutlapse.crops import MAY_BE_SET_DEEPER, NEVER_SET_DEEPER
from sproutlapse.growth.judge import Story
from sproutlapse.growth.lamps import Gap, keep_clear_mm
from sproutlapse.growth.tracks import Track
from sproutlapse.results import CareItem

# A lamp further above its gap than this can be lowered; nearer, it hangs where it should. Own proposal.
LAMP_SLACK_MM = 25.0
LEAST_BLOCK_MM = 10
# One stretched plant among so many sturdy ones under its lamp is a matter of its place, not of the lamp. Own proposal.
STURDY_TO_BE_ALONE = 2
# Before a plant's habit is told: so many times as tall as the others, and so tall, is worth a look. Own proposals.
SHOOTING_TIMES, SHOOTING_FROM_MM = 1.4, 25.0
LEAST_OTHERS = 2
EYES_CAUTION = "Do not look into bright lamps."


def stretched(scene: Scene) -> list[CareItem]:
    """An item for the leggy and one for the stretching, apart by what can still be done for their crop."""
    items = []
    for grade, title in (("leggy", "Leggy"), ("stretching", "Stretching")):
        by_remedy: dict[str, list[Story]] = {}
        todo = [s for s in scene.graded(grade) if scene.to_do(grade, s.track.plant, _since(s, grade))]
        for crop, found in by_crop(scene, todo).items():
            by_remedy.setdefault(_later_remedy(grade, crop), []).extend(found)
        for later, found in by_remedy.items():
            names = names_of(found)
            worst = tallest_of(found)
            likely = _likely(scene, found)
            remedies, moves_lamp = _remedies(scene, found, likely)
            items.append(
                CareItem(
                    key=f"{grade}:{','.join(names)}",
                    urgency="today",
                    plants=names,
                    title=f"{title}: {listed(names)}",
                    reason=f"Tall for the leaf it shows, on a long bare stem. {_reason(scene, found, likely)}",
                    number=f"{worst.plant} is {height_in_words(worst)}",
                    remedy=remedies + later,
                    caution=LAMP_CAUTION if moves_lamp else EYES_CAUTION,
                    since=since_text([_since(s, grade) for s in found]),
                    causes=tuple(f"{grade}:{name}" for name in names),
                )
            )
    return items


def _since(s: Story, grade: str) -> datetime:
    """Since when a plant is leggy, or lengthens again; one that is near the band without either, since it came up."""
    if grade == "leggy" and s.spells:
        return s.track.clock(s.spells[-1].since)
    if s.longer and s.longer[-1].until is None:
        return s.track.clock(s.longer[-1].since)
    return s.track.clock(s.up.by_row if s.up else 0)


def _likely(scene: Scene, found: list[Story]) -> dict[str, str]:
    """What speaks for a cause, by its name, the two strongest only; empty where nothing is known that does."""
    said: dict[str, str] = {}
    for gap in scene.known_gaps():
        keep = gap.keep_clear_mm
        if keep is None or gap.at_most or not any(shares_lamp(s.track, gap, scene) for s in found):
            continue
        # Where others do well under a lamp it hangs well.
        if gap.gap_mm > keep + LAMP_SLACK_MM and not _alone(scene, gap.lamp.name):
            said["gap"] = f"the lamp hangs {gap.gap_mm:.0f} mm above the tallest, and {keep:.0f} mm would do"
    hours = known_hours(scene.light)
    if hours is not None and too_short(hours):
        said["hours"] = f"the light is on for only {in_hours(hours)} a day"
    names = {s.track.plant for s in found}
    for t in scene.touching:
        if {t.one.track.plant, t.other.track.plant} & names:
            said["crowding"] = f"{t.one.track.plant} and {t.other.track.plant} stand so near that their leaves touch"
            break
    warm = [s.track.plant for s in found if scene.warm(s.track)]
    if warm:
        stand = "stands" if len(warm) == 1 else "stand"
        said["warmth"] = f"by tray.toml {listed(tuple(warm))} still {stand} on the heat mat"
    return dict(list(said.items())[:2])


def _reason(scene: Scene, found: list[Story], likely: dict[str, str]) -> str:
    if likely:
        return f"Likely because {', or because '.join(likely.values())}."
    if _one_of_many(scene, found):
        return "Others under the same light are sturdy: either its place gets less of it, or it is its seed."
    dim = "too dim a light" if long_enough(known_hours(scene.light)) else "too little light, or too few hours of it"
    return f"Either {dim}, or too warm for the light there is; a photo cannot tell which."


def _one_of_many(scene: Scene, found: list[Story]) -> bool:
    """Whether one of these plants alone is stretched under its light, among sturdy ones."""
    lamps = [scene.lamp_now(s.track) for s in found]
    return any(_alone(scene, lamp.name if lamp else None) for lamp in lamps)


def _remedies(scene: Scene, found: list[Story], likely: dict[str, str]) -> tuple[str, bool]:
    """The remedies for the causes that something speaks for; without any, light first and then warmth."""
    steps, moves = _light_remedies(scene, found)
    hours = known_hours(scene.light)
    # What others bear well under the same light is not changed for one.
    unknown = not likely and not _one_of_many(scene, found)
    if unknown or "hours" in likely or (long_enough(hours) and not _one_of_many(scene, found)):
        steps.append(hours_remedy(hours))
    if "crowding" in likely:
        above = scene.tray.view.from_ == "above"
        steps.append(
            "Pot them on, or thin out every second cell."
            if above
            else "Move the pots apart until leaves just do not touch."
        )
    if "warmth" in likely:
        steps.append(f"Take {listed(tuple(s.track.plant for s in found if scene.warm(s.track)))} off the heat mat.")
    elif unknown:
        steps.append("Keep them cooler, above all at night, and off the heat mat if they stand on one.")
    return " ".join(steps), moves


def shooting_up(scene: Scene) -> list[CareItem]:
    """A calm note of plants much taller than the others of their sowing while their habit is not told yet.

    Legginess cannot be judged before the habit is told, but by then a stem that reaches for light is long.
    """
    found = []
    for s in scene.stories:
        others = [_level(o.track) for o in _others(scene, s)]
        if s.up is None or s.track.habit is not None or not s.track.in_mm or len(others) < LEAST_OTHERS:
            continue
        tall = _level(s.track)
        if not scene.to_do("shooting up", s.track.plant, s.track.clock(s.up.by_row)):
            continue
        if tall >= SHOOTING_FROM_MM and tall >= SHOOTING_TIMES * float(np.median(others)):
            found.append(s)
    if not found:
        return []
    names, tallest = names_of(found), max(found, key=lambda s: last_height(s.track))
    # The shortest of them never shoots up, so some are always left.
    others = [_level(o.track) for o in _others(scene, tallest) if o.track.plant not in names]
    low, high = f"{min(others):.0f}", f"{max(others):.0f}"
    return [
        CareItem(
            key=f"shooting up:{','.join(names)}",
            urgency="today",
            plants=names,
            title=f"Shooting up: {listed(names)}",
            reason="Much taller than the others that are up. It may have come up earlier, be of another kind, or reach"
            " for light; which it is cannot be told yet.",
            number=f"{tallest.track.plant} is {height_in_words(tallest.track)}, the others"
            f" {low if low == high else f'{low} to {high}'} mm",
            remedy="Look at it. If its stem is thin and pale for its leaves, move it under the middle of the light. If"
            " it looks like the others, only taller, leave it.",
            caution=EYES_CAUTION,
            causes=tuple(f"shooting up:{name}" for name in names),
        )
    ]


def _others(scene: Scene, story: Story) -> list[Story]:
    """The other plants of a plant's sowing that are up; all others where none is written down."""
    own = scene.sowing(story.track)
    return [
        s
        for s in scene.stories
        if s is not story and s.up and s.track.in_mm and scene.sowing(s.track) == own and last_seen(s.track) is not None
    ]


def _level(track: Track) -> float:
    """The median of the last three heights, so that one poor photo says nothing; 0 without any."""
    rows = np.flatnonzero(np.isfinite(track.height) & (track.height > 0))[-3:]
    return float(np.median(track.height[rows])) if len(rows) else 0.0


def _later_remedy(grade: str, crop: str) -> str:
    """What can still be done for a leggy plant when it is potted on; from memory, by crop."""
    if grade != "leggy":
        return ""
    if crop in MAY_BE_SET_DEEPER:
        return " When you pot on, set it deeper, up to the seed leaves (from memory, for this crop)."
    if crop in NEVER_SET_DEEPER:
        return " Do not set it deeper to make up for the stem: its heart must stay above the soil."
    stick = " Until then a thin stick and a loose tie hold a long stem."
    if crop:
        return " Whether this crop bears being set deeper is not known here: pot it on as deep as it stands." + stick
    return (
        " Most kinds can be set deeper when you pot them on, up to the seed leaves; not lettuce or celery (common"
        " practice, no source at hand)." + stick
    )


def _light_remedies(scene: Scene, found: list[Story]) -> tuple[list[str], bool]:
    """What to try for stretched plants, and whether a lamp is to be moved.

    A lamp is only ever lowered where its gap is known to be well above the one to keep: never where a plant under it
    may stand higher than what was measured of it.
    """
    steps: list[str] = []
    moves = False
    for gap in scene.gaps():
        mine = [s.track for s in found if shares_lamp(s.track, gap, scene)]
        if not mine or gap.keep_clear_mm is None or gap.gap_mm <= 0:
            continue  # where the lamp's height contradicts the plants' it is to be measured first
        if scene.moved(gap.lamp) is not None:
            steps.append(
                f"How high the lamp “{gap.lamp.name}” hangs since it was moved is not known: measure it before it is"
                " moved again."
            )
            continue
        told, lowered = _under_known_lamp(scene, gap, gap.keep_clear_mm, mine)
        steps += told
        moves = moves or lowered
    told, nearer = _without_distance(scene, found)
    return [*steps, *told], moves or nearer


def _under_known_lamp(scene: Scene, gap: Gap, keep_mm: float, mine: list[Track]) -> tuple[list[str], bool]:
    """Steps for stretched plants under a lamp whose gap is known, and whether it is lowered."""
    if gap.at_most:
        return [
            f"Not every plant under the lamp “{gap.lamp.name}” could be measured to its top in the last photo, so"
            f" the gap is at most {gap.gap_mm:.0f} mm: leave the lamp where it hangs."
        ], False
    if pale := pale_under(scene, gap.lamp.name):
        who = listed(names_of(pale))
        return [
            f"Leaves of {who} turned paler: leave the lamp “{gap.lamp.name}” where it hangs until it is clear why."
        ], False
    alone = _alone(scene, gap.lamp.name)
    only = f"Only {mine[0].plant} of {alone} under the lamp “{gap.lamp.name}” is stretched: "
    if gap.gap_mm > keep_mm + LAMP_SLACK_MM:
        waiting = pots_waiting(scene, gap.lamp.name)
        if waiting and not alone:
            return [_over_covers(gap, waiting)], False
        if not alone:
            return [
                f"Lower the lamp “{gap.lamp.name}” from {gap.gap_mm:.0f} to {keep_mm:.0f} mm above the"
                f" tallest plant, {gap.track.plant}, by no more than {LAMP_STEP_MM} mm a day; stop if leaves turn"
                " pale."
            ], True
        room = float(gap.lamp.above_soil_mm or 0) - keep_mm - last_height(mine[0])
        block = math.floor(room / 5) * 5
        return [
            f"{only}leave the lamp where it hangs. Raise {mine[0].plant} on a block, by no more than {LAMP_STEP_MM} mm"
            f" a day and {block} mm in all, or move it under the middle of the lamp; stop if leaves turn pale."
        ], False
    steps = [f"The lamp “{gap.lamp.name}” is as near as it should be: leave it where it hangs."]
    if gap.gap_mm < keep_mm:
        steps = [f"The lamp “{gap.lamp.name}” has to be raised for {gap.track.plant}, so it cannot come nearer."]
    if alone:
        steps.append(f"{only}move it under the middle of the lamp.")
    block_mm = min(last_height(gap.track) - last_height(t) for t in mine)
    if block_mm >= LEAST_BLOCK_MM:
        who = listed(tuple(t.plant for t in mine))
        when = " once the lamp is raised" if gap.gap_mm < keep_mm else ""
        steps.append(f"Stand {who} on a block of up to {math.floor(block_mm / 5) * 5} mm{when}.")
    return steps, False


def _over_covers(gap: Gap, waiting: tuple[str, ...]) -> str:
    """A lamp that comes near covers heats what is under them."""
    stand = "waits" if len(waiting) == 1 else "wait"
    return (
        f"{listed(waiting)} under the lamp “{gap.lamp.name}” still {stand} for half of the sowing to be up, perhaps"
        " under a cover: leave the lamp where it hangs until then, and move what is stretched under its middle."
    )


def _without_distance(scene: Scene, found: list[Story]) -> tuple[list[str], bool]:
    """Steps where the tray does not say what hangs above the plants, and whether a lamp may be moved for them."""
    lamps = {s.track.plant: scene.lamp_now(s.track) for s in found}
    steps = [
        f"Write kind (or keep_clear_mm) and above_soil_mm of the lamp “{name}” into tray.toml, and how near it may hang"
        " can be said."
        for name in dict.fromkeys(
            lamp.name
            for lamp in lamps.values()
            if lamp is not None and (lamp.above_soil_mm is None or keep_clear_mm(lamp) is None)
        )
    ]
    bare = [plant for plant, lamp in lamps.items() if lamp is None]
    if not bare:
        return steps, False
    if alone := _alone(scene, None):
        steps.append(
            f"Only {bare[0]} of {alone} is stretched: move it under the middle of the light, where the sturdy ones do"
            " well."
        )
        return steps, False
    steps.append(
        "Move them to where the light is strongest, under the middle of the lamp. How near a lamp may hang depends on"
        " its kind: write it into tray.toml as [[lamp]], and it can be said."
    )
    return steps, False


def _alone(scene: Scene, lamp_name: str | None) -> int:
    """How many plants were judged under a lamp, if just one of them is stretched among sturdy ones; else 0.

    None stands for plants without a lamp in the tray.
    """

    def under(s: Story) -> bool:
        lamp = scene.lamp_now(s.track)
        return last_seen(s.track) is not None and (lamp.name if lamp else None) == lamp_name

    sturdy = sum(under(s) for s in scene.graded("sturdy"))
    others = sum(under(s) for grade in ("leggy", "stretching") for s in scene.graded(grade))
    return sturdy + others if others == 1 and sturdy >= STURDY_TO_BE_ALONE else 0
