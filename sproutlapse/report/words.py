"""Numbers and times as a grower reads them: with a unit, "give or take", and no terms of statistics."""

from __future__ import annotations

import math
from datetime import datetime
from typing import Any

import pandas as pd

# Own names, so that the page does not depend on the machine's language.
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
# "Give or take" is twice the standard deviation: 19 of 20 true values lie within (normal errors).
GIVE_OR_TAKE = 2.0


def missing(value: Any) -> bool:
    """Whether a table's cell holds nothing."""
    return value is None or value is pd.NaT or value == "" or (isinstance(value, float) and math.isnan(value))


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


def rounded(value: float, places: int) -> str:
    """Fixed decimals with a real minus sign and no minus before zero."""
    text = f"{value:.{places}f}"
    return text.removeprefix("-") if float(text) == 0 else text.replace("-", "−")


def amount(value: float | None, unit: str, sd: float | None = None, *, places: int | None = None) -> str:
    """`41 mm, give or take 2`; without an uncertainty the number alone, without a number nothing.

    Parameters
    ----------
    value, sd
        The measured figure and its standard deviation, in `unit`.
    places
        Decimals; as many as the uncertainty bears if not given.
    """
    if value is None:
        return ""
    give = None if sd is None else GIVE_OR_TAKE * sd
    if places is None:
        places = _places(value, give)
    text = f"{rounded(value, places)} {unit}"
    if give is None:
        return text
    # Never "give or take 0": an error that rounds away is still said as the smallest step.
    return f"{text}, give or take {max(give, 10.0**-places):.{places}f}"


def _places(value: float, give: float | None) -> int:
    if give is None:
        return 0 if abs(value) >= 10 else 1
    return 0 if give >= 0.95 else 1


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
