"""How a chart is drawn: its size, its dates below, names at line ends, and the two files that it becomes."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter

from sproutlapse.report.colours import DASHES, INK, MARKERS, PAPER, RULE, SERIES
from sproutlapse.report.facts import start_of, used_frames
from sproutlapse.report.words import day, shortened
from sproutlapse.results import Results

SIZE_INCHES: Final = (4.6, 3.3)
PNG_DPI: Final = 160
NAME_LENGTH: Final = 13
STYLE: Final[Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "sproutlapse",
    "font.family": "sans-serif",
    "font.size": 10.5,
    "text.color": INK,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.facecolor": PAPER,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "axes.grid": True,
    "axes.grid.axis": "y",
    "grid.color": RULE,
    "grid.linewidth": 0.7,
    "xtick.color": INK,
    "ytick.color": INK,
    "figure.facecolor": PAPER,
    "savefig.facecolor": PAPER,
    "hatch.linewidth": 0.6,
}


@dataclass(frozen=True)
class Chart:
    """One chart as two files' contents, with what it shows in words. `kind` is its section of the page."""

    kind: str
    name: str
    title: str
    alt: str
    svg: str
    png: bytes


def drawn(
    results: Results,
    draw: Callable[[Axes], None],
    *,
    kind: str,
    name: str,
    title: str,
    alt: str,
    room: float = 0.0,
) -> Chart:
    """Run `draw` on fresh axes with dates below; `room` is the share of the width kept free for names at line ends."""
    figure = Figure(figsize=SIZE_INCHES, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    draw(axes)
    _dates(axes, results, room)
    return as_chart(figure, kind=kind, name=name, title=title, alt=alt)


def as_chart(figure: Figure, *, kind: str, name: str, title: str, alt: str) -> Chart:
    """A drawn figure as the contents of its two files; the same figure gives the same bytes."""
    svg, png = io.StringIO(), io.BytesIO()
    figure.savefig(svg, format="svg", metadata={"Date": None, "Creator": None})
    figure.savefig(png, format="png", dpi=PNG_DPI, metadata={"Software": None})
    return Chart(kind, name, title, alt, _own_ids(svg.getvalue(), name), png.getvalue())


def _own_ids(svg: str, name: str) -> str:
    """Ids that stay apart when several charts stand in one page."""
    svg = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', svg)
    svg = re.sub(r'href="#([^"]+)"', rf'href="#{name}-\1"', svg)
    return re.sub(r"url\(#([^)]+)\)", rf"url(#{name}-\1)", svg)


def _dates(axes: Axes, results: Results, room: float) -> None:
    start = start_of(results)
    assert start is not None
    last = used_frames(results)[-1].elapsed_h / 24
    span = max(last, 0.25)
    axes.set_xlim(-0.02 * span, span * (1 + room) + 0.02 * span)
    if last <= 2:
        step = 0.25 if last <= 1 else 0.5
        first = -(start - datetime(start.year, start.month, start.day)).total_seconds() / 86400
        ticks = np.arange(first, span + 1e-9, step)
        form = FuncFormatter(lambda x, _: _hour(start + timedelta(days=x)))
    else:
        midnight = datetime(start.year, start.month, start.day)
        first = (midnight - start).total_seconds() / 86400
        step = max(1, round(last * (1 + room) / 4.6))
        ticks = np.arange(first, span + 1e-9, step)
        form = FuncFormatter(lambda x, _: day(start + timedelta(days=x, seconds=1)))
    axes.xaxis.set_major_locator(FixedLocator([float(t) for t in ticks if t >= -0.02 * span]))
    axes.xaxis.set_major_formatter(form)


def _hour(when: datetime) -> str:
    when += timedelta(seconds=30)
    return day(when) if when.hour == 0 and when.minute == 0 else f"{when:%H:%M}"


def line_style(index: int) -> dict[str, Any]:
    """Colour, dashes and marker of the k-th line of a chart."""
    return {
        "color": SERIES[index % len(SERIES)],
        "linestyle": DASHES[index % len(DASHES)],
        "marker": MARKERS[index % len(MARKERS)],
        "markersize": 4.5,
        "linewidth": 1.8,
    }


def end_names(axes: Axes, ends: Sequence[tuple[float, float, str, str]]) -> None:
    """Names at line ends (x, y, text, colour), moved apart so that they can be read."""
    if not ends:
        return
    low, high = axes.get_ylim()
    gap = (high - low) * 0.062
    ordered = sorted(ends, key=lambda end: end[1])
    heights = [end[1] for end in ordered]
    for i in range(1, len(heights)):
        heights[i] = max(heights[i], heights[i - 1] + gap)
    over = max(0.0, heights[-1] - high)
    heights = [y - over for y in heights]
    for i in range(len(heights) - 2, -1, -1):
        heights[i] = min(heights[i], heights[i + 1] - gap)
    right = max(end[0] for end in ends)
    span = max(right, 0.25)
    for (x, y, text, colour), height in zip(ordered, heights, strict=True):
        axes.plot([x, right + 0.03 * span], [y, height], color=colour, linewidth=0.7, alpha=0.7)
        axes.text(right + 0.04 * span, height, shortened(text, NAME_LENGTH), color=colour, va="center", clip_on=False)


def room_for(names: Sequence[str]) -> float:
    """Share of the width that names at line ends need."""
    longest = max((min(len(name), NAME_LENGTH) for name in names), default=0)
    return 0.08 + 0.032 * longest
