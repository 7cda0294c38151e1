"""Who leads and who lags within a sowing, how even it is, and which of its plants are fit to be used.

Plants are compared at equal age, so that one that came up late is not called slow for it; and over a day around that
age, so that the daily movement of leaves does not decide. What is compared is the height, or from above how far across
the leaves reach (the root of their area).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sproutlapse.growth.cuts import CONFIRM_FRAMES, OTHER_VIEW, Drop
from sproutlapse.growth.emergence import Emergence
from sproutlapse.growth.intervals import own_part
from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.tray import Judge, Tray

PLANT_STANDING = ("age_days", "lead_share", "lead_sd_share", "standing", "usable", "unusable_because")
SOWING_STANDING = ("equal_age_days", "equal_age_height_mm", "equal_age_spread", "usable")

# All are compared at the age of the youngest; one younger than this share of the middle age is not compared yet, since
# it would take the others back to an age that tells little. Own proposal.
OLD_ENOUGH = 2 / 3
HALF_DAY_H = 12.0
FEW_ROWS = 3  # fewer within the day are read off straight between the photos around
LEAST_FOR_SPREAD = 3


@dataclass(frozen=True)
class Grown:
    """One plant with what its standing is judged from: its grade, and its falls and cuts in order."""

    track: Track
    up: Emergence | None
    drops: Sequence[Drop]
    grade: str


@dataclass(frozen=True)
class Standings:
    """The columns of `PLANT_STANDING` by plant and of `SOWING_STANDING` by sowing."""

    plants: dict[str, dict[str, object]]
    sowings: dict[str, dict[str, object]]


def standings(grown: Sequence[Grown], tray: Tray, scale_sd: float = 0.0) -> Standings:
    """Judge each sowing of the tray on its own; plants without a sowing are compared with none.

    Parameters
    ----------
    grown
        All plants.
    tray
        What stands in view and the limits.
    scale_sd
        Standard deviation of the first view's scale as a share: the same for all plants, so that it does not count
        among them.
    """
    plants: dict[str, dict[str, object]] = {g.track.plant: _row() | _use(g, math.nan, tray.judge) for g in grown}
    sowings: dict[str, dict[str, object]] = {}
    for sowing in tray.sowings:
        own = [g for g in grown if g.track.settings is not None and g.track.settings.sowing == sowing.name]
        age, sizes = equal_age(own, tray.judge.compare_from_days, scale_sd)
        known = {name: value for name, (value, _) in sizes.items()}
        leggy = {g.track.plant for g in own if g.grade == "leggy"}
        for g in own:
            name = g.track.plant
            share, sd = _lead(name, sizes, leggy)
            plants[name].update(
                age_days=age if name in sizes else math.nan,
                lead_share=share,
                lead_sd_share=sd,
                standing=_word(share, sd, tray.judge),
                **_use(g, share if len(sizes) >= LEAST_FOR_SPREAD else math.nan, tray.judge),
            )
        values = np.asarray(list(known.values()), dtype=np.float64)
        even = len(values) >= LEAST_FOR_SPREAD
        in_mm = bool(own) and own[0].track.in_mm and _by_height(own)
        usable = [plants[g.track.plant]["usable"] for g in own]
        sowings[sowing.name] = {
            "equal_age_days": age if len(values) else math.nan,
            "equal_age_height_mm": float(np.median(values)) if len(values) and in_mm else math.nan,
            "equal_age_spread": float(values.std(ddof=1) / values.mean()) if even else math.nan,
            "usable": sum(u is True for u in usable) if None not in usable and usable else None,
        }
    return Standings(plants, sowings)


def _row() -> dict[str, object]:
    nan = math.nan
    return {"age_days": nan, "lead_share": nan, "lead_sd_share": nan, "standing": "", "usable": None,
            "unusable_because": ""}  # fmt: skip


def _by_height(own: Sequence[Grown]) -> bool:
    return any(np.isfinite(g.track.height).any() for g in own)


def equal_age(
    own: Sequence[Grown], from_days: float, scale_sd: float = 0.0
) -> tuple[float, dict[str, tuple[float, float]]]:
    """Days since emergence at which plants are compared, `from_days` at least, and each one's size then with its
    standard deviation.

    No plant and NaN where fewer than two have a known hour of emergence and an age to compare.
    """
    heights = _by_height(own)
    told = {g.track.plant: series for g in own if (series := _series(g, scale_sd, heights=heights)) is not None}
    ages = np.asarray([float(age[-1]) - HALF_DAY_H / 24 for age, _, _, _ in told.values()], dtype=np.float64)
    ages = ages[ages >= from_days]
    if len(ages) < 2:
        return math.nan, {}
    age = float(ages[ages >= OLD_ENOUGH * np.median(ages)].min())
    sizes = {name: size for name, series in told.items() if (size := _size_at(age, *series)) is not None}
    return (age, sizes) if len(sizes) >= 2 else (math.nan, {})


def _series(g: Grown, scale_sd: float, *, heights: bool) -> tuple[Floats, Floats, Floats, float] | None:
    """Age in days, size and its standard deviation in each photo before the first cut or fall, and how unsure the age
    is; None for a plant of which it is not known when it came up."""
    if g.up is None or g.up.after_row is None:
        return None
    t = g.track
    size = t.height if heights else np.sqrt(t.canopy)
    until = min((d.row for d in g.drops if d.breaks_growth and d.event != OTHER_VIEW), default=len(size))
    ok = np.isfinite(size[:until]) & (size[:until] > 0) & ~t.cut_off[:until]
    ok[: g.up.by_row] = False
    rows = np.flatnonzero(ok)
    if len(rows) == 0:
        return None
    gap_h = float(t.elapsed_h[g.up.by_row] - t.elapsed_h[g.up.after_row])
    born = float(t.elapsed_h[g.up.by_row]) - gap_h / 2
    sd = np.full(len(rows), np.nan)
    if heights:
        # Plants of one age may be seen in different views, whose scales err apart: in a further one it stays in.
        shared = np.where(t.view[rows] > 0, 0.0, scale_sd) if len(t.view) else np.full(len(rows), scale_sd)
        pairs = zip(t.height[rows], t.height_sd[rows], shared, strict=True)
        sd = np.asarray([own_part(h, s, c).own_sd if np.isfinite(s) else s for h, s, c in pairs], np.float64)
    # Anywhere in the gap between two photos: the standard deviation of an even spread.
    return (t.elapsed_h[rows] - born) / 24, size[rows], sd, gap_h / math.sqrt(12) / 24


def _size_at(age: float, ages: Floats, sizes: Floats, sds: Floats, age_sd: float) -> tuple[float, float] | None:
    """Size around an age and its standard deviation; None where no photo is near enough."""
    half = HALF_DAY_H / 24
    if ages[-1] < age + half - 1e-9 or ages[0] > age:
        return None
    near = np.abs(ages - age) <= half + 1e-9
    size = float(np.median(sizes[near])) if near.sum() >= FEW_ROWS else float(np.interp(age, ages, sizes))
    before, later = np.interp([age - 2 * half, age], ages, sizes)
    slope = float(later - before) / (2 * half)
    scatter = float(np.nanmedian(sds[near])) if np.isfinite(sds[near]).any() else _scatter(ages[near], sizes[near])
    return size, math.hypot(scatter, slope * age_sd)


def _scatter(ages: Floats, sizes: Floats) -> float:
    """Spread about a straight line of a few photos, for sizes that carry no uncertainty of their own."""
    if len(ages) < FEW_ROWS:
        return 0.0
    rest = sizes - np.polyval(np.polyfit(ages, sizes, 1), ages)
    return float(np.sqrt((rest**2).sum() / (len(ages) - 2)))


def _lead(name: str, sizes: dict[str, tuple[float, float]], leggy: set[str]) -> tuple[float, float]:
    """By what share a plant is larger than the middle of the others at equal age, and its standard deviation.

    Leggy ones are left out of the middle: beside a long stem a sturdy plant does not lag. Fewer than two others have
    no middle.
    """
    others = [pair for other, pair in sizes.items() if other != name and other not in leggy]
    if name not in sizes or len(others) < LEAST_FOR_SPREAD - 1:
        return math.nan, math.nan
    size, sd = sizes[name]
    middle = float(np.median([value for value, _ in others]))
    # A median of n is about a quarter less sure than their mean.
    middle_sd = 1.25 * math.sqrt(sum(s**2 for _, s in others)) / len(others) if len(others) > 2 else others[0][1]
    return size / middle - 1, math.hypot(sd, size / middle * middle_sd) / middle


def _word(share: float, sd: float, limits: Judge) -> str:
    """leads or lags where it is beyond the limit and ahead or behind for certain; level otherwise; empty if unknown."""
    if math.isnan(share):
        return ""
    if abs(share) < limits.lead_share or abs(share) <= 2 * sd:
        return "level"
    return "leads" if share > 0 else "lags"


def _use(g: Grown, share: float, limits: Judge) -> dict[str, object]:
    """Whether a plant is fit to be planted on, by the rule in the README: up, there, standing, not leggy, no runt."""
    seen = np.flatnonzero(np.isfinite(g.track.canopy))
    if len(seen) < limits.emerged_frames:
        return {"usable": None, "unusable_because": ""}
    why = ""
    if g.up is None:
        why = "not up"
    elif not (g.track.canopy[seen[-limits.emerged_frames :]] > 0).any():
        why = "gone"
    elif _down(g, limits):
        why = "down"
    elif g.grade == "leggy":
        why = "leggy"
    elif not math.isnan(share) and 1 + share < limits.usable_share:
        why = "too small for its age"
    return {"usable": not why, "unusable_because": why}


def _down(g: Grown, limits: Judge) -> bool:
    """Whether a leafy plant fell or collapsed and does not stand again; blades are cut and stand up anew."""
    falls = [d for d in g.drops if d.event in ("flopped", "collapsed")]
    if g.track.habit == "grasslike" or not falls or g.drops[-1] is not falls[-1]:
        return False
    rows = np.flatnonzero(np.isfinite(g.track.height) & (g.track.height > 0))[-CONFIRM_FRAMES:]
    return bool((g.track.height[rows] < limits.wilt_recovers_share * falls[-1].before).any())
