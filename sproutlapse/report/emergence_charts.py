"""What came up when, drawn: a chart a sowing, with the gaps between photos that leave the hour open."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.ticker import MaxNLocator
from numpy.typing import NDArray

from sproutlapse.growth.emergence import emergence
from sproutlapse.growth.sown_units import Pair, sown_h, units_sown, units_up
from sproutlapse.growth.time_fit import TimeFit
from sproutlapse.growth.tracks import Track, tracks
from sproutlapse.report.colours import MARKERS, PAPER, SERIES
from sproutlapse.report.drawing import Chart, drawn, line_style
from sproutlapse.report.facts import PANELS, from_above, used_frames
from sproutlapse.report.words import as_float, day, moment, named, shortened
from sproutlapse.results import Results
from sproutlapse.tray import Sowing

FIT = ("median_days", "median_sd_days", "log_sd", "final_share")
SHARED = 4  # sowings in one chart where there are too many for one each
# A step is drawn at least so tall in the chart, in units, so that an empty chart still shows its scale.
LEAST_TALL = 1


@dataclass(frozen=True)
class Steps:
    """When the units of one sowing came up, in days since the first usable photo.

    Attributes
    ----------
    after, by
        The last photo without each and the first with it, each sorted; -inf where no photo was without it.
    of, unit
        How many were sown, and what is counted: `seed`, `pot` or `cell`.
    fit, sown
        The smooth curve through them, if they bear one, and the day of sowing on this scale.
    """

    title: str
    after: NDArray[np.float64]
    by: NDArray[np.float64]
    of: int
    unit: str
    fit: TimeFit | None = None
    sown: float = math.nan

    @property
    def units(self) -> str:
        """The noun in the number of those sown."""
        return self.unit if self.of == 1 else f"{self.unit}s"

    @property
    def in_words(self) -> str:
        """`3 of 4 pots`."""
        return f"{len(self.by)} of {self.of} {self.units}"


def emergence_charts(results: Results) -> list[Chart]:
    """A chart a sowing in tray order; where there are more than six, four share one. Those without a sprout are left
    out, unless they share."""
    steps = [own for own in sowing_steps(results) if own.of]
    packs = [[own] for own in steps]
    if len(steps) > PANELS:
        # Pots and seeds are not counted along one axis: the first of several seeds in a pot is no single seed.
        alike = [[own for own in steps if own.unit == unit] for unit in dict.fromkeys(own.unit for own in steps)]
        packs = [own[first : first + SHARED] for own in alike for first in range(0, len(own), SHARED)]
    packs = [pack for pack in packs if any(len(own.by) for own in pack)]
    charts = []
    for number, pack in enumerate(packs, start=1):
        one = pack[0] if len(pack) == 1 else None
        charts.append(
            drawn(
                results,
                _one(results, one) if one else _shared(results, pack),
                kind="emergence",
                name=f"emergence-{number}",
                title=one.title if one else "What came up when",
                alt="How many have come up, over the days: "
                + named([f"{own.in_words} in {own.title}" for own in pack])
                + ("." if one is None else f".{_in_words(results, one)}"),
            )
        )
    return charts


def sowing_steps(results: Results) -> list[Steps]:
    """The steps of each sowing, and of the plants that no sowing is named for."""
    judge = results.tray.judge
    pairs: list[Pair] = [(t, emergence(t, judge)) for t in tracks(results.measurements, results.tray)]
    place = "cell" if from_above(results) else "pot"
    named_ones = {sowing.name: sowing for sowing in results.tray.sowings}
    groups: dict[str, list[Pair]] = {name: [] for name in named_ones}
    for track, up in pairs:
        name = track.settings.sowing if track.settings is not None else None
        groups.setdefault(name or "", []).append((track, up))
    out = []
    for key, own in groups.items():
        sowing = named_ones.get(key) or Sowing(name="no sowing named" if named_ones else "all plants")
        unit = "seed" if sowing.seeds_per_cell is not None else place
        units = [(track, u) for track, up in own for u in units_up(track, up, sowing, judge)]
        since = sown_h(own[0][0], sowing) if own else None
        out.append(
            Steps(
                sowing.name,
                np.sort([-math.inf if u.after_row is None else _day(t, u.after_row) for t, u in units]),
                np.sort([_day(t, u.by_row) for t, u in units]),
                units_sown(own, sowing),
                unit,
                _curve_of(results, key),
                math.nan if since is None else since / 24,
            )
        )
    return out


def _curve_of(results: Results, sowing: str) -> TimeFit | None:
    """The smooth curve of a sowing as sowings.csv holds it, None without one."""
    rows = results.sowings[results.sowings["sowing"] == sowing]
    if rows.empty:
        return None
    median, sd, log_sd, share = (as_float(rows.iloc[0].get(f"fit_{k}")) for k in FIT)
    if median is None or log_sd is None or share is None:
        return None
    return TimeFit("log-normal", median, log_sd, share, math.nan if sd is None else sd)


def _day(track: Track, row: int) -> float:
    return float(track.elapsed_h[row]) / 24


def _in_words(results: Results, steps: Steps) -> str:
    """When the first and the last came up, for those who do not see the chart."""
    days = {round(frame.elapsed_h / 24, 6): frame.time for frame in reversed(used_frames(results))}
    first, last = (days.get(round(float(at), 6)) for at in (steps.by[0], steps.by[-1]))
    if first is None or last is None:
        return ""
    return f" The first by {day(moment(first))}, the last by {day(moment(last))}."


def _one(results: Results, steps: Steps) -> Callable[[Axes], None]:
    last = used_frames(results)[-1].elapsed_h / 24

    def draw(axes: Axes) -> None:
        colour = SERIES[0]
        _stairs(axes, steps, last, 0)
        handles: list[Line2D | Patch] = [
            Line2D([], [], **(line_style(0) | {"label": f"seen up: {steps.in_words}"})),
            Patch(color=colour, alpha=0.2, linewidth=0, label="may have been up already"),
        ]
        if steps.fit is not None:
            days = np.linspace(max(steps.sown, 0), last, 200)
            style: dict[str, Any] = {"color": SERIES[1], "linewidth": 1.3, "linestyle": (0, (4, 2))}
            axes.plot(days, steps.of * steps.fit.share_by(days - steps.sown), **style)
            handles.append(Line2D([], [], **style, label="smooth curve through them"))
        axes.axhline(steps.of, color=colour, linewidth=0.8, linestyle=(0, (1, 2)))
        axes.annotate(
            f"{steps.of} sown" if steps.unit == "seed" else f"{steps.of} {steps.units}",
            (0.01, steps.of),
            (0, 2),
            xycoords=axes.get_yaxis_transform(),
            textcoords="offset points",
            size=9,
            bbox={"facecolor": PAPER, "edgecolor": "none", "pad": 0.8},
        )
        _axis(axes, [steps])
        axes.legend(handles=handles, loc="lower left", bbox_to_anchor=(0, 1), frameon=False, handlelength=3.2)

    return draw


def _shared(results: Results, pack: Sequence[Steps]) -> Callable[[Axes], None]:
    last = used_frames(results)[-1].elapsed_h / 24

    def draw(axes: Axes) -> None:
        handles = []
        for i, steps in enumerate(pack):
            _stairs(axes, steps, last, i)
            label = f"{shortened(steps.title, 30)}: {steps.in_words}"
            handles.append(Line2D([], [], **line_style(i), label=label))
        _axis(axes, pack)
        axes.legend(handles=handles, loc="lower left", bbox_to_anchor=(0, 1), frameon=False, handlelength=3.2)

    return draw


def _stairs(axes: Axes, steps: Steps, last: float, index: int) -> None:
    """Those seen up as stairs, and as a pale part those that may have been up since the photo before."""
    colour = SERIES[index % len(SERIES)]
    after = np.maximum(steps.after, 0.0)
    grid = np.unique([0.0, *after, *steps.by, last])
    surely = np.searchsorted(steps.by, grid, side="right")
    perhaps = np.searchsorted(after, grid, side="right")
    axes.fill_between(grid, surely, perhaps, step="post", color=colour, alpha=0.2, linewidth=0)
    axes.plot(grid, surely, drawstyle="steps-post", **(line_style(index) | {"marker": ""}))
    risen = np.isin(grid, steps.by)
    axes.plot(grid[risen], surely[risen], MARKERS[index % len(MARKERS)], color=colour, markersize=5)


def _axis(axes: Axes, pack: Sequence[Steps]) -> None:
    axes.set_ylim(0, 1.12 * max(LEAST_TALL, *(steps.of for steps in pack)))
    axes.yaxis.set_major_locator(MaxNLocator(integer=True, nbins=6))
    units = {steps.unit for steps in pack}
    axes.set_ylabel("seeds that came up" if units == {"seed"} else "places with a seedling")
