"""Charts of one run: growth, emergence, height-to-leaf, brightness of the photos.

Each is narrow enough to be read on a phone and holds few lines; sowings get a chart each instead of one full of lines.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray

from sproutlapse.growth.stretch import Band, band
from sproutlapse.report.colours import INK, PAPER, SERIES
from sproutlapse.report.drawing import STYLE, Chart, drawn, end_names, line_style, room_for
from sproutlapse.report.emergence_charts import emergence_charts
from sproutlapse.report.facts import (
    LINES_PER_PANEL,
    Curve,
    Group,
    Measure,
    curve_of,
    cut_times,
    groups_of,
    has_scale,
    measure_of,
    plant_names,
    start_of,
    used_frames,
)
from sproutlapse.report.since import notes_of
from sproutlapse.report.words import GIVE_OR_TAKE, as_float, day, moment, named
from sproutlapse.results import DiaryEntry, Results
from sproutlapse.tray import Habit


def charts_of(results: Results) -> list[Chart]:
    """All charts of a run, in the order of the page; those that would be empty are left out."""
    # One photo holds no change over time that could be drawn.
    if len(used_frames(results)) < 2:
        return []
    with mpl.rc_context(STYLE):
        return [*_growth(results), *emergence_charts(results), *_height_to_leaf(results), *_brightness(results)]


def _growth(results: Results) -> list[Chart]:
    measure = measure_of(results)
    charts = []
    for number, group in enumerate(groups_of(results, plant_names(results)), start=1):
        curves = [curve for name in group.plants if (curve := curve_of(results, name, measure)).days.size]
        if not curves:
            continue
        few = len(curves) <= LINES_PER_PANEL
        shown = [curve.plant for curve in (curves if few else _extremes(curves))]
        alt = f"{_capital(measure.name)} in {measure.unit} over the days. " + _ends_in_words(curves, measure)
        cuts = _cut_days(results, group)
        notes = _note_days(results)
        if cuts:
            alt += f" Cut back on {named([day(moment(time)) for time in cuts])}."
        alt += "".join(f" Note {n} on {day(moment(note.time))}: {note.text}." for n, (note, _) in enumerate(notes, 1))
        charts.append(
            drawn(
                results,
                _with_notes(
                    (_few_lines if few else _many_lines)(curves, measure, list(cuts.values())), [at for _, at in notes]
                ),
                kind="growth",
                name=f"growth-{number}",
                title=group.title,
                alt=alt,
                room=room_for(shown),
            )
        )
    return charts


def _cut_days(results: Results, group: Group) -> dict[str, float]:
    """When plants of a group were cut back, as the tables write times, with the days since the first photo."""
    days = {frame.time: frame.elapsed_h / 24 for frame in used_frames(results)}
    times = sorted({time for name in group.plants for time in cut_times(results, name)}, key=lambda t: days.get(t, 0.0))
    return {time: days[time] for time in times if time in days}


def _cut_marks(axes: Axes, cuts: Sequence[float]) -> None:
    for at in cuts:
        axes.axvline(at, color=INK, linewidth=0.9, linestyle=(0, (2, 2)), zorder=1)
        axes.text(at, 0.99, "cut back ", transform=axes.get_xaxis_transform(), ha="right", va="top", size=9)


def _note_days(results: Results) -> list[tuple[DiaryEntry, float]]:
    """The grower's notes with the days since the first photo."""
    start = start_of(results)
    notes = notes_of(results) if start is not None else []
    return [(note, (moment(note.time) - start).total_seconds() / 86400) for note in notes if start is not None]


def _with_notes(draw: Callable[[Axes], None], days: Sequence[float]) -> Callable[[Axes], None]:
    """The drawing with a number on a line at each note; their words stand below the charts."""

    def drawn_on(axes: Axes) -> None:
        draw(axes)
        for number, at in enumerate(days, 1):
            axes.axvline(at, color=INK, linewidth=0.8, linestyle=(0, (1, 2)), zorder=1)
            axes.text(at, 0.02, f" {number}", transform=axes.get_xaxis_transform(), va="bottom", size=9, weight="bold")

    return drawn_on


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _extremes(curves: Sequence[Curve]) -> list[Curve]:
    ordered = sorted(curves, key=lambda curve: float(curve.value[-1]))
    return [*ordered[:2], *ordered[-2:]]


def _ends_in_words(curves: Sequence[Curve], measure: Measure) -> str:
    if len(curves) <= LINES_PER_PANEL:
        return "Last: " + named([f"{c.plant} {c.value[-1]:.0f} {measure.unit}" for c in curves]) + "."
    low, high = _extremes(curves)[0], _extremes(curves)[-1]
    return (
        f"{len(curves)} plants; last, from {low.value[-1]:.0f} {measure.unit} ({low.plant}) "
        f"to {high.value[-1]:.0f} {measure.unit} ({high.plant})."
    )


def _few_lines(curves: Sequence[Curve], measure: Measure, cuts: Sequence[float] = ()) -> Callable[[Axes], None]:
    def draw(axes: Axes) -> None:
        for i, curve in enumerate(curves):
            give = GIVE_OR_TAKE * np.nan_to_num(curve.sd)
            axes.fill_between(
                curve.days,
                np.maximum(curve.value - give, 0),
                curve.value + give,
                color=SERIES[i % len(SERIES)],
                alpha=0.2,
                linewidth=0,
            )
            every = max(1, curve.days.size // 6)
            axes.plot(curve.days, curve.value, markevery=every, **line_style(i))
            cut = curve.at_least
            axes.plot(curve.days[cut], curve.value[cut], "^", color=SERIES[i % len(SERIES)], markerfacecolor=PAPER)
        _scale_of(axes, curves, measure)
        _cut_marks(axes, cuts)
        end_names(
            axes,
            [(float(c.days[-1]), float(c.value[-1]), c.plant, SERIES[i % len(SERIES)]) for i, c in enumerate(curves)],
        )

    return draw


def _scale_of(axes: Axes, curves: Sequence[Curve], measure: Measure) -> None:
    # A band drawn before may need more room than the curves do.
    reached = axes.get_ylim()[1] if measure.column == "height_to_leaf" else 0.0
    axes.set_ylim(0, max(_top(curves), reached))
    name = measure.name.split(" seen")[0].split(" above")[0]
    axes.set_ylabel(f"{name}, {measure.unit}" if measure.unit else name)


def _top(curves: Sequence[Curve]) -> float:
    return 1.08 * max(float(np.max(c.value + GIVE_OR_TAKE * np.nan_to_num(c.sd))) for c in curves) + 1e-9


def middle_line(curves: Sequence[Curve]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Days, and the (3, days) lower quarter, middle and upper quarter of the plants that are up on each."""
    days = np.unique(np.concatenate([c.days for c in curves]))
    if days.size > 120:
        days = np.linspace(days[0], days[-1], 120)
    table = np.array([np.interp(days, c.days, c.value, left=0.0, right=c.value[-1]) for c in curves])
    return days, np.quantile(table, [0.25, 0.5, 0.75], axis=0)


def _many_lines(curves: Sequence[Curve], measure: Measure, cuts: Sequence[float] = ()) -> Callable[[Axes], None]:
    def draw(axes: Axes) -> None:
        for curve in curves:
            axes.plot(curve.days, curve.value, color=INK, alpha=0.22, linewidth=0.8)
        days, quarters = middle_line(curves)
        axes.fill_between(days, quarters[0], quarters[2], color=SERIES[0], alpha=0.25, linewidth=0)
        axes.plot(days, quarters[1], color=SERIES[0], linewidth=2.4)
        _scale_of(axes, curves, measure)
        _cut_marks(axes, cuts)
        end_names(axes, [(float(c.days[-1]), float(c.value[-1]), c.plant, INK) for c in _extremes(curves)])

    return draw


def judged_habits(results: Results) -> dict[Habit, list[str]]:
    """Plants by habit, for the habits that have a band of height to leaf."""
    habits: dict[Habit, list[str]] = {}
    for plant in results.tray.plants:
        if plant.habit is not None and band(plant.habit, results.tray.judge) is not None:
            habits.setdefault(plant.habit, []).append(plant.name)
    return habits


def _height_to_leaf(results: Results) -> list[Chart]:
    habits = judged_habits(results)
    charts: list[Chart] = []
    for habit, names in habits.items():
        for group in groups_of(results, names):
            curves = [c for name in group.plants if (c := _ratio_curve(results, name)).days.size]
            if curves:
                charts.append(_ratio_chart(results, habit, group, curves, len(charts) + 1, several=len(habits) > 1))
    return charts


def _ratio_curve(results: Results, plant: str) -> Curve:
    curve = curve_of(results, plant, Measure("height_to_leaf", None, 1.0, "", "height to leaf"))
    if not has_scale(results):
        return curve
    # Small plants are not judged by it: what is drawn shall be what is judged.
    tall = curve_of(results, plant, Measure("height_mm", None, 1.0, "mm", "height"))
    judged = np.isin(curve.days, tall.days[tall.value >= results.tray.judge.leggy_from_mm])
    return Curve(plant, curve.days[judged], curve.value[judged], curve.sd[judged], curve.at_least[judged])


def _ratio_chart(
    results: Results, habit: Habit, group: Group, curves: Sequence[Curve], number: int, *, several: bool
) -> Chart:
    limits = band(habit, results.tray.judge)
    few = len(curves) <= LINES_PER_PANEL
    measure = Measure("height_to_leaf", None, 1.0, "", "height to leaf")
    lines = _few_lines(curves, measure) if few else _many_lines(curves, measure)

    def draw(axes: Axes) -> None:
        if limits is not None:
            _band(axes, limits, max(_top(curves), 1.2 * limits.ratio_alone))
        lines(axes)

    named_ones = curves if few else _extremes(curves)
    alt = "Height to leaf over the days. Last: " + named([f"{c.plant} {c.value[-1]:.1f}" for c in named_ones])
    if limits is not None:
        alt += (
            f"; sturdy below {limits.near_ratio:.1f}, leggy from {limits.ratio:.1f} on a long bare stem "
            f"and from {limits.ratio_alone:.1f} on any"
        )
    title = f"{group.title} ({habit})" if several else group.title
    room = room_for([c.plant for c in named_ones])
    name = f"height-to-leaf-{number}"
    return drawn(results, draw, kind="ratio", name=name, title=title, alt=alt + ".", room=room)


def _band(axes: Axes, limits: Band, top: float) -> None:
    axes.set_ylim(0, top)
    axes.axhspan(limits.ratio, limits.ratio_alone, color=INK, alpha=0.07, linewidth=0, zorder=0)
    axes.axhspan(limits.ratio_alone, top, color=INK, alpha=0.15, linewidth=0, zorder=0)
    axes.axhline(limits.near_ratio, color=INK, linewidth=0.9, linestyle=(0, (2, 2)))
    across = axes.get_yaxis_transform()
    for y, words, side in (
        (limits.near_ratio, "sturdy below", "top"),
        (limits.ratio, "leggy if the stem is bare", "bottom"),
        (top, "leggy", "top"),
    ):
        clear = (0, -3 if side == "top" else 2)
        axes.annotate(words, (0.02, y), clear, xycoords=across, textcoords="offset points", va=side, size=9)


def _brightness(results: Results) -> list[Chart]:
    used = [frame for frame in used_frames(results) if frame.gains is not None]
    gains = {
        str(f): as_float(g) for f, g in zip(results.frames_table["frame"], results.frames_table["gain"], strict=True)
    }
    points = [(frame.elapsed_h / 24, gains.get(frame.frame)) for frame in used]
    points = [(d, g) for d, g in points if g is not None]
    if len(points) < 2:
        return []
    left_out = [frame.elapsed_h / 24 for frame in results.frames if not frame.used and np.isfinite(frame.elapsed_h)]

    def draw(axes: Axes) -> None:
        days, gain = np.array(points, dtype=float).T
        axes.axhline(1.0, color=INK, linewidth=0.8)
        axes.plot(days, gain, "o", color=SERIES[0], markersize=3)
        low, high = min(0.5, 0.9 * gain.min()), max(1.5, 1.1 * gain.max())
        axes.set_ylim(low, high)
        if left_out:
            axes.plot(left_out, [low + 0.05 * (high - low)] * len(left_out), "X", color=SERIES[1], markersize=7)
        axes.set_ylabel("brightness, times the first photos'")

    alt = (
        f"Brightness of {len(points)} photos against the first ones, from {min(g for _, g in points if g):.2f} "
        f"to {max(g for _, g in points if g):.2f} times; {len(left_out)} left out, marked with a cross."
    )
    return [drawn(results, draw, kind="photos", name="brightness", title="Brightness of the photos", alt=alt)]
