"""Care of room: leaves that touch the neighbour's, more seedlings in a pot than are to be kept, a tray that leans."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from sproutlapse.care_marks import open_since
from sproutlapse.care_scene import WET_CAUTION, Scene, Touch, listed, names_of, since_text
from sproutlapse.crops import crop_name, is_allium
from sproutlapse.growth.judge import Story
from sproutlapse.growth.tracks import Floats
from sproutlapse.results import CareItem

DAY_H = 24.0
# Neighbours are those no farther apart than so many times the nearest. Own proposal: the diagonal of a square is 1.41.
NEIGHBOUR_TIMES = 1.2
# Two seed leaves that open look like two seedlings for a day; more that stand for so long are two. Own proposal.
THIN_AFTER = timedelta(days=3)
# Kinds that are kept as a clump where no number to keep was written down. From memory.
CLUMPS = frozenset({"basil", "chive"})
# Leaning: the middle of all plants' tips, and this share of them, lie so many degrees to one side over a day. Own
# proposals: tips of rendered upright trays stray by 13 degrees from photo to photo, the middle of a tray by up to 8.
LEAN_DEG, LEAN_SHARE, LEAN_PLANTS, LEAN_FROM_MM = 15.0, 0.8, 3, 20.0
LEAN_DAYS_BACK = 30
SNIP_CAUTION = "Use clean, sharp scissors."


def touching(scene: Scene) -> list[Touch]:
    """Neighbours whose widths together reach from the middle of one place to that of the other.

    Both widths are halved as if leaves reached as far to either side, so it is told as nearly so.
    """
    per_px = _mm_per_px(scene.table)
    here = [s for s in scene.here() if s.track.settings is not None and np.isfinite(s.track.width).any()]
    if per_px is None or len(here) < 2:
        return []
    places = np.array([_middle(s) for s in here]) * per_px
    if scene.tray.view.from_ != "above":
        # How high a pot stands in the photo says nothing from the side; how far behind the others it stands does.
        places[:, 1] = [s.track.settings.behind_mm if s.track.settings else 0.0 for s in here]
    apart = np.hypot(*(places[:, None] - places[None, :]).transpose(2, 0, 1))
    apart[apart <= 0] = np.inf
    if not np.isfinite(apart).any():
        return []
    near = apart <= NEIGHBOUR_TIMES * apart.min()
    found = []
    for i, j in zip(*np.nonzero(np.triu(near)), strict=True):
        one, other = here[i].track, here[j].track
        if len(one.width) != len(other.width):
            continue
        reach = (one.width + other.width) / 2
        row = open_since(reach >= apart[i, j], np.isfinite(reach), one.elapsed_h, clear_h=DAY_H)
        if row is not None:
            found.append(Touch(here[i], here[j], one.clock(row), float(apart[i, j])))
    return found


def _middle(s: Story) -> tuple[float, float]:
    assert s.track.settings is not None
    left, top, right, bottom = s.track.settings.box_px
    return (left + right) / 2, (top + bottom) / 2


def _mm_per_px(table: pd.DataFrame) -> float | None:
    """The middle scale of the tray, from heights or, from above, from areas; None without one."""
    if table.empty:
        return None
    value = float((table["height_mm"] / table["height_px"]).median())
    if not np.isfinite(value):
        value = float((table["canopy_mm2"] / table["canopy_px"]).median() ** 0.5)
    return value if np.isfinite(value) and value > 0 else None


def crowded_together(scene: Scene) -> list[CareItem]:
    """One item for all plants whose leaves touch; blades are left out, for they stand among each other unharmed."""
    pairs = [t for t in scene.touching if "grasslike" not in (t.one.track.habit, t.other.track.habit)]
    names = tuple(dict.fromkeys(n for t in pairs for n in (t.one.track.plant, t.other.track.plant)))
    since = {n: max(t.since for t in pairs if n in (t.one.track.plant, t.other.track.plant)) for n in names}
    left = tuple(n for n in names if scene.to_do("room", n, since[n]))
    if not left:
        return []
    above = scene.tray.view.from_ == "above"
    worst = min(pairs, key=lambda t: t.apart_mm)
    return [
        CareItem(
            key=f"room:{','.join(left)}",
            urgency="this week",
            plants=left,
            title=f"Leaves touch: {listed(left)}",
            reason="Seedlings that touch their neighbours reach up instead of out (seen on tomato plugs standing 22 mm"
            " apart, Bjorkman & Garner 1998).",
            number=f"{worst.one.track.plant} and {worst.other.track.plant} stand {worst.apart_mm:.0f} mm apart and"
            " their leaves span that",
            remedy=(
                "Pot them on, or thin out every second cell."
                if above
                else "Move the pots apart until leaves just do not touch. Where there is no room, and roots hold the"
                " soil together when you tip one out, pot them on."
            ),
            caution=WET_CAUTION,
            since=since_text(list(since.values())),
            causes=tuple(f"room:{n}" for n in left),
        )
    ]


def thin_out(scene: Scene) -> list[CareItem]:
    """One item for the pots with more seedlings than are to be kept; none where that number may be a slip.

    Only where it is known that more seeds were sown than are to be kept, and never a clump whose number to keep was
    left at one.
    """
    own: list[tuple[Story, int, datetime]] = []
    for s in scene.here():
        found = _too_many(scene, s)
        if found is not None and scene.to_do("thin", s.track.plant, found[1]):
            own.append((s, *found))
    if not own:
        return []
    names = names_of([s for s, _, _ in own])
    return [
        CareItem(
            key=f"thin:{','.join(names)}",
            urgency="this week",
            plants=names,
            title=f"Thin out: {listed(names)}",
            reason="They share one pot's light and roots (common practice, no source).",
            number="; ".join(f"{s.track.plant}: {count} seedlings, {_keep(s)} to keep" for s, count, _ in own),
            remedy="Once you see which are the strongest, snip the others off at the soil. Do not pull: that tears the"
            " roots of those that stay. Stop at the number to keep, and keep one more where one looks weak.",
            caution=SNIP_CAUTION,
            since=since_text([when for _, _, when in own]),
            causes=tuple(f"thin:{n}" for n in names),
        )
    ]


def _keep(s: Story) -> int:
    return s.track.settings.keep_per_cell if s.track.settings else 1


def _too_many(scene: Scene, s: Story) -> tuple[int, datetime] | None:
    """How many seedlings stand in a pot that is to be thinned out, and since when; None for all others."""
    track, sowing = s.track, scene.sowing(s.track)
    if track.settings is None or sowing is None or sowing.seeds_per_cell is None or scene.now is None:
        return None
    keep, most = _keep(s), sowing.seeds_per_cell * sowing.seedlings_per_seed
    clump = track.habit == "grasslike" or is_allium(sowing.crop) or crop_name(sowing.crop) in CLUMPS
    if most <= keep or (keep == 1 and (clump or sowing.seedlings_per_seed > 1)):
        return None
    known = np.isfinite(track.canopy) & np.isfinite(track.seedlings)
    row = open_since(np.nan_to_num(track.seedlings) > keep, known, track.elapsed_h, clear_h=DAY_H)
    if row is None or scene.now - track.clock(row) < THIN_AFTER:
        return None
    last = track.seedlings[known & (track.elapsed_h > track.elapsed_h[-1] - 2 * DAY_H)]
    count = int(np.median(last)) if len(last) else 0
    return (min(count, most), track.clock(row)) if count > keep else None


def leaning(scene: Scene) -> list[CareItem]:
    """One item where all plants lean to one side: the light comes from there. One that leans is its own affair."""
    if scene.now is None or scene.tray.view.from_ == "above" or "lean_deg" not in scene.table:
        return []
    own = [s for s in scene.here() if s.track.habit not in ("grasslike", "climber") and s.track.in_mm]
    table = scene.table
    tips = [
        (s.track.elapsed_h, np.where(s.track.height >= LEAN_FROM_MM, _column(table, s.track.plant), np.nan))
        for s in own
    ]
    last = max((float(hours[-1]) for hours, _ in tips), default=0.0)
    lean, before_that = (_shared_lean(tips, last - days * DAY_H) for days in (0, 1))
    # The line from foot to top follows the longest leaf: only what stays so over two days is the light's doing.
    if lean is None or before_that is None or lean * before_that < 0:
        return []
    days = 0
    while days < LEAN_DAYS_BACK and (before := _shared_lean(tips, last - DAY_H * (days + 1))) and before * lean > 0:
        days += 1
    since = scene.now - timedelta(days=days + 1)
    if not scene.to_do("lean", "tray", since):
        return []
    side = "right" if lean > 0 else "left"
    return [
        CareItem(
            key="lean:tray",
            urgency="this week",
            plants=names_of(own),
            title=f"They lean to the {side}",
            reason=f"Nearly all of them lean to the {side} of the photo: the light comes from there.",
            number=f"The middle one leans by {abs(lean):.0f} degrees",
            remedy="Turn each pot half round in its own place, every day or two, or hang the lamp over their middle."
            " Do not turn the tray as a whole: each would stand where another stood.",
            caution="Do not look into bright lamps.",
            since=since_text([since]),
            causes=("lean:tray",),
        )
    ]


def _column(table: pd.DataFrame, plant: str) -> Floats:
    return table.loc[table["plant"] == plant, "lean_deg"].to_numpy(dtype=np.float64)


def _shared_lean(tips: list[tuple[Floats, Floats]], until_h: float) -> float | None:
    """Degrees to the right that all plants lean together over the day that ends so; None where they do not."""
    middles = []
    for hours, lean in tips:
        day = lean[(hours > until_h - DAY_H) & (hours <= until_h) & np.isfinite(lean)]
        if len(day):
            middles.append(float(np.median(day)))
    if len(middles) < LEAN_PLANTS:
        return None
    middle = float(np.median(middles))
    agree = np.mean([m * middle > 0 for m in middles])
    return middle if abs(middle) >= LEAN_DEG and agree >= LEAN_SHARE else None
