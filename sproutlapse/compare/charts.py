"""A comparison drawn: how many came up and what that may mean for more such seed, when they did, each pot's size."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Final

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import MaxNLocator, PercentFormatter

from sproutlapse.compare.words import NAMES
from sproutlapse.growth.compared import Compared, Group
from sproutlapse.growth.fair_pots import SIZES, Size, common_age, size_at
from sproutlapse.report.drawing import SIZE_INCHES, STYLE, Chart, as_chart, line_style
from sproutlapse.report.words import rounded, shortened

MOST_GROUPS: Final = 12  # more do not fit in one chart; the tables hold them all
MOST_LINES: Final = 6  # as many as can be told apart
LABEL: Final = 22


def comparison_charts(c: Compared) -> list[Chart]:
    """The charts of a comparison; those that would be empty are left out."""
    groups = c.groups[:MOST_GROUPS]
    charts = []
    with mpl.rc_context(STYLE):
        if any(g.of for g in groups):
            charts.append(_chart("came-up", "How many came up", _shares_alt(groups), lambda a: _shares(a, groups)))
        if any(g.up for g in groups) and len(groups) <= MOST_LINES:
            charts.append(_when(groups, c.days))
        for size in SIZES:
            chart = _size_chart(c, groups, size)
            charts += [chart] if chart is not None else []
    return charts


def group_chart(group: Group, days: float) -> Chart:
    """When the units of one group came up."""
    with mpl.rc_context(STYLE):
        return _when([group], days)


def _when(groups: Sequence[Group], days: float) -> Chart:
    alt = "Share that was up, over the days: " + "; ".join(f"{g.name} {g.up} of {g.of} by the last" for g in groups)
    return _chart("when-up", "When they came up", f"{alt}.", lambda axes: _steps(axes, groups, days))


def _chart(name: str, title: str, alt: str, draw: Callable[[Axes], None]) -> Chart:
    figure = Figure(figsize=SIZE_INCHES, layout="constrained")
    FigureCanvasAgg(figure)
    draw(figure.add_subplot())
    return as_chart(figure, kind="compare", name=name, title=title, alt=alt)


def _shares_alt(groups: Sequence[Group]) -> str:
    return "Share that came up: " + "; ".join(f"{g.name} {_of(g, groups)}" for g in groups) + "."


def _of(group: Group, groups: Sequence[Group]) -> str:
    """`3 of 5`, with the day where not all were counted up to the same."""
    day = f" by day {rounded(group.days, 0)}" if len({round(g.days) for g in groups}) > 1 else ""
    return f"{group.up} of {group.of}{day}"


def _rows(axes: Axes, groups: Sequence[Group]) -> None:
    axes.set_yticks(range(len(groups)), [shortened(g.name, LABEL) for g in groups])
    axes.set_ylim(len(groups) - 0.4, -0.6)
    axes.grid(visible=True, axis="x")
    axes.grid(visible=False, axis="y")


def _shares(axes: Axes, groups: Sequence[Group]) -> None:
    """A mark at the share that came up, and a bar over the shares that such seed may have."""
    for k, g in enumerate(groups):
        style = line_style(k)
        if not g.of:
            continue
        axes.plot([g.low, g.high], [k, k], color=style["color"], linewidth=7, alpha=0.25, solid_capstyle="butt")
        axes.plot([g.up / g.of], [k], style["marker"], color=style["color"], markersize=8)
        axes.annotate(_of(g, groups), (g.up / g.of, k), (0, 8), textcoords="offset points", ha="center", size=9)
    _rows(axes, groups)
    axes.set_xlim(-0.05, 1.08)
    axes.xaxis.set_major_formatter(PercentFormatter(1.0, decimals=0, symbol=" %"))
    axes.set_xlabel("came up; bars: such seed may lie here")


def _steps(axes: Axes, groups: Sequence[Group], days: float) -> None:
    """The share that was up, over the days after sowing, each at the photo that first showed it."""
    for k, g in enumerate(groups):
        last = min(days, g.days)
        by = np.sort([b for p in g.pots for b in p.by if b <= last])
        at = np.concatenate([[0.0], by, [last]])
        share = np.concatenate([[0], np.arange(1, len(by) + 1), [len(by)]]) / max(g.of, 1)
        style = line_style(k) | {"marker": ""}
        axes.plot(at, share, drawstyle="steps-post", label=shortened(g.name, LABEL), **style)
    axes.set_ylim(0, 1.05)
    axes.set_xlim(0, days)
    axes.xaxis.set_major_locator(MaxNLocator(integer=True, nbins=7))
    axes.yaxis.set_major_formatter(PercentFormatter(1.0, decimals=0, symbol=" %"))
    dated = all(p.sowing.sown is not None for g in groups for p in g.pots)
    axes.set_xlabel("days after sowing" if dated else "days")
    axes.legend(loc="lower left", bbox_to_anchor=(0, 1), frameon=False, handlelength=3.2, ncols=2)


def _size_chart(c: Compared, groups: Sequence[Group], size: Size) -> Chart | None:
    pots = [p for g in groups for p in g.pots]
    told = [h for pair in c.pairs for h in pair.held if h.figure == size and not h.silent]
    if not told:
        return None
    age = common_age(pots, size)
    sizes = [np.asarray([v for p in g.pots if not math.isnan(v := size_at(p, size, age))]) for g in groups]
    if not any(len(v) for v in sizes):
        return None
    unit = told[0].unit

    def draw(axes: Axes) -> None:
        for k, values in enumerate(sizes):
            style = line_style(k)
            # Side by side in turn, so that none hides another.
            lift = 0.22 * (((np.arange(len(values)) * 0.618) % 1) - 0.5)
            axes.plot(np.sort(values), k + lift, style["marker"], color=style["color"], markersize=5, alpha=0.6)
            if len(values):
                axes.plot([values.mean()] * 2, [k - 0.3, k + 0.3], color=style["color"], linewidth=2.5)
        _rows(axes, groups)
        axes.set_xlim(left=0)
        axes.set_xlabel(f"{NAMES[size].lower()}{', ' + unit if unit else ''}; upright lines: the average")

    title = f"{NAMES[size]}, {rounded(age, 1)} days after coming up"
    means = "; ".join(
        f"{g.name} {rounded(float(v.mean()), 1)}{' ' + unit if unit else ''} of {len(v)} pots"
        for g, v in zip(groups, sizes, strict=True)
        if len(v)
    )
    return _chart(size.replace("_", "-"), title, f"{title}, each pot a mark. On average: {means}.", draw)
