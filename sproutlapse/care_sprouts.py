"""Care of what has just come up: to the light at once, cover and heat mat off once half of a sowing is up."""

from __future__ import annotations

import math
from datetime import datetime, timedelta

from sproutlapse.care_hours import hours_remedy, known_hours, long_enough
from sproutlapse.care_scene import Scene, day_text, listed, names_of, on_mat, since_text
from sproutlapse.growth.emergence import Emergence
from sproutlapse.growth.judge import Story
from sproutlapse.growth.sown_units import units_sown, units_up
from sproutlapse.growth.tracks import Track
from sproutlapse.results import CareItem
from sproutlapse.tray import Sowing

# An item that no picture can close ends after this long. Own proposal.
SPROUT_DAYS = 3
# Cover and bottom heat go when about half of the seeds have sprouted: Coffin 2023, Univ. of Maine Ext.
SHARE_UP = 0.5
COVER_SOURCE = "Univ. of Maine Extension"
SPROUT_CAUTION = (
    "Move the pots, not the lamp. Keep lamps, plugs and cords away from the wet cover; let a hot lamp cool before you"
    " reach past it. Do not look into bright lamps."
)
CLOSED_CAUTION = "A closed cover under a lamp can grow hot inside: lift one edge."
MAT_OFF_CAUTION = "Unplug the mat with dry hands before you move pots on it, and wipe up water first."


def sprouted(scene: Scene) -> list[CareItem]:
    """An item for each sowing of which something came up in the last days, or half of which did."""
    return [item for sowing in scene.tray.sowings if (item := _of_sowing(scene, sowing)) is not None]


def own_stories(scene: Scene, sowing: Sowing) -> list[Story]:
    """The plants of a sowing, in tray order."""
    return [s for s in scene.stories if s.track.settings and s.track.settings.sowing == sowing.name]


def half_is_up(up: int, of: int) -> bool:
    """Whether so many of a sowing are up that cover and bottom heat go."""
    return up >= SHARE_UP * of


def share_up(scene: Scene, sowing: Sowing) -> tuple[int, int, datetime | None]:
    """Seeds (pots, where their number is not known) that are up, of how many, and when half of them were.

    No moment where half are not up, or where what made the half stood there in the first photo.
    """
    own = own_stories(scene, sowing)
    pairs = [(s.track, s.up) for s in own]
    of = units_sown(pairs, sowing)
    units: list[tuple[Emergence, Track]] = [
        (unit, s.track) for s in own for unit in units_up(s.track, s.up, sowing, scene.tray.judge)
    ]
    units.sort(key=lambda pair: float(pair[1].elapsed_h[pair[0].known_row]))
    need = max(1, math.ceil(SHARE_UP * of))
    if of == 0 or len(units) < need:
        return len(units), of, None
    unit, track = units[need - 1]
    seen_coming = unit.after_row is not None or unit.by_row > 0
    return len(units), of, track.clock(unit.known_row) if seen_coming else None


def _of_sowing(scene: Scene, sowing: Sowing) -> CareItem | None:
    if scene.now is None:
        return None
    now = scene.now
    up, of, half = share_up(scene, sowing)
    fresh = [s for s in own_stories(scene, sowing) if _fresh(scene, s, sowing)]
    off = half is not None and now - half <= timedelta(days=SPROUT_DAYS) and scene.to_do("cover", sowing.name, half)
    if not fresh and not off:
        return None
    # The seeds that are not up keep their cover until half are.
    half_up = half_is_up(up, of)
    told = [s.track.clock(s.up.known_row) for s in fresh if s.up]
    begun = [*told, *([half] if off and half else [])]
    ends = max(begun) + timedelta(days=SPROUT_DAYS)
    names = names_of(fresh) or names_of([s for s in own_stories(scene, sowing) if s.up])
    causes = [f"light:{name}" for name in names_of(fresh)] + ([f"cover:{sowing.name}"] if off else [])
    title = " and ".join(part for part in ("cover off" * off, "under the light now" * bool(fresh)) if part)
    return CareItem(
        key=f"{'light' if fresh else 'cover'}:{sowing.name}",
        urgency="now" if fresh else "today",
        plants=names,
        title=f"{title[0].upper()}{title[1:].replace(' and under', ', under')}: {sowing.name}",
        reason=_reason(fresh, off=off),
        number=_up_for(scene, fresh) if fresh else f"{up} of {of} up",
        remedy=_remedy(scene, sowing, fresh, half_up=half_up, off=off) + f" This line ends on {day_text(ends)}.",
        caution=" ".join(
            part
            for part, said in (
                (SPROUT_CAUTION, bool(fresh)),
                (CLOSED_CAUTION, not half_up),
                (MAT_OFF_CAUTION, off),
            )
            if said
        ),
        since=since_text(begun),
        until=ends.isoformat(timespec="seconds"),
        causes=tuple(causes),
    )


def _fresh(scene: Scene, s: Story, sowing: Sowing) -> bool:
    # Only of a sowing that the grower wrote down is it known that it was covered for sprouting, as sowings are.
    if sowing.under_light is True or s.up is None or s.up.after_row is None or scene.now is None:
        return False
    told = s.track.clock(s.up.known_row)
    return scene.now - told <= timedelta(days=SPROUT_DAYS) and scene.to_do("light", s.track.plant, told)


def _reason(fresh: list[Story], *, off: bool) -> str:
    said = []
    if fresh:
        said.append(
            f"{listed(names_of(fresh))} came up. Every hour in the dark from here on makes a longer stem, for good."
        )
    if off:
        said.append(f"At least half are up; cover and bottom heat have done their work ({COVER_SOURCE}).")
    return " ".join(said)


def _remedy(scene: Scene, sowing: Sowing, fresh: list[Story], *, half_up: bool, off: bool) -> str:
    said = []
    ups, waiting = _split(scene, sowing)
    if off:
        said.append(f"Take the cover off {listed(names_of(ups))}." if waiting else "Take the cover off.")
    if fresh:
        hours = known_hours(scene.light)
        said.append(
            f"Put {listed(names_of(fresh))} under the lamp." + ("" if long_enough(hours) else f" {hours_remedy(hours)}")
        )
        if not half_up:
            dark = " in the dark" if "dark" in sowing.needs else ""
            said.append(f"What is not up yet stays covered{dark} until half are ({COVER_SOURCE}).")
    if off:
        said.append(_mat(scene, sowing))
    if fresh:
        said.append(
            "If they stand under the light already, write the line under_light = true into tray.toml, below [[sowing]]"
            f' and name = "{sowing.name}".'
        )
    return " ".join(part for part in said if part)


def _split(scene: Scene, sowing: Sowing) -> tuple[list[Story], list[Story]]:
    """The plants of a sowing that leave cover and mat at half up, and pots that stay for nothing shows in them.

    Cells of a tray cannot be moved one by one: seen from above all leave.
    """
    own = own_stories(scene, sowing)
    if scene.tray.view.from_ == "above":
        return own, []
    return [s for s in own if s.up is not None], [s for s in own if s.up is None]


def _mat(scene: Scene, sowing: Sowing) -> str:
    """Who comes off the heat mat, and who stays on it because it, or half of its own sowing, is not up yet."""
    placed = any(s.track.settings and s.track.settings.place for s in scene.stories)
    ups, empty = ([s for s in part if not placed or on_mat(s.track)] for part in _split(scene, sowing))
    if not ups:
        return ""
    waiting: list[Story] = []
    for other in scene.tray.sowings:
        up, of, _ = share_up(scene, other)
        if other.name != sowing.name and not half_is_up(up, of):
            waiting += [s for s in own_stories(scene, other) if not placed or on_mat(s.track)]
    said = f"Take {listed(names_of(ups))} off the heat mat" + ("" if placed else ", if there is one")
    if empty:
        said += f"; {_stay(empty)} on it while nothing shows"
    if waiting:
        said += f"; {_stay(waiting)} on it until half of {'its' if len(waiting) == 1 else 'their'} sowing is up"
    return f"{said}."


def _stay(found: list[Story]) -> str:
    return f"{listed(names_of(found))} {'stays' if len(found) == 1 else 'stay'}"


def _up_for(scene: Scene, fresh: list[Story]) -> str:
    """How long each plant has been up, longest first, those of the same hour together."""
    by_hours: dict[int, list[str]] = {}
    for s in fresh:
        if s.up is not None and scene.now is not None:
            wait = scene.now - s.track.clock(s.up.by_row)
            by_hours.setdefault(round(max(wait.total_seconds() / 3600, 0)), []).append(s.track.plant)
    told = [f"{listed(tuple(by_hours[h]))} up for {h} hour{'' if h == 1 else 's'}" for h in sorted(by_hours)[::-1]]
    return "; ".join(told)
