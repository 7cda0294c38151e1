"""What is wrong in a tray.toml, each with its line and key path, said in plain words for the person who wrote it.

Used by `trayfile.py` alone, which decides what counts as wrong.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from sproutlapse.errors import TrayError

Place = tuple[str | int, ...]

# The parts of which there may be several.
REPEATED = ("lamp", "sowing", "plant")

# Keys whose values are rows of numbers: one sentence says it better than one complaint for each number.
_ROWS = {
    "box_px": "four numbers in square brackets: left, top, right, bottom",
    "from_px": "two numbers in square brackets: x, y",
    "to_px": "two numbers in square brackets: x, y",
    "own_days": "two numbers of days above 0 in square brackets: fewest, most",
}
_TYPES = {
    "string_type": "text in double quotes",
    "string_too_short": "text with at least one character",
    "float_type": "a number, without quotes and with a point for decimals",
    "finite_number": "an ordinary number",
    "int_type": "a whole number, without quotes",
    "int_from_float": "a whole number",
    "int_parsing_size": "a whole number",
    "bool_type": "true or false, without quotes",
    "date_type": "a day such as 2026-05-15, without quotes",
    "date_from_datetime_inexact": "a day such as 2026-05-15, without quotes",
    "datetime_type": "a day and time such as 2026-02-01T09:00:00, or a day alone, without quotes",
    "tuple_type": "a list in square brackets",
}
# Above so many degrees C no seed sprouts; above so many F neither, so that is no slip of the unit.
MOST_SOIL_C, MOST_SOIL_F = 45, 113
_BOUNDS = {
    "greater_than": ("gt", "a number above {}"),
    "greater_than_equal": ("ge", "a number of {} or more"),
    "less_than": ("lt", "a number below {}"),
    "less_than_equal": ("le", "a number of {} or less"),
}


@dataclass(frozen=True)
class Problem:
    """One thing wrong in a tray.toml.

    Attributes
    ----------
    place
        Where in the file, as keys and positions: `("plant", 1, "box_px")`.
    found
        What stands there now.
    allowed
        What may stand there.
    remedy
        What to do, as one sentence; may be empty.
    """

    place: Place
    found: str
    allowed: str
    remedy: str = ""


def key_path(place: Place, data: Mapping[str, Any]) -> str:
    """The place as a person reads it: `plant "B" → box_px`; tables without a name are counted from 1."""
    words: list[str] = []
    node: Any = data
    for step in place:
        try:
            node = node[step]
        except (KeyError, IndexError, TypeError):
            node = None
        if isinstance(step, int):
            name = node.get("name") if isinstance(node, Mapping) else None
            if isinstance(name, str) and name:
                words[-1] += f' "{name}"'
            elif len(words) == 1:
                words[-1] += f" {step + 1}"
        else:
            words.append(step)
    return " → ".join(words)


def key_lines(text: str) -> dict[Place, int]:
    """The line, counted from 1, of each table head and key in a TOML text, as far as it is laid out line by line."""
    lines: dict[Place, int] = {}
    counts: dict[str, int] = {}
    table: Place = ()
    key = r"""(?:[\w-]+|"[^"]*"|'[^']*')"""
    head = re.compile(rf"^\s*(\[\[?)\s*({key}(?:\s*\.\s*{key})*)\s*\]\]?\s*(?:#.*)?$")
    entry = re.compile(rf"^\s*({key}(?:\s*\.\s*{key})*)\s*=")
    for number, line in enumerate(text.split("\n"), start=1):
        if found := head.match(line):
            names = _split_key(found[2])
            if found[1] == "[[":
                count = counts[found[2]] = counts.get(found[2], -1) + 1
                table = (*names, count)
            else:
                table = names
            lines.setdefault(table, number)
        elif found := entry.match(line):
            lines.setdefault((*table, *_split_key(found[1])), number)
    return lines


def _split_key(dotted: str) -> Place:
    return tuple(part.strip("\"'") for part in re.findall(r"[\w-]+|\"[^\"]*\"|'[^']*'", dotted))


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that looks most like `word`, or None where none is near."""
    by_lower = {name.lower(): name for name in known}
    matches = difflib.get_close_matches(word.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[matches[0]] if matches else None


def as_written(value: object) -> str:
    """A value as it stands in the file, shortened where it is long."""
    if isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, str):
        text = f'"{value}"'
    elif isinstance(value, datetime | date | time):
        text = value.isoformat()
    elif isinstance(value, list | tuple):
        tables = any(isinstance(item, Mapping) for item in value)
        text = "a list of tables" if tables else f"[{', '.join(as_written(item) for item in value)}]"
    elif isinstance(value, Mapping):
        text = "a table of keys"
    else:
        text = str(value)
    return text if len(text) <= 60 else f"{text[:57]}..."


def problem_of(error: Mapping[str, Any], data: Mapping[str, Any]) -> Problem:
    """A problem in words from one entry of pydantic's list of errors."""
    kind: str = error["type"]
    place: Place = tuple(error["loc"])
    row = next((n for n, step in enumerate(place) if step in _ROWS), None)
    if row is not None and str(place[row]) in _value(place[:row], data):
        place = place[: row + 1]
        return Problem(place, f"found {as_written(_value(place, data))}", _ROWS[str(place[row])])
    if kind == "missing":
        return Problem(place, "is missing", f"{_a_table(place)} needs it", f"Add a line `{place[-1]} = ...`.")
    found = f"found {as_written(error['input'])}"
    if kind == "literal_error":
        words = re.findall(r"'([^']*)'", error["ctx"]["expected"])
        near = nearest(error["input"], words) if isinstance(error["input"], str) else None
        remedy = _write_instead(as_written(near) if near else None)
        return Problem(place, found, "one of " + ", ".join(as_written(word) for word in words), remedy)
    if kind in _BOUNDS:
        name, words_for = _BOUNDS[kind]
        return Problem(place, found, words_for.format(f"{error['ctx'][name]:g}"), _fahrenheit(place, error["input"]))
    if len(place) <= 2 and kind in ("model_type", "model_attributes_type", "dict_type", "tuple_type"):
        return _wrong_brackets(place, error["input"])
    return Problem(place, found, _TYPES.get(kind, error["msg"]))


def _fahrenheit(place: Place, value: float) -> str:
    """What to do with a soil too warm for seed that would be one in degrees Fahrenheit."""
    if place[-1] != "soil_c" or not MOST_SOIL_C < value <= MOST_SOIL_F:
        return ""
    return f"{value:g} looks like degrees Fahrenheit, which is {(value - 32) / 1.8:.0f} °C: write that."


def _wrong_brackets(place: Place, value: object) -> Problem:
    head = place[0]
    if len(place) == 1 and head not in REPEATED:
        return Problem(place, f"found {as_written(value)}", f"keys under one line [{head}]")
    found = "found a single table" if isinstance(value, Mapping) else f"found {as_written(value)}"
    remedy = f"Write the line [[{head}]] with two brackets on each side."
    return Problem(place, found, f"one [[{head}]] with its keys for each {head}", remedy)


def unknown_key(place: Place, known: Iterable[str], everywhere: Mapping[str, Iterable[str]]) -> Problem:
    """The problem of a key that this part does not have; `everywhere` holds the keys of each part by its name."""
    known, key = list(known), str(place[-1])
    near = nearest(key, known)
    other = next((head for head, keys in everywhere.items() if key in keys), None)
    if other is not None and near != key:
        remedy = f"It belongs under {other}."
    else:
        remedy = _write_instead(near) or "Correct the name or take the line out."
    return Problem(place, "is not a known key", ", ".join(known), remedy)


def _write_instead(near: str | None) -> str:
    return f"Write {near} if that is what you mean." if near else ""


def _a_table(place: Place) -> str:
    return f"each [[{place[0]}]]" if len(place) > 2 else "this part"


def _value(place: Place, data: Any) -> Any:
    for step in place:
        data = data[step]
    return data


def raise_problems(problems: list[Problem], path: Path, data: Mapping[str, Any], lines: Mapping[Place, int]) -> None:
    """Raise one `TrayError` that names every problem, in file order; do nothing where there is none."""
    if not problems:
        return
    told: dict[Place, Problem] = {}
    for problem in problems:
        told.setdefault(problem.place, problem)

    def line_of(place: Place) -> int | None:
        heads = [place[:n] for n in range(len(place), 0, -1)]
        return next((lines[head] for head in [*heads, (*place, 0)] if head in lines), None)

    ordered = sorted(told.values(), key=lambda p: line_of(p.place) or 0)
    texts = []
    for problem in ordered:
        line = line_of(problem.place)
        head = f"line {line}, " if line else ""
        head += key_path(problem.place, data) or "the whole file"
        texts.append((head, f"{problem.found}; allowed: {problem.allowed}", problem.remedy))
    if len(texts) == 1:
        head, what, remedy = texts[0]
        raise TrayError(what, where=f"{path}, {head}", remedy=remedy or "Correct this line and start again.")
    body = "".join(f"\n  - {head}: {what}.{' ' + remedy if remedy else ''}" for head, what, remedy in texts)
    raise TrayError(
        f"{len(texts)} things need correcting{body}", where=str(path), remedy="Correct these lines and start again."
    )
