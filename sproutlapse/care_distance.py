"""Care of lamps that hang too high for what is small under them: down to the distance of their kind, in steps.

Nothing is said of a lamp whose kind or height is not known, whose plants are sturdy or pale, or may stand taller than
was measured.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from sproutlapse.care_lamp_height import LAMP_CAUTION
from sproutlapse.care_light import shares_lamp
from sproutlapse.care_scene import Scene, names_of, since_text
from sproutlapse.care_sprouts import half_is_up, share_up
from sproutlapse.crops_window import overdue_after
from sproutlapse.figures import amount
from sproutlapse.growth.colour import PALER
from sproutlapse.growth.judge import Story
from sproutlapse.growth.lamps import Gap
from sproutlapse.results import CareItem
from sproutlapse.tray import Sowing

# The farther end of published distances from lamp to seedling. Iowa State Univ. Ext.: fluorescent tubes 4 to 6 in (100
# to 150 mm), LED fixtures 8 to 12 in (200 to 300 mm). Nothing is said for other kinds.
FARTHEST_MM = {"tube": 150.0, "panel": 300.0}
LAMP_STEP_MM = 20


def pale_under(scene: Scene, lamp_name: str) -> list[Story]:
    """Plants under a lamp whose leaves are paler than they were: it may be too near for them already."""
    found = []
    for s in scene.stories:
        lamp = scene.lamp_now(s.track)
        pale = bool(s.fades) and s.fades[-1].until is None and s.fades[-1].event == PALER
        if pale and lamp is not None and lamp.name == lamp_name:
            found.append(s)
    return found


def lamp_far(scene: Scene) -> list[CareItem]:
    """An item for each lamp that hangs farther than its kind should from the tallest plant under it."""
    stretched = {s.track.plant for grade in ("leggy", "stretching") for s in scene.graded(grade)}
    sturdy = {s.track.plant for s in scene.graded("sturdy")}
    items = []
    for gap in scene.known_gaps():
        # Blades have no stem to stretch.
        under = [s for s in scene.here() if shares_lamp(s.track, gap, scene) and s.track.habit != "grasslike"]
        most = FARTHEST_MM.get(gap.lamp.kind or "")
        if most is None or gap.keep_clear_mm is None or gap.at_most or not under:
            continue
        names = set(names_of(under))
        # Of stretched plants the item of theirs speaks of the lamp; sturdy ones say that the light is enough.
        if gap.gap_mm <= max(most, gap.keep_clear_mm) or names & stretched or names <= sturdy:
            continue
        since = _since(gap, under)
        if pots_waiting(scene, gap.lamp.name):
            continue  # covers stand under it still
        if pale_under(scene, gap.lamp.name) or not scene.to_do("lamp far", gap.lamp.name, since):
            continue
        items.append(_item(gap, most, under, since))
    return items


def pots_waiting(scene: Scene, lamp_name: str) -> tuple[str, ...]:
    """Pots under a lamp of sowings of which half are not up, so that covers may stand on them still.

    Not those of a sowing that is overdue: nothing may ever come of it.
    """
    waiting = {sowing.name for sowing in scene.tray.sowings if _waits(scene, sowing)}
    found = []
    for s in scene.stories:
        lamp = scene.lamp_now(s.track)
        if lamp is not None and lamp.name == lamp_name and s.track.settings and s.track.settings.sowing in waiting:
            found.append(s.track.plant)
    return tuple(found)


def _waits(scene: Scene, sowing: Sowing) -> bool:
    up, of, _ = share_up(scene, sowing)
    limit = overdue_after(sowing, times=scene.tray.judge.overdue_times)
    if limit is not None and sowing.sown is not None and scene.now is not None:
        late = scene.now - sowing.sown.replace(tzinfo=None) >= timedelta(days=limit)
        return not half_is_up(up, of) and not late
    return not half_is_up(up, of)


def _since(gap: Gap, under: list[Story]) -> datetime:
    """Since the lamp hangs so, or the first plant under it was up."""
    up = min(s.track.clock(s.up.by_row) for s in under if s.up)
    return max(up, gap.lamp.since.replace(tzinfo=None)) if gap.lamp.since else up


def _item(gap: Gap, most_mm: float, under: list[Story], since: datetime) -> CareItem:
    least = gap.keep_clear_mm or most_mm
    band = f"{least:.0f} to {most_mm:.0f} mm" if least < most_mm else f"{least:.0f} mm"
    kind = gap.lamp.kind
    return CareItem(
        key=f"lamp far:{gap.lamp.name}",
        urgency="this week",
        plants=names_of(under),
        title=f"Lower the lamp “{gap.lamp.name}” in steps",
        reason=f"For a {kind} {band} above the leaves are usual"
        " (Utah State and Iowa State University Extension); from farther away stems grow long.",
        number=f"The gap is {amount(gap.gap_mm, 'mm', float(gap.track.height_sd[gap.row]))}",
        remedy=f"Lower it by no more than {LAMP_STEP_MM} mm a day until {band} are left above the tallest,"
        f" {gap.track.plant}; stop if leaves bleach or turn pale, and keep to what its maker says if that is farther.",
        caution=LAMP_CAUTION,
        since=since_text([since]),
        causes=(f"lamp far:{gap.lamp.name}",),
    )
