"""Groups held against each other: counts, days to come up and sizes at equal age, each with its interval, how often
chance alone would do it, and whether a difference may be claimed.

A difference is claimed only where nothing else differs along with the groups, where chance goes so far less than once
in 20 after all that was looked at is reckoned in (Holm), and where it also holds with the plants' places taken out.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sproutlapse.figures import GIVE_OR_TAKE
from sproutlapse.growth import chance
from sproutlapse.growth.chance import NO_EFFECT, Counts, Effect, Floats
from sproutlapse.growth.fair_design import SOWN, Design, designed
from sproutlapse.growth.fair_pots import LOST_DAYS, SIZES, By, Counted, Pot, Size, common_age, counted_until, size_at
from sproutlapse.growth.time_fit import share_interval

Rows = NDArray[np.intp]
Picked = NDArray[np.bool_]
Figure = Literal["count", "days", "height", "canopy", "height_to_leaf"]
# Why a figure was not compared, besides what its groups cannot be told from.
Silent = Literal[
    "", "few", "no scale", "two views", "from above", "several seeds", "hour not known", "no day of sowing"
]

LIMIT = 0.05  # chance below which a difference is claimed, after all that was looked at is reckoned in
# Fewer pots a side tell no size. Own proposal.
LEAST_POTS = 3


@dataclass(frozen=True)
class Held:
    """One figure of two groups.

    Attributes
    ----------
    one, other
        The groups' figures; of those compared.
    n_one, n_other
        How many they stand on: seeds or pots for the count, else pots.
    effect
        The first less the second; its `chance` is that of the test.
    strict
        The chance after all that was looked at is reckoned in; NaN where the groups cannot be told from something else.
    silent
        Why there is no figure, empty where there is one.
    at_days
        Days after sowing up to which was counted, or the age at which sizes are compared.
    unit
        Of the figure.
    sooner
        Of the days: more than 0 where the first came up sooner or in greater number, as the test sees it.
    """

    figure: Figure
    one: float
    other: float
    n_one: int
    n_other: int
    effect: Effect
    at_days: float
    unit: str
    silent: Silent = ""
    strict: float = math.nan
    sooner: float = math.nan

    @property
    def claimed(self) -> bool:
        """Whether this is a difference and not chance."""
        return self.strict <= LIMIT


@dataclass(frozen=True)
class PairHeld:
    """Two groups with all their figures; `counted` says up to which day of them is counted."""

    one: str
    other: str
    design: Design
    held: tuple[Held, ...]
    counted: Counted


@dataclass(frozen=True)
class Group:
    """One group: how many of how many units came up by `days` (the longest that it could be held against another),
    between which shares such seed may lie, and the middle day."""

    name: str
    pots: tuple[Pot, ...]
    up: int
    of: int
    low: float
    high: float
    middle_days: float
    days: float

    @property
    def sown(self) -> int:
        """How many were sown in all, those gone early too."""
        return sum(len(p.by) for p in self.pots)

    @property
    def up_at_all(self) -> int:
        """How many came up by the last photo of each tray."""
        return sum(int(np.isfinite(p.by).sum()) for p in self.pots)


@dataclass(frozen=True)
class Promise:
    """What a packet promised and what came up; `settled` once all are up or what is not is overdue."""

    sowing: str
    percent: float
    up: int
    of: int
    chance: float
    settled: bool


@dataclass(frozen=True)
class Compared:
    """A whole comparison; `days` is the last day after sowing up to which any two groups were counted, `unwatched` the
    names of groups without a photo since their sowing."""

    by: By
    groups: tuple[Group, ...]
    pairs: tuple[PairHeld, ...]
    promises: tuple[Promise, ...]
    any_of: dict[Figure, float]
    days: float
    nameless: int
    looked_at: int
    unwatched: tuple[str, ...] = ()

    @property
    def pots(self) -> tuple[Pot, ...]:
        """All that were compared."""
        return tuple(p for g in self.groups for p in g.pots)


def compared(pots: Sequence[Pot], by: By) -> Compared:
    """Hold all groups against each other, two at a time.

    Parameters
    ----------
    pots
        Of all trays.
    by
        What the groups are named by; pots without such a name are left out and counted.
    """
    named = list(dict.fromkeys(name for p in pots if (name := p.group(by))))
    own = {name: ps for name in named if (ps := [p for p in pots if p.group(by) == name and p.watched > 0])}
    held = {both: designed(own[both[0]], own[both[1]], by) for both in combinations(own, 2)}
    # Each pair has a last day of its own, so that one sown late takes none from the others.
    until = {both: counted_until(design.pots) for both, design in held.items()}
    groups = {name: _group(name, ps, [u.days for both, u in until.items() if name in both]) for name, ps in own.items()}
    # Those of which more came up stand first.
    names = sorted(own, key=lambda name: -groups[name].up / max(groups[name].of, 1))
    pairs = [_pair(a, b, designed(own[a], own[b], by), by) for a, b in combinations(names, 2)]
    fair = [(k, n) for k, pair in enumerate(pairs) if not pair.design.entangled for n in range(len(pair.held))]
    strict = dict(zip(fair, chance.stricter([pairs[k].held[n].effect.chance for k, n in fair]), strict=True))
    pairs = [
        replace(p, held=tuple(replace(h, strict=strict.get((k, n), math.nan)) for n, h in enumerate(p.held)))
        for k, p in enumerate(pairs)
    ]
    return Compared(
        by=by,
        groups=tuple(groups[name] for name in names),
        pairs=tuple(pairs),
        promises=tuple(promises(pots)),
        any_of=_any_of(pairs, own, by),
        days=max((g.days for g in groups.values()), default=math.nan),
        nameless=sum(not p.group(by) for p in pots),
        looked_at=sum(not math.isnan(value) for value in strict.values()),
        unwatched=tuple(name for name in named if name not in own),
    )


def _group(name: str, pots: Sequence[Pot], until: Sequence[float]) -> Group:
    days = max(until, default=max(p.watched for p in pots))
    known = [p for p in pots if p.lost_at >= days - LOST_DAYS]
    up, of = sum(p.up_by(days) for p in known), sum(len(p.by) for p in known)
    middles = [m for p in known if p.dated for m in _middles(p) if m <= days]
    middle = float(np.median(middles)) if middles else math.nan
    return Group(name, tuple(pots), up, of, *share_interval(up, of), middle, days)


def _middles(pot: Pot) -> Floats:
    """The middle of the gap in which each unit that came up did."""
    up = np.isfinite(pot.by)
    return np.asarray((pot.after[up] + pot.by[up]) / 2, np.float64)


def _pair(one: str, other: str, design: Design, by: By) -> PairHeld:
    until = counted_until(design.pots)
    seen = design.only(until.has)
    # Where groups are places themselves, their place is not taken out of them.
    where, places = (d.places if by in SOWN else np.zeros((len(d.block), 0)) for d in (seen, design))
    held = [_count(seen, where, until.days), _days(seen, where, until.days)]
    held += [_size(design, places, size) for size in SIZES]
    return PairHeld(one, other, design, tuple(held), until)


def _effect(design: Design, where: Floats, values: Floats, rows: Rows) -> Effect:
    """The difference of some pots' values by the design's own unit."""
    second, block = design.second[rows], np.asarray(design.block)[rows]
    if second.all() or not second.any():
        return NO_EFFECT
    if design.unit == "pot":
        # With the edge taken out and without, for its step is no straight line: the one that claims less is told.
        both_ways = [chance.difference(values, second, block, where[rows][:, :k]) for k in (2, 3)]
        return max(both_ways, key=lambda e: -1.0 if math.isnan(e.chance) else e.chance)
    trays = np.asarray([p.tray for p in design.pots])[rows]
    if design.unit == "tray alone":
        a, b = ([values[(trays == t)].mean() for t in np.unique(trays[side])] for side in (~second, second))
        return chance.between_trays(a, b)
    bare = chance.without_place(values, second, block, where[rows])
    both = [t for t in np.unique(trays) if len(set(second[trays == t])) == 2]
    return chance.over_trays([_mean_less(bare, second, block, trays == t) for t in both])


def _mean_less(values: Floats, second: Picked, block: Rows, own: Picked) -> float:
    """The mean difference within a tray's blocks, each block by how much it can tell."""
    less, weights = [], []
    for b in np.unique(block[own]):
        x, y = values[own & (block == b) & ~second], values[own & (block == b) & second]
        if len(x) and len(y):
            less.append(x.mean() - y.mean())
            weights.append(len(x) * len(y) / (len(x) + len(y)))
    return float(np.average(less, weights=weights))


def _count(design: Design, where: Floats, days: float) -> Held:
    pots = design.pots
    rows = np.arange(len(pots))
    ups, ofs = np.asarray([p.up_by(days) for p in pots], np.int_), np.asarray([len(p.by) for p in pots], np.int_)
    second, block = design.second, np.asarray(design.block, np.int_)
    sides = [(int(ups[side].sum()), int(ofs[side].sum())) for side in (~second, second)]
    (up, of), (other_up, other_of) = sides
    share, other = (u / n if n else math.nan for u, n in sides)
    if not of or not other_of or "units" in design.entangled:
        return Held("count", share, other, of, other_of, NO_EFFECT, days, "share", "few")
    told = _effect(design, where, ups / ofs, rows)
    if design.unit == "pot":
        tables = [
            Counts(*(int(x[(block == b) & side].sum()) for side in (~second, second) for x in (ups, ofs)))
            for b in np.unique(block)
        ]
        exact = chance.counts_by_chance(tables)
        crowd = any(p.crowd for p in pots)
        if not crowd:
            # How wide it is for such counts, about the difference within blocks.
            less, low, high = chance.counts_difference(up, of, other_up, other_of)
            middle = _mean_less(ups / ofs, second, block, np.ones(len(rows), np.bool_))
            told = Effect(middle, middle - (less - low), middle + (high - less), told.chance)
        adjusted = told.chance
        # Seeds of one pot share its luck: where they cannot be counted by pots, nothing is claimed.
        unknown = math.nan if crowd else exact
        told = replace(told, chance=max(exact, adjusted) if not math.isnan(adjusted) else unknown)
    return Held("count", share, other, of, other_of, told, days, "share")


def _days(design: Design, where: Floats, days: float) -> Held:
    pots = design.pots
    none = Held("days", math.nan, math.nan, 0, 0, NO_EFFECT, days, "days")
    if not all(p.dated for p in pots):
        return replace(none, silent="hour not known")
    if not design.one or not design.other:
        return replace(none, silent="few")
    if "units" in design.entangled or len({p.sowing.sown is None for p in pots}) > 1 or (
        len(design.trays) > 1 and pots[0].sowing.sown is None
    ):  # fmt: skip
        return replace(none, silent="no day of sowing")
    owner = np.repeat(np.arange(len(pots)), [len(p.by) for p in pots])
    after, by = (np.concatenate([getattr(p, key) for p in pots]) for key in ("after", "by"))
    up = by <= days
    when = np.where(up, (after + np.where(up, by, 0.0)) / 2, np.minimum(after, days))
    block = np.asarray(design.block)[owner]
    scores = chance.emergence_scores(when, up, block)
    per_pot = np.bincount(owner, scores, len(pots)) / np.bincount(owner, minlength=len(pots))
    ups = np.bincount(owner, up, len(pots))
    rows = np.flatnonzero(ups > 0)
    means = np.bincount(owner, np.where(up, when, 0.0), len(pots))[rows] / ups[rows]
    second = design.second[rows]
    n, m = int((~second).sum()), int(second.sum())
    if not n or not m:
        return replace(none, silent="few")
    told = _effect(design, where, means, rows)
    scored = _effect(design, where, per_pot, np.arange(len(pots)))
    ranked = scored.chance
    if design.unit == "pot":
        test = chance.times_by_chance(when, up, design.second[owner], block)
        crowd = any(p.crowd for p in pots)
        ranked = max(test, ranked) if not math.isnan(ranked) else math.nan if crowd else test
    return replace(
        none,
        one=float(means[~second].mean()),
        other=float(means[second].mean()),
        n_one=n,
        n_other=m,
        effect=replace(told, chance=ranked),
        sooner=scored.difference,
    )


def _size(design: Design, where: Floats, size: Size) -> Held:
    pots = design.pots
    age = common_age(pots, size)
    values = np.asarray([size_at(p, size, age) for p in pots], np.float64)
    rows = np.flatnonzero(np.isfinite(values))
    second = design.second[rows]
    n, m = int((~second).sum()), int(second.sum())
    in_mm = all(p.in_mm for p in pots)
    units: dict[Size, tuple[str, str]] = {"height": ("mm", "pixels"), "canopy": ("mm²", "pixels")}
    unit = units.get(size, ("", ""))[0 if in_mm else 1]
    none = Held(size, math.nan, math.nan, n, m, NO_EFFECT, age, unit)
    silent = _not_alike(design, size)
    if silent:
        return replace(none, silent=silent)
    if not n or not m:
        return replace(none, silent="few")
    mean, other = (float(values[rows][side].mean()) for side in (~second, second))
    if min(n, m) < LEAST_POTS:
        return replace(none, silent="few", one=mean, other=other)
    told = _effect(design, where, values[rows], rows)
    power = {"height": 1.0, "canopy": 2.0, "height_to_leaf": 0.0}[size]
    scale = power * max(p.scale_sd for p in pots) if in_mm else 0.0
    return Held(size, mean, other, n, m, _with_scale(told, scale), age, unit)


def _not_alike(design: Design, size: Size) -> Silent:
    """Why a size cannot be compared at all, if so."""
    pots = design.pots
    if size != "canopy" and all(p.above for p in pots):
        return "from above"
    if len({p.above for p in pots}) > 1:
        return "two views"
    if size != "height_to_leaf" and len(design.trays) > 1 and not all(p.in_mm for p in pots):
        return "no scale"
    return "several seeds" if size != "height" and any(p.crowd for p in pots) else ""


def _with_scale(told: Effect, sd: float) -> Effect:
    """The interval with the scale's own error, which stretches a difference and turns none round."""
    own = abs(told.difference) * sd * GIVE_OR_TAKE
    low, high = (told.difference + s * math.hypot(abs(end - told.difference), own) for s, end in
                 ((-1, told.low), (1, told.high)))  # fmt: skip
    return replace(told, low=low, high=high)


def _any_of(pairs: Sequence[PairHeld], own: dict[str, list[Pot]], by: By) -> dict[Figure, float]:
    """The chance that several groups, all alike, differ so much among them; for three groups and more."""
    if len(own) < 3 or by not in SOWN or any(p.design.entangled or p.design.unit != "pot" for p in pairs):
        return {}
    pots = [p for side in own.values() for p in side]
    keys = {k: n for n, k in enumerate(dict.fromkeys((p.tray, p.lamp) for p in pots))}
    whole = Design(tuple(pots), (), tuple(keys[p.tray, p.lamp] for p in pots), "pot", ())
    group, block = np.asarray([p.group(by) for p in pots]), np.asarray(whole.block)
    until = counted_until(pots)
    columns: dict[Figure, Floats] = {}
    if all(p.counted.days <= until.days + LOST_DAYS for p in pairs):  # else one of them would take days from the rest
        shares = [p.up_by(until.days) / len(p.by) if until.has(p) else math.nan for p in pots]
        columns["count"] = np.asarray(shares, np.float64)
    for size in SIZES:
        if any(h.figure == size and h.silent for pair in pairs for h in pair.held):
            continue
        age = common_age(pots, size)
        columns[size] = np.asarray([size_at(p, size, age) for p in pots], np.float64)
    out: dict[Figure, float] = {}
    for figure, values in columns.items():
        ok = np.isfinite(values)
        if len(np.unique(group[ok])) == len(own):
            out[figure] = chance.any_difference(values[ok], group[ok], block[ok], whole.places[ok])[1]
    return out


def promises(pots: Sequence[Pot]) -> list[Promise]:
    """Each packet's promise against what came up; only where the seeds are counted."""
    out = []
    told = [p for p in pots if p.sowing.packet_percent is not None and p.per_seed]
    for name, percent in dict.fromkeys((p.sowing.name, float(p.sowing.packet_percent or 0)) for p in told):
        own = [p for p in told if p.sowing.name == name and p.sowing.packet_percent == percent]
        up, of = sum(int(np.isfinite(p.by).sum()) for p in own), sum(len(p.by) for p in own)
        late = all(
            p.sowing.sown is not None and p.late_from is not None and p.watched >= p.late_from
            for p in own
            if not np.isfinite(p.by).all()
        )
        out.append(Promise(name, percent, up, of, chance.so_few_by_chance(up, of, percent), late))
    return out
