"""The page of a comparison, in one file: what can be said first, then charts, figures, and how it was counted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from markupsafe import Markup

from sproutlapse.compare.words import (
    any_told,
    as_told,
    counted_told,
    entangled_told,
    figures_told,
    looked_at,
    nameless_told,
    promise_told,
    smallness,
    standing_on,
    unwatched_told,
    verdict,
)
from sproutlapse.growth.compared import Compared, PairHeld
from sproutlapse.growth.fair_pots import Pot
from sproutlapse.report.drawing import Chart
from sproutlapse.report.page import inline_svg
from sproutlapse.report.templates import environment, style
from sproutlapse.report.words import counted, named, rounded

MOST_OPEN: Final = 6  # more pairs stand folded
METHODS: Final = (
    "A difference is claimed where equal groups would differ so far less than once in 20 times, all figures that were "
    "looked at reckoned in.",
    "Counts: the exact chance that seed of one kind falls out so unevenly over the two (Fisher), within each tray, "
    "lamp and place.",
    "Days: whether one came up sooner or in greater number, from the middle of the gap between two photos (log-rank), "
    "within each tray, lamp and place.",
    "Sizes: at equal age since coming up, read over a day, with what place does from side to side or at the edge "
    "taken out.",
    "“May be from … to …” holds the truth 19 times of 20.",
)


def comparison_page(c: Compared, pots: Sequence[Pot], charts: Sequence[Chart], notes: Sequence[str]) -> str:
    """The page's HTML.

    Parameters
    ----------
    c, pots
        The comparison, and all pots that it was made from.
    charts
        Its charts.
    notes
        What else a reader should know, such as that pots were left out.
    """
    made = environment("sproutlapse.compare")
    return made.get_template("compare.html").render(_context(c, pots, charts, notes, style(made)))


def _context(
    c: Compared, pots: Sequence[Pot], charts: Sequence[Chart], notes: Sequence[str], css: Markup
) -> Mapping[str, Any]:
    trays = list(dict.fromkeys(p.tray for p in c.pots))
    return {
        "css": css,
        "by": c.by,
        "trays": f"{counted(len(trays), 'tray')}: {named(trays)}",
        "day": _last_day(c),
        "folded": len(c.pairs) > MOST_OPEN,
        "verdicts": [{"text": verdict(p, c.by), "claimed": any(h.claimed for h in p.held)} for p in _first(c.pairs)],
        "together": any_told(c),
        "charts": [(chart, inline_svg(chart)) for chart in charts],
        "pairs": [
            {"one": p.one, "other": p.other, "figures": counted_told(p, c.by) + figures_told(p), "notes": _notes(p, c)}
            for p in map(as_told, _first(c.pairs))
        ],
        "promises": [promise_told(p) for p in c.promises],
        "notes": [n for n in (*notes, nameless_told(pots, c), unwatched_told(c), looked_at(c), *METHODS) if n],
    }


def _last_day(c: Compared) -> str:
    """`day 12 after sowing, the last that all were photographed`."""
    if not c.pairs:
        return "the last photo"
    if len({round(g.days) for g in c.groups}) > 1:
        return "the last day that both of two were photographed"
    since = " after sowing" if all(p.sowing.sown for p in c.pots) else ""
    last = "" if any(p.counted.taken for p in c.pairs) else ", the last that all were photographed"
    return f"day {rounded(c.days, 0)}{since}{last}"


def _first(pairs: Sequence[PairHeld]) -> list[PairHeld]:
    """Those with a difference before the others."""
    return sorted(pairs, key=lambda p: not any(h.claimed for h in p.held))


def _notes(pair: PairHeld, c: Compared) -> list[str]:
    # The first of what stands in the way is said on top already.
    return [n for n in (*entangled_told(pair, c.by)[1:], standing_on(pair, c.by), smallness(pair, c.by)) if n]
