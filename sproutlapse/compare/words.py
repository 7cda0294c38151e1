"""A comparison in a grower's words: what was found, how often chance would do it, and what stands in the way."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from sproutlapse.figures import rounded
from sproutlapse.growth.chance import found_by
from sproutlapse.growth.compared import LEAST_POTS, Compared, Figure, Held, PairHeld, Promise, Silent
from sproutlapse.growth.fair_design import LEAST_TRAYS, SOWN, Design, Entangled
from sproutlapse.growth.fair_pots import By, Pot
from sproutlapse.report.words import counted, named

NAMES: Final[dict[Figure, str]] = {
    "count": "Came up", "days": "Days to come up", "height": "Height", "canopy": "Leaf and stem seen",
    "height_to_leaf": "Height for its leaf",
}  # fmt: skip
# What is said of a group of which a figure is the larger, and of one of which it is the smaller.
MORE: Final[dict[Figure, tuple[str, str]]] = {
    "count": ("more came up", "fewer came up"), "days": ("later", "sooner"), "height": ("taller", "shorter"),
    "canopy": ("more leaf", "less leaf"), "height_to_leaf": ("leggier", "sturdier"),
}  # fmt: skip
# So much of a true difference is asked for in the sentence on small numbers, and told where it is found less often.
GOOD_SHARE, POOR_SHARE, OFTEN = 0.9, 0.5, 0.8
MOST_TOLD: Final = 6  # of more pairs a terminal says the verdicts alone
ENOUGH: Final = 50  # so many of each find it always


def times(chance: float) -> str:
    """`47 times in 100`, `once in 1,000`, `less than once in 10,000`."""
    if round(100 * chance) >= 100:
        return "every time"
    for of in (100, 1000, 10_000):
        often = round(chance * of)
        if often >= 2 or (often == 1 and of == 10_000):
            return f"{'once' if often == 1 else f'{often:,} times'} in {of:,}"
    return "less than once in 10,000"


def verdict(pair: PairHeld, by: By) -> str:
    """The one sentence on two groups that stands on top."""
    if pair.design.entangled:
        return f"“{pair.one}” and “{pair.other}”: no claim. {entangled_told(pair, by)[0]}"
    found = _found(pair)
    if found:
        return f"{said_of(pair, found)}. Chance would hardly do that."
    if all(math.isnan(h.effect.chance) for h in pair.held):
        return f"“{pair.one}” and “{pair.other}”: too little to compare yet."
    return f"“{pair.one}” and “{pair.other}”: no difference that chance would not make."


def _found(pair: PairHeld) -> list[Held]:
    """What is claimed of two groups, as it is said."""
    found = [h for h in pair.held if h.claimed]
    if any(h.figure == "count" for h in found):  # what the number said is not said of the days again
        found = [h for h in found if h.figure != "days" or _days_tell(h)]
    return found


def as_told(pair: PairHeld) -> PairHeld:
    """The pair in the order in which its verdict names the two, so that its figures stand in the same."""
    found = _found(pair)
    if not found or pair.design.entangled or _ahead(found[0]):
        return pair
    design, n = pair.design, len(pair.design.one)
    design = replace(design, one=design.other, other=design.one, block=design.block[n:] + design.block[:n])
    held = tuple(
        replace(
            h, one=h.other, other=h.one, n_one=h.n_other, n_other=h.n_one, sooner=-h.sooner,
            effect=replace(h.effect, difference=-h.effect.difference, low=-h.effect.high, high=-h.effect.low),
        )
        for h in pair.held
    )  # fmt: skip
    return replace(pair, one=pair.other, other=pair.one, design=design, held=held)


def said_of(pair: PairHeld, found: Sequence[Held]) -> str:
    """`“A” against “B”: more came up, sooner and taller`."""
    # The one that did better in the first of them is named first.
    turned = not _ahead(found[0])
    one, other = (pair.other, pair.one) if turned else (pair.one, pair.other)
    return f"“{one}” against “{other}”: {named([_said(h, turned) for h in found])}"


def _ahead(h: Held) -> bool:
    """Whether the first of the two did better in this figure; the taller or leafier is taken for it."""
    if h.figure == "days":
        return h.sooner > 0
    return (h.effect.difference > 0) == (h.figure != "height_to_leaf")


def _days_tell(h: Held) -> bool:
    """Whether the days of those that came up differ on their own."""
    return h.effect.low * h.effect.high > 0


def _said(h: Held, turned: bool) -> str:
    better = _ahead(h) != turned
    if h.figure == "days" and not _days_tell(h):
        # Together with those that did not come up.
        return "sooner or more of them" if better else "later or fewer of them"
    more, less = MORE[h.figure]
    return more if better == (h.figure not in ("days", "height_to_leaf")) else less


def entangled_told(pair: PairHeld, by: By) -> list[str]:
    """What the two cannot be told apart from, a sentence each."""
    return [_entangled(kind, pair, by) for kind in pair.design.entangled]


def _entangled(kind: Entangled, pair: PairHeld, by: By) -> str:
    design = pair.design
    what = {"sowing": "Sowing", "crop": "Crop", "variety": "Variety", "lot": "Lot", "lamp": "Lamp", "place": "Place",
            "tray": "Tray"}[by]  # fmt: skip
    if kind == "tray" and by == "tray":
        return (
            "These trays differ in all that differs between them: lamp, warmth, place and care cannot be told apart, "
            "for each tray is one."
        )
    if kind == "few trays":
        rest = "place" if by == "lamp" else "lamp"
        return (
            f"These plants may differ; {what.lower()} and {rest} cannot be told apart. A {what.lower()} counts as one, "
            f"however many plants stand there; it takes {LEAST_TRAYS} trays that hold both."
        )
    if kind == "day":
        return f"They were sown on different days: {what.lower()} and the days' warmth and light cannot be told apart."
    if kind == "sowing":
        return f"Different seed stands in each: {what.lower()} and seed cannot be told apart."
    words: dict[Entangled, str] = {
        "tray": f"Each stood in {'a tray' if _trays_each(design) == 1 else 'trays'} of its own: {what.lower()} and "
        "tray cannot be told apart.",
        "lamp": f"Each stood under a lamp of its own{_of(design, 'lamp')}: {what.lower()} and lamp cannot be told "
        "apart.",
        "place": f"Each stood at a place of its own{_of(design, 'place')}: {what.lower()} and place cannot be told "
        "apart.",
        "side": f"“{_leftmost(pair)}” stood to the left of the other: light and warmth differ from side to side, so "
        f"{what.lower()} and place cannot be told apart.",
        "depth": f"The one stood behind the other: light and warmth differ, so {what.lower()} and place cannot be told "
        "apart.",
        "edge": f"The one stood at the edge, the other in the middle: light and warmth differ, so {what.lower()} and "
        "place cannot be told apart.",
        "warmth": f"They stood in soil of different warmth: {what.lower()} and warmth cannot be told apart.",
        "needs": f"The seed of each was given something else (needs): {what.lower()} and that cannot be told apart.",
        "light": f"The lamp was on from the start for the one only: {what.lower()} and light cannot be told apart.",
        "crop": f"They are of different crops: {what.lower()} and crop cannot be told apart.",
        "variety": f"They are of different varieties: {what.lower()} and variety cannot be told apart.",
        "units": "Of the one its seeds are counted, of the other only pots: write seeds_per_cell for both.",
        "one pot": f"There is a single pot of the one or the other: {what.lower()} and pot cannot be told apart.",
    }
    return words[kind]


def _trays_each(design: Design) -> int:
    return max(len({p.tray for p in side}) for side in (design.one, design.other))


def _of(design: Design, key: str) -> str:
    sides = [sorted({str(getattr(p, key)) for p in side} - {""}) for side in (design.one, design.other)]
    return f" ({named(sides[0])}; {named(sides[1])})" if all(sides) else ""


def _leftmost(pair: PairHeld) -> str:
    x, second = pair.design.places[:, 0], pair.design.second
    return pair.one if x[~second].mean() < x[second].mean() else pair.other


def figures_told(pair: PairHeld) -> list[str]:
    """A sentence a figure in the order of the verdict, those that could not be compared last."""
    pair = as_told(pair)
    told = [_figure(h, pair.design) for h in pair.held if not h.silent]
    return told + [s for h in pair.held if h.silent and (s := _silent(h))]


def counted_told(pair: PairHeld, by: By) -> list[str]:
    """Which pots were counted and up to when, where that is not all of them up to the last photo."""
    design, until = pair.design, pair.counted
    out = []
    if design.left_out and by in SOWN:
        out.append(f"{counted(design.left_out, 'pot')} without the other beside it left out.")
    elif design.left_out:
        crops = {p.group("crop") for p in design.pots}
        names = crops if all(crops) else {p.sowing.name for p in design.pots}
        out.append(f"Counted here: {named(sorted(names))}, which both hold.")
    if until.gone:
        out.append(f"{counted(len(until.gone), 'pot')} gone before anything came up left out.")
    if until.taken:
        out.append(
            f"Counted up to day {rounded(until.days, 1)}: later {counted(until.taken, 'pot')} not up by then "
            f"{'was' if until.taken == 1 else 'were'} gone."
        )
    return out


def _figure(h: Held, design: Design) -> str:
    fair = not design.entangled
    chance = f"; chance would do this {times(h.effect.chance)}" if fair and not math.isnan(h.effect.chance) else ""
    if h.figure == "count":
        up, other_up = (round(share * n) for share, n in ((h.one, h.n_one), (h.other, h.n_other)))
        unit = ("seed" if design.one[0].per_seed else "pot") + ("" if h.n_one == 1 else "s")
        in_hundred = _in_hundred(h) if fair else ""
        return f"Came up: {up} of {h.n_one} {unit} against {other_up} of {h.n_other}{chance}.{in_hundred}"
    if h.figure == "days":
        with_all = " (with those counted that are not up)" if chance else ""
        span = _span(h, 1, "days", "later", "sooner") if fair else ""
        since = "" if all(p.sowing.sown is not None for p in design.pots) else " from the first photo"
        one, other = f"{rounded(h.one, 1)} days{since}", rounded(h.other, 1)
        return f"Came up after {one} on average against {other}{chance}{with_all}.{span}"
    tall = " of the tallest in each pot" if h.figure == "height" and any(p.crowd for p in design.pots) else ""
    words = {"height": ("taller", "shorter"), "canopy": ("more", "less")}.get(h.figure, ("leggier", "sturdier"))
    span = _span(h, _places(h), h.unit, *words) if fair else ""
    return f"{_sizes(h, tall)}{chance}.{span}"


def _places(h: Held) -> int:
    return {"canopy": 0, "height_to_leaf": 2}.get(h.figure, 1)


def _sizes(h: Held, of: str) -> str:
    """`Height, 6.0 days after coming up: 28.2 mm against 37.9 mm (5 pots against 19)`."""
    one, other = (f"{rounded(v, _places(h))}{' ' + h.unit if h.unit else ''}" for v in (h.one, h.other))
    return (
        f"{NAMES[h.figure]}{of}, {rounded(h.at_days, 1)} days after coming up: {one} against {other} "
        f"({counted(h.n_one, 'pot')} against {h.n_other})"
    )


def _in_hundred(h: Held) -> str:
    """`In 100 seeds that is 22 more; it may be from 13 fewer to 55 more.`"""
    if math.isnan(h.effect.low):
        return ""
    less, low, high = (round(100 * v) for v in (h.effect.difference, max(h.effect.low, -1), min(h.effect.high, 1)))
    return f" In 100 that is {_way(less, 'more', 'fewer')}; it may be {_from_to(low, high, 'more', 'fewer')}."


def _span(h: Held, places: int, unit: str, more: str, less: str) -> str:
    """How large the difference is, and between what it may lie, 19 times of 20."""
    e = h.effect
    if math.isnan(e.low):
        return ""
    if all(float(f"{v:.{places}f}") == 0 for v in (e.difference, e.low, e.high)):
        return ""
    word = f" {unit}" if unit else ""
    numbers = [(f"{rounded(abs(v), places)}{word} {more if v > 0 else less}", v) for v in (e.difference, e.low, e.high)]
    (middle, _), (low, a), (high, b) = numbers
    if a * b > 0:
        low = rounded(abs(a), places) + word
        low, high = (low, high) if abs(a) < abs(b) else (rounded(abs(b), places) + word, numbers[1][0])
    return f" The difference: {middle}; it may be from {low} to {high}."


def _way(value: int, more: str, less: str) -> str:
    return f"{abs(value)} {more if value >= 0 else less}"


def _from_to(low: int, high: int, more: str, less: str) -> str:
    if low * high > 0:
        a, b = sorted((abs(low), abs(high)))
        return f"from {a} to {b} {more if high > 0 else less}"
    return f"from {_way(low, more, less)} to {_way(high, more, less)}"


def _silent(h: Held) -> str:
    name = NAMES[h.figure]
    if h.silent == "few" and h.figure == "days":
        return f"{name}: nothing came up yet of the one or the other."
    if h.silent == "few" and not math.isnan(h.one) and h.figure != "count":
        return f"{_sizes(h, '')}: too few to say more, it takes {LEAST_POTS} of each."
    words: dict[Silent, str] = {
        "few": f"{name}: too few to compare ({h.n_one} against {h.n_other}; it takes {LEAST_POTS} of one age of each).",
        "two views": f"{name}: not compared, for one tray is seen from the side and another from above.",
        "no scale": f"{name}: not compared, for there is no scale in one of the trays, and pixels of two photos are "
        "not alike.",
        "several seeds": "" if h.figure == "height_to_leaf" else "Leaf: not compared, for several seeds share a pot.",
        "hour not known": f"{name}: not compared, for some stood there when their place was first seen.",
        "no day of sowing": f"{name}: not compared, for a day of sowing is missing; write sown.",
    }
    return words.get(h.silent, "")


def standing_on(pair: PairHeld, by: By) -> str:
    """What counted as one, and of what that can be said."""
    design = pair.design
    trays = len(design.trays)
    seen = "this tray" if trays == 1 else f"these {trays} trays"
    if design.entangled:
        return "The figures stand here side by side; nothing is claimed from them."
    if design.unit == "tray":
        held = len({p.tray for p in design.one} & {p.tray for p in design.other})
        return (
            f"What counts as one is the tray: {held} trays hold both, each taken whole, with a difference of its own."
        )
    if design.unit == "tray alone":
        return f"What counts as one is the tray: {trays} trays, each taken whole, each with one of the two."
    unit = "pot" if any(p.crowd for p in design.pots) else "seed and its pot" if design.one[0].per_seed else "pot"
    beside = "under the same lamp" if any(p.lamp or p.place for p in design.pots) else "of the same tray"
    return (
        f"What counts as one is the {unit}, held against those {beside}, with what a gradient from side to side "
        f"or to the edge does taken out. Plants of one tray share its luck: this is said of {seen}."
    )


def smallness(pair: PairHeld, by: By) -> str:
    """How little so few can show; empty where they are enough."""
    count = pair.held[0]
    if pair.design.entangled or pair.design.unit != "pot" or count.silent or count.claimed or by not in SOWN:
        return ""
    # Beyond ten times as many on the one side, more there tell nothing more.
    n_one, n_other = (min(n, 10 * ENOUGH) for n in (count.n_one, count.n_other))
    if min(n_one, n_other) >= ENOUGH:
        return ""
    often = found_by(n_one, GOOD_SHARE, n_other, POOR_SHARE)
    if round(often, 2) >= OFTEN:
        return ""
    unit = "seeds" if pair.design.one[0].per_seed else "pots"
    return (
        f"Small numbers: {count.n_one} {unit} against {count.n_other} would find 90 of 100 against 50 of 100 only "
        f"{times(often)}. That nothing was found does not say that they are alike."
    )


def promise_told(p: Promise) -> str:
    """What the packet promised and what came up."""
    head = f"“{p.sowing}”: {p.up} of {p.of} seeds up; the packet promises {p.percent:g} %"
    if not p.settled and p.up < p.of:
        return f"{head}. More may come: it is too soon to hold that against it."
    if p.chance <= 0.05:
        return f"{head}. Seed as good as that would do so badly only {times(p.chance)}."
    if p.up / p.of >= p.percent / 100:
        return f"{head}: kept."
    return f"{head}. Seed as good as that would do so badly {times(p.chance)}: no reason to complain."


def looked_at(c: Compared) -> str:
    """That many figures were looked at, and what follows."""
    if c.looked_at < 2:
        return ""
    return (
        f"{c.looked_at} figures were held against each other; the more are looked at, the sooner one of them differs "
        "by chance, so that each had to differ by more."
    )


def any_told(c: Compared) -> list[str]:
    """For three groups and more: whether they differ at all."""
    return [
        f"{NAMES[figure]}, all {len(c.groups)} together: chance would spread them so far {times(chance)}."
        for figure, chance in c.any_of.items()
        if not math.isnan(chance)
    ]


def nameless_told(pots: Sequence[Pot], c: Compared) -> str:
    """That pots without a name of this kind were left out."""
    return f"{counted(c.nameless, 'pot')} of {len(pots)} left out: no {c.by} is named for them." if c.nameless else ""


def unwatched_told(c: Compared) -> str:
    """Which groups have no photo since they were sown."""
    names = named([f"“{name}”" for name in c.unwatched])
    return f"Left out, for no photo was taken since the sowing: {names}." if names else ""


def lines_of(c: Compared) -> list[str]:
    """What a terminal says: the verdicts, each with its figures; of many pairs the verdicts alone."""
    out: list[str] = []
    for pair in c.pairs:
        out.append(verdict(pair, c.by))
        if len(c.pairs) > MOST_TOLD:
            continue
        out += [f"  {line}" for line in (*counted_told(pair, c.by), *figures_told(pair))]
        out += [f"  {line}" for line in (smallness(pair, c.by),) if line]
    out += any_told(c)
    out += [promise_told(p) for p in c.promises]
    return [line for line in (*out, unwatched_told(c)) if line]
