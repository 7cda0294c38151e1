"""What to do today, most urgent first: each item with its plants, its reason, one number, a remedy and a caution.

A remedy that could hurt is only given where what is known allows it: no distance without a gap to keep, no lowering of
a lamp that hangs at its gap, no watering where a photo cannot tell dry from drowned.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pandas as pd

from sproutlapse.care_colour import other_colour
from sproutlapse.care_falls import how_they_fell
from sproutlapse.care_light import SOON_DAYS, lamp_soon, lamp_too_near, under_the_light
from sproutlapse.care_scene import Scene, height_in_words, listed, names_of, tallest_of
from sproutlapse.care_stretch import shooting_up, stretched
from sproutlapse.crops import crop_name, is_allium, overdue_after_days
from sproutlapse.growth.curves import last_break
from sproutlapse.growth.cuts import CONFIRM_FRAMES
from sproutlapse.growth.judge import Judgement, Story, stories
from sproutlapse.growth.sowings import expected, sow_again_by
from sproutlapse.growth.tracks import wall_clock
from sproutlapse.growth.trend import Forecast, forecast, in_words
from sproutlapse.results import CareItem
from sproutlapse.tray import Judge, Tray

MAT_CAUTION = (
    "Only use a heat mat made for plants, with a thermostat whose probe sits in the soil; no bed heating pad. Keep its"
    " plug away from water. Local rules and a qualified electrician go before anything said here."
)
SCISSORS_CAUTION = "Use clean, sharp scissors and cut leaves only, well above the point where new ones come from."

# A plant that is down stays down; the item ends after this long. Own proposal.
FALL_ITEM_DAYS = 7
URGENCY = {"now": 0, "today": 1, "this week": 2}


def care_list(
    measurements: pd.DataFrame, judgement: Judgement, tray: Tray, *, now_text: str = ""
) -> tuple[CareItem, ...]:
    """What to do, most urgent first, then in the order of what hurts most if left.

    Parameters
    ----------
    measurements
        As `growth.judge.judge` takes it.
    judgement
        What it gave for them.
    now_text
        The moment to advise for, as the tables write times; the last frame if empty.
    """
    told = stories(measurements, tray)
    now = wall_clock(now_text) if now_text else max((s.track.clock(len(s.track.time) - 1) for s in told), default=None)
    scene = Scene(told, judgement.plants, tray, now)
    items = [
        *under_the_light(scene),
        *_fallen(scene),
        *lamp_too_near(scene),
        *stretched(scene),
        *shooting_up(scene),
        *_trim_due(scene),
        *lamp_soon(scene),
        *_trim_soon(scene),
        *_overdue(scene),
        *other_colour(scene),
    ]
    return tuple(sorted(items, key=lambda item: URGENCY[item.urgency]))


def _fallen(scene: Scene) -> list[CareItem]:
    def down(s: Story) -> bool:
        if s.track.habit == "grasslike" or not s.drops or s.drops[-1].event not in ("flopped", "collapsed"):
            return False
        if _stands_again(s, scene.tray.judge):
            return False
        told_at = s.track.clock(s.drops[-1].known_row)
        return scene.now is not None and scene.now - told_at <= timedelta(days=FALL_ITEM_DAYS)

    found = [s for s in scene.stories if down(s)]
    if not found:
        return []
    names = names_of(found)
    worst = max((s.drops[-1] for s in found), key=lambda d: (d.before - d.after) / d.before)
    unit = "mm" if found[0].track.in_mm else "pixels"
    fall = how_they_fell(scene, found)
    return [
        CareItem(
            key=f"fallen:{','.join(names)}",
            urgency=fall.urgency,
            plants=names,
            title=f"Down: {listed(names)}",
            reason=fall.reason,
            number=f"from {worst.before:.0f} to {worst.after:.0f} {unit} tall",
            remedy="Lift the pot. Light and dry: water from below. Heavy: do not water, give air. A photo cannot"
            " tell which. A stem that is thin and glassy at the soil will not recover: take that seedling out, so"
            f" that its neighbours stay well.{fall.more}",
            caution="Switch off and unplug lamp and heat mat before you handle water near them.",
        )
    ]


def _stands_again(s: Story, limits: Judge) -> bool:
    """Whether the last heights are back where a fallen plant fell from, however long it took."""
    rows = np.flatnonzero(np.isfinite(s.track.height) & (s.track.height > 0))
    rows = rows[rows > s.drops[-1].row][-CONFIRM_FRAMES:]
    back = s.track.height[rows] >= limits.wilt_recovers_share * s.drops[-1].before
    return len(rows) == CONFIRM_FRAMES and bool(back.all())


def _trim_heights(scene: Scene, s: Story) -> tuple[float, float] | None:
    """Height at which to cut and height to cut to, or None where nobody asked for cutting this kind."""
    plant, limits = s.track.settings, scene.tray.judge
    if plant is None or s.track.habit != "grasslike" or not s.track.in_mm:
        return None
    sowing = scene.sowing(s.track)
    allium = is_allium(sowing.crop if sowing else None)
    if plant.trim_at_mm is None and not allium:
        return None
    at = plant.trim_at_mm or limits.allium_trim_at_mm
    to = plant.trim_to_mm or (limits.allium_trim_to_mm if allium else at / 2)
    return at, min(to, 0.7 * at) if plant.trim_to_mm is None else to


def _trim_due(scene: Scene) -> list[CareItem]:
    due: dict[tuple[float, float, bool], list[Story]] = {}
    for s in scene.stories:
        heights = _trim_heights(scene, s)
        rows = np.flatnonzero(np.isfinite(s.track.height) & (s.track.height > 0))[-3:]
        if heights is None or len(rows) == 0:
            continue
        level = float(np.median(s.track.height[rows]))
        flops = bool(s.drops) and s.drops[-1].event == "flopped" and level > heights[1]
        if level >= heights[0] or flops:
            due.setdefault((*heights, flops), []).append(s)
    items = []
    for (at, to, flops), found in due.items():
        names = names_of(found)
        tallest = tallest_of(found)
        asked = any(s.track.settings and s.track.settings.trim_at_mm for s in found)
        items.append(
            CareItem(
                key=f"trim:{','.join(names)}",
                urgency="today" if flops else "this week",
                plants=names,
                title=f"Cut back: {listed(names)}",
                reason=("They fall over." if flops else f"They reached {at:.0f} mm.")
                + ("" if asked else " The height is gardeners' habit, not a published value."),
                number=f"{tallest.plant} is {height_in_words(tallest)}",
                remedy=f"Cut the leaves back to about {to:.0f} mm.",
                caution=SCISSORS_CAUTION,
            )
        )
    return items


def _trim_soon(scene: Scene) -> list[CareItem]:
    """Notice some days ahead of a cut, from the growth of the last days."""
    coming: dict[tuple[float, float], list[tuple[Forecast, Story]]] = {}
    for s in scene.stories:
        heights = _trim_heights(scene, s)
        if heights is None or scene.now is None:
            continue
        when = forecast(s.track, heights[0], scene.tray.judge, first=last_break(s.drops))
        if when is not None and when.likely - scene.now <= timedelta(days=SOON_DAYS):
            coming.setdefault(heights, []).append((when, s))
    items = []
    for (at, to), found in coming.items():
        names = names_of([s for _, s in found])
        when, first = min(found, key=lambda pair: pair[0].likely)
        items.append(
            CareItem(
                key=f"trim soon:{','.join(names)}",
                urgency="this week",
                plants=names,
                title=f"Soon to be cut back: {listed(names)}",
                reason=f"{first.track.plant} reaches {at:.0f} mm first: {in_words(when)}.",
                number=f"{first.track.plant} is {height_in_words(first.track)}",
                remedy=f"Have scissors ready; then cut the leaves back to about {to:.0f} mm.",
                caution=SCISSORS_CAUTION,
            )
        )
    return items


def _overdue(scene: Scene) -> list[CareItem]:
    items = []
    for sowing in scene.tray.sowings:
        own = [s for s in scene.stories if s.track.settings and s.track.settings.sowing == sowing.name]
        limit = overdue_after_days(sowing.crop, sowing.soil_c, times=scene.tray.judge.overdue_times)
        if not own or limit is None or sowing.sown is None or scene.now is None or any(s.up for s in own):
            continue
        if max(len(s.track.time) for s in own) < scene.tray.judge.emerged_frames:
            continue
        days = (scene.now - sowing.sown.replace(tzinfo=None)).total_seconds() / 86400
        if days < limit:
            continue
        again = sow_again_by(sowing, scene.tray.season.plant_out)
        too_late = again is not None and again < scene.now.date()
        last_day = f" Sow again by {again.isoformat()} at the latest." if again and not too_late else ""
        names = names_of(own)
        items.append(
            CareItem(
                key=f"overdue:{sowing.name}",
                urgency="this week",
                plants=names,
                title=f"Nothing up yet: {sowing.name}",
                reason=f"{crop_name(sowing.crop)}: {expected(sowing)}. Worth a second look, not yet the bin.",
                number=f"{days:.0f} days since sowing",
                remedy="Feel whether the soil is moist and as warm as this crop wants, and look under the surface"
                f" with a toothpick in one corner.{last_day}",
                caution=MAT_CAUTION,
            )
        )
    return items
