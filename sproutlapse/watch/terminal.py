"""One line of the photos that came."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from sproutlapse.figures import amount
from sproutlapse.report.words import clock
from sproutlapse.results import FrameRecord, Results

MOST_LOST = 6  # lines of photos that were given up at once


def line_of(results: Results, frames: Sequence[str]) -> str:
    """What a new photo, or a burst of them, showed: `IMG_0042.JPG (4 Mar, 09:00): 3 of 5 up, tallest B 23 mm`.

    Parameters
    ----------
    frames
        Of the new photos, in camera order.
    """
    there = {record.frame: record for record in results.frames}
    new = [there[frame] for frame in frames]
    if len(new) == 1:
        head = f"{new[0].frame} ({clock(new[0].time)})"
        return f"{head}: {_state(results, new[0].frame) if new[0].used else f'left out: {new[0].reason}'}"
    used = [record for record in new if record.used]
    left = f", {len(new) - len(used)} left out" if len(used) < len(new) else ""
    head = f"{len(new)} photos, {_span(new)}{left}"
    return f"{head}: {_state(results, used[-1].frame)}" if used else head


def lines_of_lost(results: Results, frames: Sequence[str]) -> list[str]:
    """A line with its reason for each photo that was given up; of very many only the first."""
    wanted = set(frames)
    lost = [record.frame for record in results.frames if record.frame in wanted]
    more = len(lost) - MOST_LOST
    rest = [f"... and {more} more left out: frames.csv says why."] if more > 0 else []
    return [*(line_of(results, [frame]) for frame in lost[:MOST_LOST]), *rest]


def _span(new: Sequence[FrameRecord]) -> str:
    return f"{new[0].frame} to {new[-1].frame} ({clock(new[0].time)} to {clock(new[-1].time)})"


def _state(results: Results, frame: str) -> str:
    """How many are up and the tallest, or the largest seen from above."""
    table = results.measurements
    rows = table[table["frame"] == frame]
    plants = results.plants
    up = int((plants["emerged_by"].astype(str) != "").sum())
    told = f"{up} of {len(plants)} up"
    if sum(record.used for record in results.frames) < results.tray.judge.emerged_frames:
        told = "too early to tell what is up"
    column, sd, unit, word = ("height_mm", "height_sd_mm", "mm", "tallest")
    if results.tray.view.from_ == "above":
        column, sd, unit, word = ("canopy_mm2", "canopy_sd_mm2", "mm²", "largest")
    seen = rows[rows[column].fillna(0) > 0].sort_values(column, ascending=False)
    if not len(seen):
        return told
    plant, value, give = seen.iloc[0][["plant", column, sd]]
    return f"{told}, {word} {plant} {amount(float(value), unit, None if pd.isna(give) else float(give))}"
