"""What came of each sowing, in sentences for the page."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import pandas as pd

from sproutlapse.report.facts import from_above, no_hour_because, start_of, used_frames
from sproutlapse.report.words import amount, as_float, between, clock, counted, hours, missing, moment, named, rounded
from sproutlapse.results import Results

NO_GAP_DAYS = 0.3  # a gap between two photos up to this long is told by its middle


@dataclass(frozen=True)
class SowingTold:
    """One sowing in sentences."""

    name: str
    sentences: tuple[str, ...]


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
        sentences.append(_first(up, results, corrected))
        sentences.append(_half(up, results, sowing, corrected))
        if sowing is not None:
            sentences += [_last(sowing), _first_seen(up), _share(sowing, place)]
    elif used := used_frames(results):
        last = used[-1].time
        sentences.append(f"Nothing yet in the last photo, {clock(_corrected(results).get(last, last))}.")
    # That all are up stands in the first sentence already.
    said = "" if sowing is None or missing(sowing["verdict"]) else str(sowing["verdict"])
    if said and not (said.startswith("all up") and ";" not in said):
        sentences.append(f"{said[0].upper()}{said[1:]}.")
    if sowing is not None:
        sentences.append(_whose_days(sowing, results))
        sentences += [
            _even(sowing, above=from_above(results)),
            order_told(plants, above=from_above(results)),
            usable_told(plants),
        ]
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


def _first(up: pd.DataFrame, results: Results, corrected: dict[str, str]) -> str:
    def came_up(row: pd.Series) -> str:
        return corrected.get(str(row["emerged_by"]), str(row["emerged_by"]))

    row = min((row for _, row in up.iterrows()), key=lambda row: moment(came_up(row)))
    if missing(row["emerged_after"]):
        why = no_hour_because(row, results)
        if why == "first photo":
            return "The first stood already in the first photo."
        seen = "with the cover off" if why == "cover" else "when their place was first in view"
        return f"The first were up by {clock(came_up(row))}, {seen}; since when is not known."
    began, by = str(row["emerged_after"]), came_up(row)
    after = corrected.get(began, began)
    gap = (moment(by) - moment(after)).total_seconds() / 3600
    known = f"known to within the gap between two photos, {hours(gap)}" if gap > 0 else "known to within two photos"
    return f"The first came up {_on(between(after, by))} ({known})."


def _on(span: str) -> str:
    return span if span.startswith("between") else f"on {span}"


def _half(up: pd.DataFrame, results: Results, sowing: pd.Series | None, corrected: dict[str, str]) -> str:
    if len(up) < 2:
        return ""
    times = sorted((str(t) for t in up["emerged_by"]), key=lambda t: moment(str(corrected.get(t, t))))
    half = times[(len(times) - 1) // 2]
    before = {
        str(row["emerged_by"]): no_hour_because(row, results)
        for _, row in up.iterrows()
        if missing(row["emerged_after"])
    }
    if half in before:
        if len(before) == len(times):
            return ""
        if before[half] == "first photo":
            return "Half of those that came up stood already in the first photo."
        seen = "first seen without the cover" if before[half] == "cover" else "first in view"
        return f"Half of those that came up were up when they were {seen}."
    days = as_float(sowing["median_days"]) if sowing is not None else None
    if days is not None and sowing is not None:
        fit, sd = (as_float(sowing.get(key)) for key in ("fit_median_days", "fit_median_sd_days"))
        curve = "" if fit is None else f" A smooth curve through all of them says {amount(fit, 'days', sd, places=1)}."
        low, high = (as_float(sowing.get(key)) for key in ("median_after_days", "median_by_days"))
        gap = "" if low is None or high is None or high - low <= NO_GAP_DAYS else f", {days_told(low, high)}"
        return (
            f"Half of those that came up were up {rounded(days, 1)} days after sowing, counting to the middle of the "
            f"gap between the two photos{gap}.{curve}"
        )
    return f"Half of those that came up were up in the photo of {clock(corrected.get(half, half))}."


def days_told(after: float, by: float) -> str:
    """Days within a gap between two photos: `7.1 days`, or `7.0 to 9.3 days` where the gap is a long one."""
    if by - after <= NO_GAP_DAYS:
        return f"{rounded((after + by) / 2, 1)} days"
    return f"{rounded(after, 1)} to {rounded(by, 1)} days"


def _last(sowing: pd.Series) -> str:
    spread = as_float(sowing["spread_days"])
    if not spread:
        return ""
    done = as_float(sowing["emerged_share"]) == 1.0
    return f"The last {'came' if done else 'so far came'} {rounded(spread, 1)} days after the first."


def _first_seen(up: pd.DataFrame) -> str:
    """How tall plants were when first seen, since pale and purple ones show later than green ones."""
    if "first_seen_mm" not in up:
        return ""
    seen = pd.to_numeric(up["first_seen_mm"], errors="coerce")[up["emerged_after"].map(lambda cell: not missing(cell))]
    if not seen.notna().any():
        return ""
    low, high = rounded(float(seen.min()), 0), rounded(float(seen.max()), 0)
    who = "it was" if int(seen.notna().sum()) == 1 else "they were"
    return f"When first seen {who} {low if low == high else f'{low} to {high}'} mm tall."


def _share(sowing: pd.Series, place: str) -> str:
    """What so few tell about the seed, once no more are waited for; before, only how many such are up by now."""
    low, high = as_float(sowing.get("share_low")), as_float(sowing.get("share_high"))
    if low is None or high is None or (as_float(sowing["plants"]) or 0) < 2:
        return ""
    unit = "seeds" if sowing.get("times_of") == "seed" else f"{place}s"
    over = as_float(sowing["emerged_share"]) == 1.0 or "overdue" in str(sowing["verdict"])
    return (
        f"By what these alone tell, {rounded(100 * low, 0)} to {rounded(100 * high, 0)} of a hundred such {unit} "
        f"{'come up' if over else 'are up by now, and more may follow'} (true 19 times out of 20)."
    )


def _whose_days(sowing: pd.Series, results: Results) -> str:
    """That the first of several seeds in a pot is sooner than a single seed, where both stand on the page."""
    if "times_of" not in results.sowings or set(results.sowings["times_of"]) != {"pot", "seed"}:
        return ""
    if sowing["times_of"] == "seed":
        return "Days are those of single seeds."
    return (
        "Days are those of the first seedling in each pot: if several seeds lie in one, that is sooner than a single "
        "seed, so they do not compare with days of single seeds."
    )


def _even(sowing: pd.Series, *, above: bool) -> str:
    age, spread = as_float(sowing.get("equal_age_days")), as_float(sowing.get("equal_age_spread"))
    if age is None or spread is None:
        return ""
    tall = as_float(sowing.get("equal_age_height_mm"))
    middle = "," if tall is None else f" the middle one stood {rounded(tall, 0)} mm tall, and"
    what = "how far their leaves reach differs" if above else "heights differ"
    return f"At the same age of {rounded(age, 1)} days{middle} {what} by about {rounded(100 * spread, 0)} %."


def order_told(plants: pd.DataFrame, *, above: bool = False) -> str:
    """Who leads and who lags within a sowing at equal age, with the give or take.

    It is said as what it is, taller or smaller, since a tall plant may be a leggy one; its grade stands beside it.
    """
    if "standing" not in plants:
        return ""
    parts = []
    for word, said in (("leads", "Larger" if above else "Taller"), ("lags", "Smaller" if above else "Shorter")):
        own = [row for _, row in plants.iterrows() if row["standing"] == word]
        if own:
            names = named([f"{row['plant']} ({lead_told(row)}{_grade(row)})" for row in own])
            parts.append(f"{said} than the others at the same age: {names}.")
    return " ".join(parts)


def _grade(row: pd.Series) -> str:
    return f"; {row['grade']}" if row.get("grade") in ("leggy", "stretching") else ""


def lead_told(row: pd.Series) -> str:
    """`35 % taller than the middle, give or take 8` of a plant that was compared at equal age, or nothing."""
    share, sd = as_float(row.get("lead_share")), as_float(row.get("lead_sd_share"))
    if share is None:
        return ""
    said = amount(100 * abs(share), "%", None if sd is None else 100 * sd, places=0)
    percent, _, give = said.partition(", ")
    return f"{percent} {'more' if share > 0 else 'less'} than the middle one" + (f", {give}" if give else "")


def usable_told(plants: pd.DataFrame) -> str:
    """How many are fit to be used, by which rule, and why the others are not; nothing where that is not known."""
    if "usable" not in plants or plants["usable"].isna().any() or not len(plants):
        return ""
    good = plants["usable"].astype(bool)
    why: dict[str, list[str]] = {}
    for _, row in plants[~good].iterrows():
        why.setdefault(str(row["unusable_because"]), []).append(str(row["plant"]))
    left = "; ".join(f"{reason}: {named(names)}" for reason, names in why.items())
    return f"Fit to be used: {int(good.sum())} of {len(plants)}" + (f" ({left})." if left else ".")
