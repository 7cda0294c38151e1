"""What to do, most urgent first: each item with its plants, its reason, one number, a remedy and a caution.

A remedy that could hurt is only given where what is known allows it: no distance without a gap to keep, no lowering of
a lamp that hangs at its gap, no watering where a photo cannot tell dry from drowned.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import pandas as pd

from sproutlapse.care_colour import other_colour
from sproutlapse.care_distance import lamp_far
from sproutlapse.care_falls import how_they_fell
from sproutlapse.care_light import lamp_soon, lamp_too_near
from sproutlapse.care_marks import marks_of, open_items
from sproutlapse.care_room import crowded_together, leaning, thin_out, touching
from sproutlapse.care_scattered import scattered_green
from sproutlapse.care_scene import WET_CAUTION, Scene, day_text, is_down, listed, names_of, since_text
from sproutlapse.care_season import outside
from sproutlapse.care_sprouts import sprouted
from sproutlapse.care_stretch import shooting_up, stretched
from sproutlapse.care_trim import trim_due, trim_soon
from sproutlapse.crops import crop_name
from sproutlapse.crops_window import expected, overdue_after, sow_again_by
from sproutlapse.growth.judge import Judgement, Story
from sproutlapse.growth.tracks import wall_clock
from sproutlapse.results import CareItem, DiaryEntry
from sproutlapse.tray import Tray

MAT_CAUTION = (
    "Only use a heat mat made for plants, with a thermostat whose probe sits in the soil; no bed heating pad. Keep its"
    " plug away from water. Local rules and a qualified electrician go before anything said here."
)

# A plant that is down stays down; the item ends after this long. Own proposal.
FALL_ITEM_DAYS = 7
URGENCY = {"now": 0, "today": 1, "this week": 2}


def scene_of(
    measurements: pd.DataFrame,
    judgement: Judgement,
    tray: Tray,
    *,
    now_text: str = "",
    diary: Sequence[DiaryEntry] = (),
    light: pd.DataFrame | None = None,
) -> Scene:
    """What the list is made from; parameters as those of `care_list`."""
    told = judgement.told
    now = wall_clock(now_text) if now_text else max((s.track.clock(len(s.track.time) - 1) for s in told), default=None)
    hours = pd.DataFrame() if light is None else light
    scene = Scene(told, judgement.plants, tray, now, marks_of(diary), hours, measurements)
    return replace(scene, touching=touching(scene))


def care_list(
    measurements: pd.DataFrame,
    judgement: Judgement,
    tray: Tray,
    *,
    now_text: str = "",
    diary: Sequence[DiaryEntry] = (),
    light: pd.DataFrame | None = None,
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
    diary
        What was said to be done stays away until its cause begins anew.
    light
        The columns of light.csv, so that nothing is asked of a lamp that it does already.
    """
    return items_of(scene_of(measurements, judgement, tray, now_text=now_text, diary=diary, light=light))


def items_of(scene: Scene) -> tuple[CareItem, ...]:
    """The list of `care_list`."""
    whole, scene = scene, scene.lately_seen()
    items = [
        *sprouted(whole),
        *_fallen(scene),
        *lamp_too_near(whole),
        *stretched(scene),
        *shooting_up(scene),
        *trim_due(scene),
        *outside(scene),
        *crowded_together(scene),
        *lamp_far(whole),
        *thin_out(scene),
        *leaning(scene),
        *lamp_soon(scene),
        *trim_soon(scene),
        *_overdue(whole),
        *other_colour(scene),
        *scattered_green(scene),
    ]
    return tuple(open_items(sorted(items, key=lambda item: URGENCY[item.urgency]), scene.marks))


def _fallen(scene: Scene) -> list[CareItem]:
    def down(s: Story) -> bool:
        if not is_down(s, scene.tray.judge):
            return False
        told_at = s.track.clock(s.drops[-1].known_row)
        if not scene.to_do("fallen", s.track.plant, s.track.clock(s.drops[-1].row)):
            return False
        return scene.now is not None and scene.now - told_at <= timedelta(days=FALL_ITEM_DAYS)

    found = [s for s in scene.stories if down(s)]
    if not found:
        return []
    names = names_of(found)
    worst = max((s.drops[-1] for s in found), key=lambda d: (d.before - d.after) / d.before)
    unit = "mm" if found[0].track.in_mm else "pixels"
    ends = max(s.track.clock(s.drops[-1].known_row) for s in found) + timedelta(days=FALL_ITEM_DAYS)
    fall = how_they_fell(scene, found)
    lifted = "tray" if scene.tray.view.from_ == "above" else "pot"
    return [
        CareItem(
            key=f"fallen:{','.join(names)}",
            urgency=fall.urgency,
            plants=names,
            title=f"Down: {listed(names)}",
            reason=fall.reason,
            number=f"from {worst.before:.0f} to {worst.after:.0f} {unit} tall",
            remedy=f"Lift the {lifted}. Light and dry: water from below. Heavy: do not water, give air. A photo cannot"
            " tell which. A stem that is thin and glassy at the soil will not recover: take that seedling out, so"
            f" that its neighbours stay well.{fall.more} This line goes when it stands again, else on"
            f" {day_text(ends)}.",
            caution=WET_CAUTION,
            since=since_text([s.track.clock(s.drops[-1].row) for s in found]),
            until=ends.isoformat(timespec="seconds"),
            causes=tuple(f"fallen:{name}" for name in names),
        )
    ]


def _overdue(scene: Scene) -> list[CareItem]:
    items = []
    for sowing in scene.tray.sowings:
        own = [s for s in scene.stories if s.track.settings and s.track.settings.sowing == sowing.name]
        limit = overdue_after(sowing, times=scene.tray.judge.overdue_times)
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
        usual = expected(sowing, times=scene.tray.judge.overdue_times)
        items.append(
            CareItem(
                key=f"overdue:{sowing.name}",
                urgency="this week",
                plants=names,
                title=f"Nothing up yet: {sowing.name}",
                reason=f"{crop_name(sowing.crop) or sowing.crop or sowing.name}: {usual}. Worth a second"
                " look, not yet the bin.",
                number=f"{days:.0f} days since sowing",
                remedy="Feel whether the soil is moist and as warm as this crop wants, and look under the surface"
                f" with a toothpick in one corner.{last_day}",
                caution=MAT_CAUTION,
                since=since_text([sowing.sown.replace(tzinfo=None) + timedelta(days=limit)]),
            )
        )
    return items
