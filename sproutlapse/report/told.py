"""What the tables say about photos, events and methods, as sentences for the page; of sowings: `told_sowings.py`."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import pandas as pd

from sproutlapse.report.facts import from_above, has_scale, plant_names, start_of, used_frames
from sproutlapse.report.words import (
    GIVE_OR_TAKE,
    amount,
    as_float,
    clock,
    counted,
    hours,
    missing,
    moment,
)
from sproutlapse.results import CareItem, DiaryEntry, Results

DIARY_LINES = 60
# "done" alone is the event of a sowing that is up in full.
OWN_WORDS = {"note": "your note", "done": "you said done"}
LEAST_SHIFT_PX = 0.05  # less would be said as 0.0 pixels


@dataclass(frozen=True)
class DiaryLine:
    """One event as it is read; `known` is when it could be said, empty where that was at once."""

    when: str
    plant: str
    event: str
    detail: str
    known: str = ""


@dataclass(frozen=True)
class LeftOut:
    """One photo that was not measured."""

    frame: str
    when: str
    reason: str


def photo_summary(results: Results) -> list[str]:
    """How many photos, how often, how steady the camera, how even the light."""
    total, used = len(results.frames), used_frames(results)
    lines = [f"{counted(total, 'photo')} in the folder, {len(used)} measured, {total - len(used) or 'none'} left out."]
    if len(used) > 1:
        gaps = sorted(b.elapsed_h - a.elapsed_h for a, b in pairwise(used))
        lines.append(f"Mostly one every {hours(gaps[len(gaps) // 2])}; the longest gap is {hours(gaps[-1])}.")
    table = results.frames_table
    shift = pd.to_numeric(table["shift_px"], errors="coerce").abs().max()
    if pd.notna(shift):
        still = float(shift) < LEAST_SHIFT_PX
        lines.append(
            "The camera stood still."
            if still
            else f"The camera moved by {amount(float(shift), 'pixels', places=1)} at most; that is undone."
        )
    gain = pd.to_numeric(table["gain"], errors="coerce").dropna()
    if len(gain) > 1:
        lines.append(
            f"Brightness went from {gain.min():.2f} to {gain.max():.2f} times that of the first photos; "
            "that is evened out."
        )
    if results.light_told:
        lines.append(results.light_told)
    shifted = pd.to_numeric(table["clock_shift_s"], errors="coerce").fillna(0).ne(0).sum()
    if shifted:
        lines.append(f"The camera's clock was set back; {counted(int(shifted), 'photo')} counted with the correction.")
    return lines


def left_out(results: Results) -> tuple[list[tuple[str, int]], list[LeftOut]]:
    """Reasons with their number, most frequent first, and each photo that was left out."""
    rows = [
        LeftOut(
            str(row["frame"]),
            "" if missing(row["time"]) else clock(str(row["time"])),
            "no reason noted" if missing(row["reason"]) else str(row["reason"]),
        )
        for _, row in results.frames_table.iterrows()
        if not bool(row["used"])
    ]
    counts = Counter(row.reason for row in rows)
    return sorted(counts.items(), key=lambda item: (-item[1], item[0])), rows


def diary(results: Results) -> list[DiaryLine]:
    """What happened when, latest first, with the grower's own words among it."""
    at = hours_of(results)
    lines = [(at(str(row["time"])), diary_line(row)) for row in in_time_order(results)]
    lines += [(at(entry.time), own_line(entry)) for entry in results.diary]
    return [line for _, line in sorted(lines, key=lambda one: one[0])[::-1][:DIARY_LINES]]


def own_line(entry: DiaryEntry) -> DiaryLine:
    """A note, or what was said to be done, as it is read."""
    return DiaryLine(clock(entry.time), "", OWN_WORDS[entry.kind], entry.text)


def hours_of(results: Results) -> Callable[[str], float]:
    """Hours since the first photo of a time as the tables write it; clock shifts corrected."""
    start = start_of(results)
    known = {frame.time: frame.elapsed_h for frame in reversed(used_frames(results))}

    def hours(time: str) -> float:
        if time in known or start is None:
            return known.get(time, 0.0)
        return (moment(time) - start).total_seconds() / 3600

    return hours


def in_time_order(results: Results) -> list[pd.Series]:
    """The rows of events.csv by when they happened, those of one time in the table's order; clock shifts corrected."""
    at = hours_of(results)
    return sorted((row for _, row in results.events.iterrows()), key=lambda row: at(str(row["time"])))


def diary_line(event: pd.Series) -> DiaryLine:
    """One row of events.csv as it is read."""
    return DiaryLine(
        clock(str(event["time"])),
        "" if missing(event["plant"]) else str(event["plant"]),
        str(event["event"]),
        "" if missing(event["detail"]) else str(event["detail"]),
        _known(str(event["time"]), str(event["known"])),
    )


def _known(time: str, known: str) -> str:
    if known == time:
        return ""
    return f"{moment(known):%H:%M}" if moment(known).date() == moment(time).date() else clock(known)


def cautions_told(care: Sequence[CareItem]) -> list[str]:
    """The cautions of all items in order, each sentence once, however many items share it."""
    seen: set[str] = set()
    told = []
    for item in care:
        fresh = [s for s in re.findall(r"\S.*?(?:[.!?](?=\s|$)|$)", item.caution) if s not in seen]
        seen.update(fresh)
        if fresh:
            told.append(" ".join(fresh))
    return told


def methods(results: Results) -> list[str]:
    """How the numbers were got: scale, what heights mean, version."""
    lines = [_scale(results)]
    if from_above(results):
        lines.append(
            "Leaf cover is the ground that the leaves hide, seen from above. Heights cannot be seen from there."
        )
    else:
        lines.append("Height is measured straight up from the soil at the plant's foot to its highest leaf.")
    if has_scale(results):
        lines.append("“Give or take” means that 19 times out of 20 the true figure lies within.")
    if "usable" in results.plants and results.plants["usable"].notna().any():
        share = 100 * results.tray.judge.usable_share
        lines.append(
            "Fit to be used is a plant that is up and still there, does not lie down, is not leggy, and is at least "
            f"{share:.0f} % of the size of the middle one of its sowing at the same age."
        )
    lines.append(
        f"{counted(len(plant_names(results)), 'place')} for a plant in view, "
        f"{counted(len(used_frames(results)), 'photo')} measured."
    )
    if not missing(results.run.get("version")):
        lines.append(f"Made by sproutlapse {results.run['version']}.")
    return lines


def _scale(results: Results) -> str:
    if not has_scale(results):
        return (
            "No scale is known, so sizes stand in pixels of the photo. Stand the printed mark in the plants' row, "
            "or name two points and the length between them in tray.toml, and they will stand in millimetres."
        )
    source = "two points of known length" if results.tray.scale.from_px is not None else "the printed mark"
    shared: Any = results.run.get("shared_uncertainty")
    share = as_float(shared.get("scale_sd_share")) if isinstance(shared, dict) else None
    if share is None:
        return f"Millimetres come from {source}."
    return (
        f"Millimetres come from {source}, give or take {GIVE_OR_TAKE * 100 * share:.1f} %; "
        "if it is off, all plants are off by the same share."
    )
