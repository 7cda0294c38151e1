"""Plants that collapse beside one another: what kills a seedling at the soil line spreads to those next to it.

That it spreads in patches is how damping-off is known (cool damp soil, crowding and much water make it worse: Texas A&M
and Michigan State Univ. extension); how many days may lie between two of one patch is a limit of our own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from sproutlapse.growth.cuts import Drop
from sproutlapse.growth.tracks import Track
from sproutlapse.tray import Plant, Tray

# Places are beside one another up to so many times the usual distance of two: in a grid the slanting ones too. Own
# proposal.
BESIDE = 1.5

Near = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True)
class Down:
    """A plant that collapsed: hours since the first usable frame at which it did, at which that could be said, and at
    which it was known to stand again (infinite: never)."""

    plant: str
    at_h: float
    known_h: float
    up_again_h: float = float("inf")


@dataclass(frozen=True)
class Bed:
    """A tray's collapses, who stands beside whom (`near_of`), and the days that may lie between two of a patch."""

    downs: Sequence[Down]
    near: Near
    days: float


@dataclass(frozen=True)
class Patch:
    """Plants that collapsed side by side, in order of time, over so many days; and those beside them that stand."""

    plants: tuple[str, ...]
    standing: tuple[str, ...]
    days: float


def near_of(tray: Tray) -> dict[str, tuple[str, ...]]:
    """By plant those whose places are beside its own, in tray order; none where the places tell nothing.

    From the side what counts is where a stem meets the soil, from above the middle of the cell.
    """
    spots = np.array([_spot(p, above=tray.view.from_ == "above") for p in tray.plants], dtype=np.float64)
    if len(spots) < 2:
        return {}
    apart = np.hypot(*(spots[:, None, :] - spots[None, :, :]).transpose(2, 0, 1))
    others = np.where(apart > 0, apart, np.inf).min(axis=1)
    others = others[np.isfinite(others)]
    if not len(others):
        return {}
    close = (apart > 0) & (apart <= BESIDE * float(np.median(others)))
    names = [p.name for p in tray.plants]
    return {name: tuple(names[j] for j in np.flatnonzero(row)) for name, row in zip(names, close, strict=True)}


def _spot(plant: Plant, *, above: bool) -> tuple[float, float]:
    left, top, right, bottom = plant.box_px
    if above:
        return (left + right) / 2, (top + bottom) / 2
    return (left + right) / 2, bottom if plant.soil_y_px is None else plant.soil_y_px


def collapses(found: Sequence[tuple[Track, Sequence[Drop]]]) -> list[Down]:
    """Every collapse of a tray's plants, in tray order."""
    downs = []
    for track, drops in found:
        again = {d.row: float(track.elapsed_h[d.known_row]) for d in drops if d.event == "wilted"}
        downs += [
            Down(
                track.plant, float(track.elapsed_h[d.row]), float(track.elapsed_h[d.known_row]),
                again.get(d.row, float("inf")),
            )
            for d in drops
            if d.event == "collapsed"
        ]  # fmt: skip
    return downs


def patch_of(plant: str, bed: Bed, now_h: float, up: Sequence[str]) -> Patch:
    """The patch that a collapsed plant belongs to, as far as it could be said at `now_h`; itself if it is alone.

    Parameters
    ----------
    up
        Plants of which something is seen then.
    """
    near, down = bed.near, {d.plant: d.at_h for d in bed.downs if d.known_h <= now_h < d.up_again_h}
    patch, waiting = {plant}, [plant]
    while waiting:
        one = waiting.pop()
        fresh = {
            p for p in near.get(one, ()) if p in down and abs(down[p] - down.get(one, now_h)) <= 24 * bed.days
        } - patch
        patch |= fresh
        waiting += sorted(fresh)
    beside = {p for one in patch for p in near.get(one, ())} - set(down)
    hours = [down.get(p, now_h) for p in patch]
    order = list(near)
    return Patch(
        plants=tuple(sorted(patch, key=lambda p: (down.get(p, now_h), order.index(p) if p in near else -1))),
        standing=tuple(p for p in order if p in beside and p in up),
        days=(max(hours) - min(hours)) / 24,
    )


def told_of_neighbours(found: Sequence[tuple[Track, Sequence[Drop]]], tray: Tray) -> dict[str, dict[int, str]]:
    """By plant and row at which a collapse could be said, what is said of those beside it at that photo."""
    bed = Bed(collapses(found), near_of(tray), tray.judge.patch_days)
    if not bed.downs or not bed.near:
        return {}
    out: dict[str, dict[int, str]] = {}
    for track, drops in found:
        for drop in drops:
            if drop.event != "collapsed":
                continue
            now_h = float(track.elapsed_h[drop.known_row])
            patch = patch_of(track.plant, bed, now_h, seen_at([t for t, _ in found], now_h))
            out.setdefault(track.plant, {})[drop.known_row] = told_beside(track.plant, patch)
    return out


def patches_now(found: Sequence[tuple[Track, Sequence[Drop]]], tray: Tray) -> list[Patch]:
    """The patches at the end of the record, single plants among them, each once, in order of their first collapse."""
    bed = Bed(collapses(found), near_of(tray), tray.judge.patch_days)
    now_h = max((float(t.elapsed_h[-1]) for t, _ in found if len(t.time)), default=0.0)
    up = seen_at([t for t, _ in found], now_h)
    fallen = sorted((d for d in bed.downs if now_h < d.up_again_h), key=lambda d: d.at_h)
    made = [patch_of(d.plant, bed, now_h, up) for d in fallen]
    return [p for i, p in enumerate(made) if p not in made[:i]]


def seen_at(found: Sequence[Track], now_h: float) -> list[str]:
    """Plants of which something was seen in the last photo up to `now_h` that could tell."""
    out = []
    for track in found:
        rows = np.flatnonzero(np.isfinite(track.canopy) & (track.elapsed_h <= now_h))
        if len(rows) and track.canopy[rows[-1]] > 0:
            out.append(track.plant)
    return out


def told_beside(plant: str, patch: Patch) -> str:
    """What is said of a collapse as to those beside it; nothing where it has no neighbours."""
    stand = ""
    if patch.standing:
        beside, verb = "it" if len(patch.plants) == 1 else "them", "stands" if len(patch.standing) == 1 else "stand"
        stand = f"{_listed(patch.standing)} beside {beside} still {verb}"
    if len(patch.plants) == 1:
        return f"; alone so far: {stand}" if stand else ""
    others = [p for p in patch.plants if p != plant]
    told = f"; side by side with {_listed(others)}{_within(patch.days)}, so it spreads"
    return f"{told}; {stand}" if stand else told


def _within(days: float) -> str:
    if days <= 0:
        return " at once"
    return " within a day" if days <= 1 else f" within {int(np.ceil(days))} days"


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
