"""What the tables say about sowings, photos, events and methods, as sentences for the page."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise
from typing import Any

import pandas as pd

from sproutlapse.report.facts import from_above, has_scale, plant_names, start_of, used_frames
from sproutlapse.report.words import (
    GIVE_OR_TAKE,
    amount,
    as_float,
    between,
    clock,
    counted,
    hours,
    missing,
    moment,
    rounded,
)
from sproutlapse.results import CareItem, Results

DIARY_LINES = 60
LEAST_SHIFT_PX = 0.05  # less would be said as 0.0 pixels


@dataclass(frozen=True)
class SowingTold:
    """One sowing in sentences."""

    name: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class DiaryLine:
    """One event as it is read."""

    when: str
    plant: str
    event: str
    detail: str


@dataclass(frozen=True)
class LeftOut:
    """One photo that was not measured."""

    frame: str
    when: str
    reason: str


def sowings_told(results: Results) -> list[SowingTold]:
    """Emergence of each sowing, or of all plants where no sowing is named."""
    plants = results.plants
    known = [str(name) for name in results.sowings["sowing"]]
    told = [
        SowingTold(name, _emergence(plants[plants["sowing"] == name], results, row))
        for name, (_, row) in zip(known, results.sowings.iterrows(), strict=True)
    ]
    rest = plants[~plants["sowing"].isin(known)]
    if len(rest):
        told.append(SowingTold("No sowing named" if known else "All plants", _emergence(rest, results, None)))
    return told


def _emergence(plants: pd.DataFrame, results: Results, sowing: pd.Series | None) -> tuple[str, ...]:
    up = plants[plants["emerged_by"].map(lambda cell: not missing(cell))]
    place = "cell" if from_above(results) else "pot"
    if not len(plants):
        return ("No pot or cell of this sowing stands in the picture.",)
    photos, needed = len(used_frames(results)), results.tray.judge.emerged_frames
    if not len(up) and photos < needed:
        return (f"Not known yet what is up: it takes {needed} photos to tell, {photos} so far.",)
    sentences = [_how_many(len(up), len(plants), place, sowing)]
    if len(up):
        corrected = _corrected(results)
        sentences.append(_first(up, corrected))
        sentences.append(_half(up, sowing, corrected))
    elif used := used_frames(results):
        last = used[-1].time
        sentences.append(f"Nothing yet in the last photo, {clock(_corrected(results).get(last, last))}.")
    # That all are up stands in the first sentence already.
    said = "" if sowing is None or missing(sowing["verdict"]) else str(sowing["verdict"])
    if said and not said.startswith("all up"):
        sentences.append(f"{said[0].upper()}{said[1:]}.")
    return tuple(sentence for sentence in sentences if sentence)


def _how_many(up: int, total: int, place: str, sowing: pd.Series | None) -> str:
    text = f"{up} of {counted(total, place)} up."
    if sowing is None:
        return text
    seeds, emerged = as_float(sowing["seeds"]), as_float(sowing["emerged"])
    if seeds is not None and emerged is not None and seeds != total:
        text += f" {emerged:.0f} seedlings from {seeds:.0f} seeds, {rounded(100 * emerged / seeds, 0)} %."
    return text


def _corrected(results: Results) -> dict[str, str]:
    """The tables' times of the measured photos as the first photo's clock would show them, had it never been set."""
    start = start_of(results)
    if start is None:
        return {}
    # Whole seconds: a shown minute must not fall short by what hours as a decimal number lose.
    return {f.time: (start + timedelta(seconds=round(3600 * f.elapsed_h))).isoformat() for f in used_frames(results)}


def _first(up: pd.DataFrame, corrected: dict[str, str]) -> str:
    def came_up(row: pd.Series) -> str:
        return corrected.get(str(row["emerged_by"]), str(row["emerged_by"]))

    row = min((row for _, row in up.iterrows()), key=lambda row: moment(came_up(row)))
    if missing(row["emerged_after"]):
        if str(row["emerged_by"]) == next(iter(corrected), ""):
            return "The first stood already in the first photo."
        return f"The first were up by {clock(came_up(row))}, with the cover off; since when is not known."
    began, by = str(row["emerged_after"]), came_up(row)
    after = corrected.get(began, began)
    gap = (moment(by) - moment(after)).total_seconds() / 3600
    known = f"known to within the gap between two photos, {hours(gap)}" if gap > 0 else "known to within two photos"
    return f"The first came up {_on(between(after, by))} ({known})."


def _on(span: str) -> str:
    return span if span.startswith("between") else f"on {span}"


def _half(up: pd.DataFrame, sowing: pd.Series | None, corrected: dict[str, str]) -> str:
    if len(up) < 2:
        return ""
    times = sorted((str(t) for t in up["emerged_by"]), key=lambda t: moment(str(corrected.get(t, t))))
    half = times[(len(times) - 1) // 2]
    before = {str(row["emerged_by"]) for _, row in up.iterrows() if missing(row["emerged_after"])}
    if half in before:
        if len(before) == len(times):
            return ""
        if half == next(iter(corrected), ""):
            return "Half of those that came up stood already in the first photo."
        return "Half of those that came up were up when they were first seen without the cover."
    days = as_float(sowing["median_days"]) if sowing is not None else None
    if days is not None:
        return (
            f"Half of those that came up were up {rounded(days, 1)} days after sowing, counting to the middle of the "
            "gap between the two photos."
        )
    return f"Half of those that came up were up in the photo of {clock(corrected.get(half, half))}."


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
    """What happened when, latest first."""
    rows = list(results.events.iterrows())[::-1][:DIARY_LINES]
    return [
        DiaryLine(
            clock(str(row["time"])),
            "" if missing(row["plant"]) else str(row["plant"]),
            str(row["event"]),
            "" if missing(row["detail"]) else str(row["detail"]),
        )
        for _, row in rows
    ]


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
