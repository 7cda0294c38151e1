"""Whether two groups can be held against each other at all: who shares tray, lamp and place with whom, what the unit is
that was given the treatment, and what else differs along with it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from sproutlapse.growth.chance import Floats, ahead
from sproutlapse.growth.fair_pots import By, Pot, sown_day

# What the groups cannot be told apart from.
Entangled = Literal[
    "tray", "lamp", "place", "side", "depth", "edge", "sowing", "day", "warmth", "needs", "light", "crop", "variety",
    "units", "one pot", "few trays",
]  # fmt: skip
Unit = Literal["pot", "tray", "tray alone"]

SOWN: tuple[By, ...] = ("sowing", "crop", "variety", "lot")
# From this share of pairs with the one group's pot farther along on, the groups stand apart. Two pots each turn about
# give 0.75 at most, halves of a tray give 1; a shuffle of nine each comes so far once in thirty. Own proposal.
APART = 0.8
# Trays that hold both groups are taken as wholes from so many on; fewer tell too little of how trays differ, and the
# difference is then said of these trays. Own proposal.
WHOLE_TRAYS = 5
# Groups given to whole trays, or to one place of each tray, need so many trays each. Own proposal.
LEAST_TRAYS = 3
SAME_DAY_DAYS = 1.0
# Soil that differs by more along with the groups is another warmth: thermometers for soil are right to about a degree
# (from memory). Own proposal.
SAME_WARMTH_C = 1.0
# Of what is written in words (needs, light, crop, variety), the groups may differ in so great a share of their pots of
# one block. Own proposal.
SAME_SHARE = 0.25
# An axis along which no pot stands nearer to the middle than this share of its length has no middle (two rows).
MIDDLE = 0.25
Key = Callable[[Pot], Hashable]


@dataclass(frozen=True)
class Design:
    """How two groups are held against each other.

    Attributes
    ----------
    one, other
        The pots that can be compared: those of blocks that hold both, or all where no block does.
    block
        A block's number for each pot of `one`, then of `other`.
    unit
        What counts as one: the pot within its block; the tray, as a difference of its own; or the tray of one group
        alone.
    entangled
        What cannot be told apart from the groups; empty: a difference may be claimed.
    left_out
        Pots without one of the other group beside them.
    """

    one: tuple[Pot, ...]
    other: tuple[Pot, ...]
    block: tuple[int, ...]
    unit: Unit
    entangled: tuple[Entangled, ...]
    left_out: int = 0

    @property
    def pots(self) -> tuple[Pot, ...]:
        """All of them in the order of `block`."""
        return (*self.one, *self.other)

    @property
    def second(self) -> NDArray[np.bool_]:
        """True for those of the other group."""
        return np.asarray(np.arange(len(self.block)) >= len(self.one))

    @property
    def places(self) -> Floats:
        """(n, 3) where each stands, in shares of the width and height over which its tray's compared pots stand: from
        left to right, from back to front, and from the middle to the edge."""
        pots, out = self.pots, np.zeros((len(self.block), 3))
        for tray in {p.tray for p in pots}:
            own = [k for k, p in enumerate(pots) if p.tray == tray]
            at = np.asarray([(pots[k].x, pots[k].y) for k in own], np.float64)
            size = np.maximum(np.ptp(at, axis=0), 1e-9)
            out[own, :2] = (at - at.mean(axis=0)) / size
            out[own, 2] = _from_middle((at - (at.min(axis=0) + at.max(axis=0)) / 2) / size)
        return out

    def only(self, kept: Callable[[Pot], bool]) -> Design:
        """The same with some pots alone."""
        one, other = (tuple(p for p in side if kept(p)) for side in (self.one, self.other))
        block = tuple(b for p, b in zip(self.pots, self.block, strict=True) if kept(p))
        return replace(self, one=one, other=other, block=block)

    @property
    def trays(self) -> tuple[str, ...]:
        """The trays in which they stand, in order."""
        return tuple(dict.fromkeys(p.tray for p in self.pots))


def _from_middle(at: Floats) -> Floats:
    """How far each stands from the middle along the axis along which that is farther, two rows being no axis."""
    far = np.abs(at)
    return np.asarray(far[:, far.min(axis=0, initial=1.0) < MIDDLE].max(axis=1, initial=0.0), np.float64)


def designed(one: Sequence[Pot], other: Sequence[Pot], by: By) -> Design:
    """How two groups are held against each other, and what cannot be told apart from them."""
    return _of_sown(one, other, by) if by in SOWN else _of_standing(one, other, by)


def _of_sown(one: Sequence[Pot], other: Sequence[Pot], by: By) -> Design:
    """Groups by what was sown: pots of one tray, lamp and place are compared with each other."""
    # A word of its own for each pot tells where it stands, and not with whom.
    words = Counter(p.place for p in (*one, *other) if p.place)
    own_words = max(words.values(), default=1) == 1
    shared = _shared(one, other, lambda p: (p.tray, p.lamp, "" if own_words else p.place))
    if shared is not None:
        unit: Unit = "tray" if len({p.tray for p in shared.one}) >= WHOLE_TRAYS else "pot"
        return _with(shared, unit, [*_where(shared, shared.block), *_what(shared, by)])
    design = Design(tuple(one), tuple(other), (0,) * (len(one) + len(other)), "pot", ())
    trays, others = {p.tray for p in one}, {p.tray for p in other}
    if not trays & others:
        why: list[Entangled] = []
        if min(len(trays), len(others)) < LEAST_TRAYS:
            why.append("tray")
        if _apart(one, other, lambda p: p.lamp):
            why.append("lamp")
        return _with(design, "tray alone", [*why, *_what(design, by)])
    by_lamp = not {(p.tray, p.lamp) for p in one} & {(p.tray, p.lamp) for p in other}
    return _with(design, "pot", ["lamp" if by_lamp else "place", *_what(design, by)])


def _of_standing(one: Sequence[Pot], other: Sequence[Pot], by: By) -> Design:
    """Groups by where they stand: each tray's lamp or place is one thing, however many pots it holds."""
    shared = _shared(one, other, _seed if by == "tray" else lambda p: (p.tray, *_seed(p)))
    design = shared or Design(tuple(one), tuple(other), (0,) * (len(one) + len(other)), "pot", ())
    why: list[Entangled] = [] if shared is not None else ["sowing"]
    if by == "tray":
        return _with(design, "pot", ["tray", *why])
    trays = {p.tray for p in design.one} & {p.tray for p in design.other}
    if len(trays) < LEAST_TRAYS:
        return _with(design, "pot", ["few trays", *why])
    if by == "lamp":
        why += [k for k in _where(design, _trays_numbered(design)) if k != "one pot"]
        if _apart(design.one, design.other, lambda p: p.place):
            why.append("place")
    elif _apart(design.one, design.other, lambda p: p.lamp):
        why.append("lamp")
    return _with(design, "tray", why)


def _seed(pot: Pot) -> tuple[str, ...]:
    """What tells one seed from another: the words of the packet where there are any, else the sowing's name."""
    words = tuple(str(w or "") for w in (pot.sowing.crop, pot.sowing.variety, pot.sowing.lot))
    return words if any(words) else (pot.sowing.name,)


def _with(design: Design, unit: Unit, why: Sequence[Entangled]) -> Design:
    return Design(design.one, design.other, design.block, unit, tuple(dict.fromkeys(why)), design.left_out)


def _shared(one: Sequence[Pot], other: Sequence[Pot], key: Key) -> Design | None:
    """The pots of blocks that hold both groups; None where none does."""
    common = {key(p) for p in one} & {key(p) for p in other}
    if not common:
        return None
    number = {k: n for n, k in enumerate(sorted(common, key=str))}
    a, b = ([p for p in side if key(p) in common] for side in (one, other))
    block = tuple(number[key(p)] for p in (*a, *b))
    return Design(tuple(a), tuple(b), block, "pot", (), len(one) + len(other) - len(a) - len(b))


def _trays_numbered(design: Design) -> tuple[int, ...]:
    names = list(design.trays)
    return tuple(names.index(p.tray) for p in design.pots)


def _where(design: Design, block: Sequence[int]) -> list[Entangled]:
    """Whether the one group stands to the left, before, or nearer to the middle than the other."""
    least = min(len(design.one), len(design.other))
    if least < 2:
        return ["one pot"]
    out: list[Entangled] = []
    axes: tuple[tuple[Entangled, int], ...] = (("side", 0), ("depth", 1), ("edge", 2))
    for name, axis in axes:
        share = ahead(design.places[:, axis], design.second, block)
        if share >= APART or share <= 1 - APART:
            out.append(name)
    return out


def _what(design: Design, by: By) -> list[Entangled]:
    """What of the sowings differs along with the groups, so that it cannot be told from them."""
    out: list[Entangled] = []
    if _differ(design, sown_day, SAME_DAY_DAYS):
        out.append("day")
    if _differ(design, lambda p: p.sowing.soil_c, SAME_WARMTH_C):
        out.append("warmth")
    words: list[tuple[Entangled, Key]] = [
        ("needs", lambda p: tuple(sorted(p.sowing.needs))),
        ("light", lambda p: p.sowing.under_light),
    ]
    if by == "lot":
        words += [("crop", lambda p: p.group("crop") or None), ("variety", lambda p: _plain(p.sowing.variety))]
    out += [name for name, key in words if _worded(design, key)]
    if {p.per_seed for p in design.one} != {p.per_seed for p in design.other}:
        out.append("units")
    return out


def _plain(words: str | None) -> str | None:
    return " ".join((words or "").casefold().split()) or None


def _sides(design: Design, key: Callable[[Pot], object]) -> list[tuple[list[Pot], list[Pot]]]:
    """The pots of which this was written, block by block, where both groups have some."""
    out = []
    for block in sorted(set(design.block)):
        told = zip(design.pots, design.block, design.second, strict=True)
        own = [(p, second) for p, b, second in told if b == block and key(p) is not None]
        sides = [p for p, second in own if not second], [p for p, second in own if second]
        out += [sides] if all(sides) else []
    return out


def _differ(design: Design, key: Callable[[Pot], float | None], most: float) -> bool:
    """Whether the means of a number written of both groups differ by more than `most` in any block."""
    means = [
        [np.mean([v for p in side if (v := key(p)) is not None]) for side in sides] for sides in _sides(design, key)
    ]
    return any(abs(one - other) > most for one, other in means)


def _worded(design: Design, key: Key) -> bool:
    """Whether what was written in words of both groups differs in too many pots of any block."""
    for one, other in _sides(design, key):
        for value in {key(p) for p in (*one, *other)}:
            shares = [sum(key(p) == value for p in side) / len(side) for side in (one, other)]
            if abs(shares[0] - shares[1]) > SAME_SHARE:
                return True
    return False


def _apart(one: Sequence[Pot], other: Sequence[Pot], key: Key) -> bool:
    """Whether both groups have names of this kind, and share none."""
    a, b = ({key(p) for p in side} - {""} for side in (one, other))
    return bool(a and b and not a & b)
