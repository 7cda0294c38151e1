"""Numbers and times as a grower reads them: with a unit, "give or take", and no terms of statistics."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Any

import pandas as pd

from sproutlapse import figures
from sproutlapse.figures import GIVE_OR_TAKE, rounded

__all__ = [
    "GIVE_OR_TAKE", "amount", "as_float", "between", "clock", "counted", "dated", "day", "hours", "missing", "moment",
    "named", "rounded", "shortened",
]  # fmt: skip

# Own names, so that the page does not depend on the machine's language.
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def missing(value: Any) -> bool:
    """Whether a table's cell holds nothing."""
    return (
        value is None
        or value is pd.NaT
        or value is pd.NA
        or value == ""
        or (isinstance(value, float) and math.isnan(value))
    )


def as_float(value: Any) -> float | None:
    """A cell as a number, None where it holds none."""
    if missing(value):
        return None
    number = float(value)
    return number if math.isfinite(number) else None


def moment(time: str) -> datetime:
    """Wall clock of a table's time; an offset is dropped, since all times are the camera's own."""
    return datetime.fromisoformat(time).replace(tzinfo=None)


def day(when: datetime) -> str:
    """`1 Mar`."""
    return f"{when.day} {MONTHS[when.month - 1]}"


def clock(time: str) -> str:
    """`1 Mar, 09:00` from a table's time."""
    when = moment(time)
    return f"{day(when)}, {when:%H:%M}"


def dated(time: str) -> str:
    """`1 Mar 2026, 09:00` from a table's time."""
    when = moment(time)
    return f"{day(when)} {when.year}, {when:%H:%M}"


def between(after: str, by: str) -> str:
    """`5 Mar, between 08:10 and 14:10`, or with both days where they differ."""
    first, last = moment(after), moment(by)
    if first.date() == last.date():
        return f"{day(first)}, between {first:%H:%M} and {last:%H:%M}"
    return f"between {clock(after)} and {clock(by)}"


def amount(value: float | None, unit: str, sd: float | None = None, *, places: int | None = None) -> str:
    """`41 mm, give or take 2` as `figures.amount` says it; without a number nothing."""
    return "" if value is None else figures.amount(value, unit, sd, places=places)


def hours(span_h: float) -> str:
    """A length of time: `6 hours`, `45 minutes`, `3.2 days`."""
    if span_h < 1.5:
        return counted(round(span_h * 60), "minute")
    if span_h < 47:
        return f"{rounded(span_h, 0 if abs(span_h - round(span_h)) < 0.05 else 1)} hours"
    return f"{rounded(span_h / 24, 1)} days"


def counted(number: int, noun: str) -> str:
    """`1 photo`, `2 photos`."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def named(names: list[str] | tuple[str, ...]) -> str:
    """`A`, `A and B`, `A, B and C`."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def shortened(name: str, length: int) -> str:
    """A name that fits beside a line in a chart."""
    return name if len(name) <= length else name[: length - 1].rstrip() + "…"
