"""The whole story of one plant in sentences: for the page, and for `sproutlapse explain`.

The figures are those of the tables and the words those of the page and of events.csv, so that no two places say
different things of a plant.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from sproutlapse.growth.curves import doubling_days
from sproutlapse.report.facts import PlantNow, enough_to_tell, from_above, measure_of, plant_now, start_of, used_frames
from sproutlapse.report.told import OWN_WORDS, diary_line, hours_of, in_time_order
from sproutlapse.report.told_calendar import NOT_KNOWN, calendar
from sproutlapse.report.told_patches import beside_told
from sproutlapse.report.told_sowings import days_told, lead_told
from sproutlapse.report.words import amount, as_float, clock, counted, dated, missing, moment, rounded
from sproutlapse.results import Results

MOST_DOUBLING_DAYS = 14.0  # slower, leaves that move make more of it than growth does
STANDING = {"leads": "it is ahead", "lags": "it is behind", "level": "no more than seedlings of a sowing may differ"}
FIGURES_TOLD = "height to leaf "  # in the words of a verdict that stands on figures
ORDINALS = {1: "the first", 2: "the second", 3: "the third"}


@dataclass(frozen=True)
class Story:
    """One plant's story: how it stands, what happened in order of time, what is to be done for it."""

    plant: str
    how: tuple[str, ...]
    happened: tuple[str, ...]
    to_do: tuple[str, ...]

    @property
    def lines(self) -> list[str]:
        """The story as it is printed."""
        out = [self.plant, *(f"  {line}" for line in self.how)]
        for title, lines in (("What happened", self.happened), ("What to do", self.to_do)):
            out += [title, *(f"  {line}" for line in lines)] if lines else []
        return out


def story_of(results: Results, plant: str) -> Story:
    """The story of a plant of the tray, from the tables alone.

    Raises
    ------
    KeyError
        If no plant of this name stands in the tables.
    """
    rows = results.plants[results.plants["plant"] == plant]
    if rows.empty:
        raise KeyError(plant)
    row = rows.iloc[0]
    now = plant_now(results, row, measure_of(results))
    how = (
        _sown(results, row),
        _expected(results, row),
        _came_up(results, row, now),
        _now(results, row, now),
        _leaf(results, row),
        _judged(results, row, now),
        _standing(results, row),
        _usable(row),
        beside_told(results, plant),
        _photos(results, plant),
    )
    return Story(plant, tuple(line for line in how if line), _happened(results, row), _to_do(results, plant))


def _sown(results: Results, row: pd.Series) -> str:
    sowing = next((s for s in results.tray.sowings if s.name == row["sowing"]), None)
    if sowing is None:
        return "No sowing is named for it in tray.toml, so it is compared with no other plant."
    said = [sowing.name]
    if sowing.crop and sowing.crop not in sowing.name:
        said.append(sowing.crop)
    said.append("sown, when is not known" if sowing.sown is None else f"sown {dated(sowing.sown.isoformat())}")
    late = _days_after_sowing(results, row)
    check = " That is after it came up: check the date." if late is not None and late[1] <= 0 else ""
    return f"Sowing: {', '.join(said)}.{check}"


def _expected(results: Results, row: pd.Series) -> str:
    """Of a plant that is not up: when its sowing is to be expected and what to do about it, as in the calendar."""
    told = next((one for one in calendar(results) if one.sowing == row["sowing"]), None)
    if told is None or not missing(row["emerged_by"]) or (told.expected == NOT_KNOWN and not told.to_do):
        return ""
    return f"Sprouts to expect: {told.expected}. Its sowing on {told.now}. {told.to_do}".rstrip()


def _came_up(results: Results, row: pd.Series, now: PlantNow) -> str:
    if missing(row["emerged_by"]):
        return "Not up yet." if enough_to_tell(results) else "Whether it is up is not known yet."
    up = now.up if now.up.startswith(("between", "before")) else f"on {now.up}"
    days = _days_after_sowing(results, row)
    after = "" if days is None or days[1] <= 0 else f", {days_told(*days)} after sowing"
    seen = as_float(row.get("first_seen_mm"))
    first = "" if seen is None else f"; first seen at {amount(seen, 'mm')}"
    return f"Came up {up}{after}{_place(results, row)}{first}."


def _days_after_sowing(results: Results, row: pd.Series) -> tuple[float, float] | None:
    """Days from sowing to the photos before and with the plant, clock shifts corrected."""
    sowing = next((s for s in results.tray.sowings if s.name == row["sowing"]), None)
    start = start_of(results)
    if sowing is None or sowing.sown is None or start is None or missing(row["emerged_after"]):
        return None
    at = {frame.time: frame.elapsed_h for frame in reversed(used_frames(results))}
    after, by = (at.get(str(row[key])) for key in ("emerged_after", "emerged_by"))
    if after is None or by is None:
        return None
    sown = (moment(sowing.sown.isoformat()) - start).total_seconds() / 3600
    return max(after - sown, 0.0) / 24, (by - sown) / 24


def _place(results: Results, row: pd.Series) -> str:
    """`, the second of 4 of its sowing that came up`; plants first seen in one photo share a place."""
    plants = results.plants
    own = plants[(plants["sowing"] == row["sowing"]) & plants["emerged_by"].map(lambda cell: not missing(cell))]
    if missing(row["sowing"]) or len(own) < 2 or own["emerged_after"].map(missing).any():
        return ""
    at = {frame.time: frame.elapsed_h for frame in reversed(used_frames(results))}
    times = [at.get(str(time), 0.0) for time in own["emerged_by"]]
    mine = at.get(str(row["emerged_by"]), 0.0)
    place = sum(time < mine for time in times) + 1
    said = ORDINALS.get(place, f"number {place}")
    if place > 1 and mine == max(times):
        said = "among the last" if times.count(mine) > 1 else "the last"
    return f", {said} of {len(own)} of its sowing that came up"


def _now(results: Results, row: pd.Series, now: PlantNow) -> str:
    if missing(row["emerged_by"]):
        return ""
    what = "Leaf cover" if from_above(results) else "Height"
    growth = f" Growth: {now.growth}." if now.growth else ""
    days = doubling_days(as_float(row["rgr_per_day"]) or 0.0)
    doubles = f" The leaf area seen doubles in about {rounded(days, 1)} days." if days <= MOST_DOUBLING_DAYS else ""
    return f"{what} when last measured: {now.now}.{growth}{doubles}" if now.now else ""


def _leaf(results: Results, row: pd.Series) -> str:
    """Height to leaf and bare stem in the last photo that shows them, where no verdict tells those it stands on."""
    last = _last_leaf(results, str(row["plant"]))
    if last is None or FIGURES_TOLD in str(row.get("grade_why")):
        return ""
    said = f"Height to leaf {float(last['height_to_leaf']):.1f}"
    stem, height = as_float(last["stem_mm"]), as_float(last["height_mm"])
    if stem is not None and height:
        said += f", bare stem {amount(stem, 'mm')}, {rounded(100 * stem / height, 0)} % of the height"
    return f"{said} ({clock(str(last['time']))})."


def _last_leaf(results: Results, plant: str) -> pd.Series | None:
    table = results.measurements
    whole = ~table["cut_off"].fillna(False).astype(bool)
    own = table[(table["plant"] == plant) & table["height_to_leaf"].notna() & whole]
    return None if own.empty or from_above(results) else own.iloc[-1]


def _judged(results: Results, row: pd.Series, now: PlantNow) -> str:
    """The verdict, and the words that explain it where the table holds any, with the day that its figures are of."""
    if from_above(results) or missing(row["emerged_by"]):
        return ""
    why = "" if missing(row.get("grade_why")) else str(row["grade_why"])
    last = _last_leaf(results, str(row["plant"]))
    of_day = f" (the middle of the 24 hours up to {clock(str(last['time']))})" if last is not None else ""
    told = f": {why}{of_day if FIGURES_TOLD in why else ''}." if why and why != now.verdict else "."
    return f"Verdict: {now.verdict}{told}"


def _standing(results: Results, row: pd.Series) -> str:
    age, lead = as_float(row.get("age_days")), lead_told(row)
    if age is None or not lead:
        return ""
    word = STANDING.get(str(row["standing"]), "")
    if row["standing"] == "level" and abs(float(row["lead_share"])) >= results.tray.judge.lead_share:
        word = "too unsure to tell"
    return f"Beside the others of its sowing at the same age of {rounded(age, 1)} days: {lead}; {word}."


def _usable(row: pd.Series) -> str:
    usable = row.get("usable")
    if missing(usable):
        return ""
    return "Fit to be used." if bool(usable) else f"Not fit to be used: {row['unusable_because']}."


def _photos(results: Results, plant: str) -> str:
    table = results.measurements
    own = table[table["plant"] == plant]
    seen = int((own["canopy_px"] > 0).sum())
    hidden = int(own["covered"].sum()) if "covered" in own else 0
    out = int(own["canopy_px"].isna().sum()) - hidden
    said = f"Measured in {seen} of {counted(len(used_frames(results)), 'photo')}"
    said += f", hidden by a cover in {hidden}" if hidden else ""
    said += f", its pot not in its place in {out}" if out > 0 else ""
    return f"{said}." + ("" if enough_to_tell(results) else " So few do not tell what is up.")


def _happened(results: Results, row: pd.Series) -> tuple[str, ...]:
    """The events of the plant, of its sowing and of all plants at once, as the diary says them, in order of time."""
    others = [s.name for s in results.tray.sowings if s.name != row["sowing"]]
    at = hours_of(results)
    lines: list[tuple[float, str]] = []
    for event in in_time_order(results):
        line = diary_line(event)
        if line.plant not in ("", row["plant"]):
            continue
        if not line.plant and any(line.detail.startswith(f"{name}:") for name in others):
            continue
        later = f" (known from {line.known})" if line.known else ""
        told = f"{line.when}: {line.event}{': ' if line.detail else ''}{line.detail}{later}"
        lines.append((at(str(event["time"])), told))
    own = [e for e in results.diary if e.kind == "note" or e.about.endswith(f":{row['plant']}")]
    lines += [(at(entry.time), f"{clock(entry.time)}: {OWN_WORDS[entry.kind]}: {entry.text}") for entry in own]
    return tuple(told for _, told in sorted(lines, key=lambda one: one[0]))


def _to_do(results: Results, plant: str) -> tuple[str, ...]:
    return tuple(
        f"{item.urgency}: {_joined((item.title, item.number, item.reason, item.remedy, item.caution))}"
        for item in results.care
        if plant in item.plants
    )


def _joined(parts: Sequence[str]) -> str:
    return " ".join(part if part.endswith((".", "!", "?")) else f"{part}." for part in parts if part)
