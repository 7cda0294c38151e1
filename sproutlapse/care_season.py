"""Care by the calendar: where each sowing stands from covered to planted out, hardening off, planting out."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from sproutlapse.care_scene import WET_CAUTION, Scene, day_text, is_down, listed, names_of, since_text
from sproutlapse.care_sprouts import SPROUT_DAYS, half_is_up, own_stories, share_up
from sproutlapse.crops import crop_name, is_allium, weeks_to_grow
from sproutlapse.growth.judge import Story
from sproutlapse.results import CareItem
from sproutlapse.tray import Sowing

# Published: start one week before (Utah State Univ. Ext.); about two weeks, from one hour a day (Hennepin County Master
# Gardeners 2014). Told from 10 days before on, so that there are 7 to 10.
HARDEN_FROM_DAYS, HARDEN_BY_DAYS = 10, 7
# No picture shows a plant in the garden: the item ends after so long. Own proposal.
PLANT_OUT_DAYS = 7
# First true leaves about so long after coming up: from memory, slower in the cool; photos do not count leaves.
TRUE_LEAF_DAYS = 10

# How cold they bear it while they harden, degrees C: Utah State Univ. Ext. (60 to 65 and 50 to 60 degrees F), and what
# harms tomato and pepper (45 degrees F): Hennepin County Master Gardeners.
HARDEN_C = {"pepper": (16, 18), "eggplant": (16, 18), "tomato": (10, 16)}
HARM_C = 7
# These bear no cold night: vegetables, then flowers; all from memory, no source at hand.
TENDER = frozenset(
    {"tomato", "pepper", "eggplant", "cucumber", "squash", "muskmelon", "watermelon", "basil", "okra", "snap bean",
     "lima bean", "sweet corn",
     "ageratum", "begonia", "celosia", "coleus", "cosmos", "dahlia", "flowering tobacco", "impatiens", "marigold",
     "morning glory", "nasturtium", "pelargonium", "petunia", "salvia", "sunflower", "zinnia"}
)  # fmt: skip


def stages(scene: Scene) -> tuple[str, ...]:
    """Where each sowing stands, one sentence a sowing, in tray order."""
    return tuple(f"{sowing.name}: {_stage(scene, sowing)}." for sowing in scene.tray.sowings if scene.now is not None)


def _stage(scene: Scene, sowing: Sowing) -> str:
    assert scene.now is not None
    up, of, half = share_up(scene, sowing)
    own = own_stories(scene, sowing)
    if of == 0:
        return "no plant in view"
    if up == 0:
        return "covered, nothing up yet"
    out = scene.tray.season.plant_out
    left = (out - scene.now.date()).days if out else None
    if out is not None and left is not None and left <= HARDEN_FROM_DAYS:
        if all(_too_young(scene, s, out) for s in own if s.up):
            return f"too young to go outside; {_days(left)} to planting out" if left > 0 else "too young to plant out"
        if left <= 0:
            return "time to plant out"
        return f"hardening off; {_days(left)} to planting out"
    said = _growing(scene, own, up, of, half)
    if out is not None and left is not None:
        harden = out - timedelta(days=HARDEN_FROM_DAYS)
        said += f"; {_days(left)} to planting out, hardening off from {harden.day} {harden:%B} on"
    return said


def _growing(scene: Scene, own: list[Story], up: int, of: int, half: datetime | None) -> str:
    """The stage of a sowing of which something is up, before it is time to go outside."""
    assert scene.now is not None
    if not half_is_up(up, of):
        return f"first up, {up} of {of}"
    begun = half or min((s.track.clock(s.up.by_row) for s in own if s.up), default=scene.now)
    blades = all(s.track.habit == "grasslike" for s in own)
    names = {s.track.plant for s in own}
    if not blades and any({t.one.track.plant, t.other.track.plant} & names for t in scene.touching):
        return "big enough to be spaced out or potted on"
    if half is not None and scene.now - half <= timedelta(days=SPROUT_DAYS):
        return f"half up, {up} of {of}"
    if blades:
        return f"blades, {up} of {of} up"
    if scene.now - begun < timedelta(days=TRUE_LEAF_DAYS):
        return "seed leaves, by their age"
    return "true leaves, by their age"


def _days(count: int) -> str:
    return f"{count} day{'' if count == 1 else 's'}"


def outside(scene: Scene) -> list[CareItem]:
    """Harden off in the days before `plant_out`, and plant out from that day on; not yet what is too young for it."""
    out = scene.tray.season.plant_out
    # One that lies down is not put out into sun and wind.
    here = [s for s in scene.here() if not is_down(s, scene.tray.judge)]
    if out is None or scene.now is None or not here:
        return []
    left = (out - scene.now.date()).days
    if 0 < left <= HARDEN_FROM_DAYS:
        return _item(scene, here, out, left, "harden")
    if -PLANT_OUT_DAYS < left <= 0:
        return _item(scene, here, out, left, "plant out")
    return []


def _item(scene: Scene, here: list[Story], out: date, left: int, kind: str) -> list[CareItem]:
    since = _harden_from(out) if kind == "harden" else datetime.combine(out, time())
    young = [s for s in here if _too_young(scene, s, out)]
    own = [s for s in here if s not in young and scene.to_do(kind, s.track.plant, since)]
    wait = [s for s in young if scene.to_do("not yet", s.track.plant, _harden_from(out))]
    return [
        *([_go(scene, own, out, left, kind)] if own else []),
        *([_not_yet(scene, wait, out)] if wait else []),
    ]


def _harden_from(out: date) -> datetime:
    return datetime.combine(out - timedelta(days=HARDEN_FROM_DAYS), time())


def _too_young(scene: Scene, s: Story, out: date) -> str:
    """Why a plant is not to go outside for that day, in words; empty where it may.

    Of one that stood there in the first photo nobody knows how long it has been up.
    """
    if s.up is None or scene.now is None:
        return ""
    seen_coming = s.up.after_row is not None or s.up.by_row > 0
    old = (scene.now - s.track.clock(s.up.by_row)).days
    if seen_coming and old < TRUE_LEAF_DAYS:
        return f"Less than {TRUE_LEAF_DAYS} days after coming up a plant has little more than its seed leaves"
    sowing = scene.sowing(s.track)
    weeks = weeks_to_grow(sowing.crop) if sowing else None
    if sowing is None or weeks is None or sowing.sown is None:
        return ""
    day = max(out, scene.now.date())
    had = (day - sowing.sown.date()).days / 7
    if had >= weeks[0]:
        return ""
    usual = "is" if weeks[0] == weeks[1] else "are"
    span = f"{weeks[0]:.0f}" if weeks[0] == weeks[1] else f"{weeks[0]:.0f} to {weeks[1]:.0f}"
    return f"{sowing.name} will be {int(had)} weeks old then; {span} {usual} usual"


def _not_yet(scene: Scene, young: list[Story], out: date) -> CareItem:
    names = names_of(young)
    why = ". ".join(dict.fromkeys(_too_young(scene, s, out) for s in young))
    ends = datetime.combine(out + timedelta(days=PLANT_OUT_DAYS), time())
    return CareItem(
        key=f"not yet:{','.join(names)}",
        urgency="this week",
        plants=names,
        title=f"Not yet to go outside: {listed(names)}",
        reason=f"plant_out in tray.toml is {out.day} {out:%B}. {why}.",
        number=f"{len(names)} of {len(scene.here())} too young",
        remedy="Leave them in and write a later plant_out if these are what it was meant for. This line ends on"
        f" {day_text(ends)}.",
        caution="No sun, wind or cold nights for seed leaves.",
        since=since_text([_harden_from(out)]),
        until=ends.isoformat(timespec="seconds"),
        causes=tuple(f"not yet:{name}" for name in names),
    )


def _go(scene: Scene, own: list[Story], out: date, left: int, kind: str) -> CareItem:
    """Harden off, or plant out, what is old enough."""
    since = _harden_from(out) if kind == "harden" else datetime.combine(out, time())
    names = names_of(own)
    ends = datetime.combine(out if kind == "harden" else out + timedelta(days=PLANT_OUT_DAYS), time())
    crops = {crop_name(sowing.crop) if sowing else None for sowing in (scene.sowing(s.track) for s in own)}
    words = _harden(scene, own, crops) if kind == "harden" else _plant_out(crops)
    return CareItem(
        key=f"{kind}:{','.join(names)}",
        urgency="today" if left <= HARDEN_BY_DAYS else "this week",
        plants=names,
        title="Harden off: outside by day, a little longer each day" if kind == "harden" else "Plant out",
        reason=f"plant_out in tray.toml is {out.day} {out:%B}.",
        number=f"{_days(left)} left" if left > 0 else "today" if left == 0 else f"{_days(-left)} past the day",
        remedy=f"{words} This line ends on {day_text(ends)}.",
        caution=WET_CAUTION,
        since=since_text([since]),
        until=ends.isoformat(timespec="seconds"),
        causes=tuple(f"{kind}:{name}" for name in names),
    )


def _harden(scene: Scene, own: list[Story], crops: set[str | None]) -> str:
    said = [
        "Start with an hour in the shade, out of the wind, and give an hour or two more each day; bring them in at"
        " night, and keep them moist."
    ]
    by_band: dict[tuple[int, int], list[str]] = {}
    for crop in sorted(c for c in crops if c in HARDEN_C):
        by_band.setdefault(HARDEN_C[crop], []).append(crop)
    said += [
        f"{listed(tuple(named)).capitalize()}: best at {low} to {high} °C (Utah State University Extension)."
        for (low, high), named in by_band.items()
    ]
    if crops & TENDER:
        said.append(f"Indoors again below about {HARM_C} °C.")
    if any(is_allium(crop) for crop in crops):
        said.append("Onions and kin: the last cut comes before this.")
    weak = names_of([s for s in own if s in scene.graded("leggy")])
    if weak:
        said.append(f"Slower for {listed(weak)}: long stems break in wind.")
    return " ".join(said)


def _plant_out(crops: set[str | None]) -> str:
    said = ["Look at the forecast first: no frost, on a dull day or in the evening; water the pots an hour before."]
    if crops & TENDER:
        tender = listed(tuple(sorted(c for c in crops if c in TENDER)))
        said.append(f"Wait with {tender} while nights fall below about {HARM_C} °C.")
    return " ".join(said)
