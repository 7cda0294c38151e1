"""tray.toml on disk: read and checked before anything is measured, written back in the order of the contract.

A faulty file ends in one `TrayError` that names each problem with its line, key, what was found and what is allowed.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterator, Mapping
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

import tomlkit
from pydantic import BaseModel, ValidationError
from tomlkit.items import Item, Table

from sproutlapse.errors import TrayError
from sproutlapse.tray import Judge, Lamp, Plant, Scale, Season, Sowing, Tray, View
from sproutlapse.trayfile_records import sowing_problems
from sproutlapse.trayproblems import (
    Place,
    Problem,
    as_written,
    key_lines,
    nearest,
    problem_of,
    raise_problems,
    unknown_key,
)

_SINGLE: dict[str, type[BaseModel]] = {"view": View, "scale": Scale, "season": Season, "judge": Judge}
_REPEATED: dict[str, type[BaseModel]] = {"lamp": Lamp, "sowing": Sowing, "plant": Plant}
# The order of the parts in a written file.
BY_HAND = re.compile(r"\b(\d{1,2})[./](\d{1,2})[./](\d{4})\b")  # a date as it is written by hand
_ORDER = ("view", "scale", "season", "lamp", "sowing", "plant", "judge")


def _keys(model: type[BaseModel]) -> dict[str, str]:
    """Key in the file -> field of the model, in the order of the contract."""
    return {field.alias or name: name for name, field in model.model_fields.items()}


_KNOWN: dict[str, list[str]] = {
    **{f"[{head}]": list(_keys(model)) for head, model in _SINGLE.items()},
    **{f"[[{head}]]": list(_keys(model)) for head, model in _REPEATED.items()},
}


def read_tray(path: Path) -> Tray:
    """Read a tray.toml and check all that can be checked without a picture.

    Parameters
    ----------
    path
        The file. UTF-8, with or without a byte order mark.

    Returns
    -------
    Tray
        A day alone for `sown` or `since` counts from its midnight.

    Raises
    ------
    TrayError
        The file cannot be read, is not TOML, or something in it is unknown, of the wrong type, impossible or
        contradicts something else. All problems found are named at once, each with line and key.
    """
    text = _text(path)
    data = _parsed(text, path)
    problems: list[Problem] = []
    known = _without_unknown(data, problems)
    try:
        tray = Tray.model_validate(_ready(known), strict=True)
    except ValidationError as error:
        problems += [problem_of(e, known) for e in error.errors(include_url=False)]
        raise_problems(problems, path, data, key_lines(text))
        raise  # unreachable: a ValidationError holds at least one problem
    problems += _contradictions(tray)
    raise_problems(problems, path, data, key_lines(text))
    return tray


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except FileNotFoundError:
        raise TrayError("there is no such file", where=str(path), remedy="Check the name given to --tray.") from None
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise TrayError(
            "is not a text file in UTF-8", where=f"{path}, line {line}", remedy="Save it again as text in UTF-8."
        ) from None
    except OSError as error:
        raise TrayError(
            f"cannot be read ({error.strerror})", where=str(path), remedy="Check that it is a file you may read."
        ) from None


def _parsed(text: str, path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # ValueError: TOMLDecodeError, and a number of thousands of digits
        what = str(error)
        where = str(path)
        if "(at " in what:
            what, _, spot = what.rstrip(")").rpartition(" (at ")
            where = f"{path}, {spot}"
            number = spot.removeprefix("line ").partition(",")[0]
            if number.isdigit() and int(number) <= len(lines := text.split("\n")):
                what += f"; the line reads `{lines[int(number) - 1].strip()[:60]}`"
        remedy = 'Write each entry as `key = value`, text in straight double quotes ("), decimals with a point.'
        if day := BY_HAND.search(what):
            plain = "." in day[0] and int(day[2]) <= 12  # with strokes the month may come first
            like = f": {day[3]}-{int(day[2]):02}-{int(day[1]):02}" if plain else ", such as 2025-04-19"
            remedy = f"Write a date as year-month-day{like}."
        raise TrayError(f"is not valid TOML: {what}", where=where, remedy=remedy) from None


def _without_unknown(data: Mapping[str, Any], problems: list[Problem]) -> dict[str, Any]:
    """The data with unknown keys taken out and put on the list, so that the rest can still be checked."""
    kept: dict[str, Any] = {}
    for head, part in data.items():
        if head not in _ORDER:
            problems.append(unknown_key((head,), _ORDER, {} if isinstance(part, dict | list) else _KNOWN))
        elif isinstance(part, dict) and head in _SINGLE:
            kept[head] = _known_part((head,), part, _SINGLE[head], problems)
        elif isinstance(part, list) and head in _REPEATED:
            kept[head] = [
                _known_part((head, n), one, _REPEATED[head], problems) if isinstance(one, dict) else one
                for n, one in enumerate(part)
            ]
        else:
            kept[head] = part
    return kept


def _known_part(place: Place, part: dict[str, Any], model: type[BaseModel], problems: list[Problem]) -> dict[str, Any]:
    keys = _keys(model)
    problems += [unknown_key((*place, key), keys, _KNOWN) for key in part if key not in keys]
    return {key: value for key, value in part.items() if key in keys}


def _ready(value: Any, key: str = "") -> Any:
    """The data as the strict models take it: lists as tuples, a day alone as its midnight where a time is meant."""
    if isinstance(value, dict):
        return {name: _ready(inner, name) for name, inner in value.items()}
    if isinstance(value, list):
        return tuple(_ready(inner) for inner in value)
    if key in ("sown", "since") and isinstance(value, date) and not isinstance(value, datetime):
        return datetime.combine(value, time())
    if key == "plant_out" and isinstance(value, datetime):
        return value.date()
    return value


def _contradictions(tray: Tray) -> Iterator[Problem]:
    """What each key allows by itself but the whole does not."""
    yield from _scale_problems(tray)
    yield from _twice("plant", [plant.name for plant in tray.plants])
    yield from _twice("sowing", [sowing.name for sowing in tray.sowings])
    for n, sowing in enumerate(tray.sowings):
        yield from sowing_problems(sowing, ("sowing", n))
    yield from _marks_twice(tray)
    yield from _lamps_twice(tray)
    for n, plant in enumerate(tray.plants):
        yield from _plant_problems(tray, plant, ("plant", n))


def _scale_problems(tray: Tray) -> Iterator[Problem]:
    scale, depth = tray.scale, tray.view.camera_to_plants_mm
    points = {"from_px": scale.from_px, "to_px": scale.to_px, "length_mm": scale.length_mm}
    given = [key for key, value in points.items() if value is not None]
    absent = [key for key, value in points.items() if value is None]
    allowed = "either marker_mm, or from_px with to_px and length_mm"
    if given and scale.marker_mm is not None:
        yield Problem(("scale",), f"found marker_mm and {' and '.join(given)}", allowed, "Take one of the two out.")
    elif given and absent:
        remedy = f"Add {' and '.join(absent)}, or take {' and '.join(given)} out."
        yield Problem(("scale",), f"found {' and '.join(given)} without {' and '.join(absent)}", allowed, remedy)
    elif scale.from_px is not None and scale.from_px == scale.to_px:
        yield Problem(("scale", "to_px"), "found the same point as from_px", "two points that lie apart")
    if depth is not None and depth + scale.behind_plants_mm <= 0:
        yield _before_the_lens(("scale", "behind_plants_mm"), scale.behind_plants_mm, depth)


def _before_the_lens(place: Place, behind: float, depth: float) -> Problem:
    return Problem(place, f"found {behind:g}", f"more than {-depth:g}: the camera stands {depth:g} mm from the plants")


def _twice(head: str, names: list[str]) -> Iterator[Problem]:
    for n, name in enumerate(names):
        if (first := names.index(name)) < n:
            found = f'found "{name}", the name of {head} {first + 1} already'
            yield Problem((head, n, "name"), found, f"a name of its own for each {head}")


def _marks_twice(tray: Tray) -> Iterator[Problem]:
    marks = [plant.mark for plant in tray.plants]
    for n, mark in enumerate(marks):
        if mark is not None and (first := marks.index(mark)) < n:
            found = f"found {mark}, the mark of {tray.plants[first].name} already"
            yield Problem(("plant", n, "mark"), found, "a mark of its own for each pot")


def _lamps_twice(tray: Tray) -> Iterator[Problem]:
    entries = [(lamp.name, lamp.since.replace(tzinfo=None) if lamp.since else None) for lamp in tray.lamps]
    for n, (name, since) in enumerate(entries):
        if entries.index((name, since)) < n:
            when = f"since {since.isoformat()}" if since else "without a since"
            allowed = "a later `since` for each entry of one lamp"
            yield Problem(("lamp", n), f'found "{name}" {when} a second time', allowed, "Add `since`, or rename it.")


def _plant_problems(tray: Tray, plant: Plant, place: Place) -> Iterator[Problem]:
    left, top, right, bottom = plant.box_px
    if right <= left or bottom <= top:
        found = f"found {_box(plant)}, which is turned inside out"
        yield Problem((*place, "box_px"), found, "left, top, right, bottom with left < right and top < bottom")
    for key, name, names in (
        ("sowing", plant.sowing, [sowing.name for sowing in tray.sowings]),
        ("lamp", plant.lamp, [lamp.name for lamp in tray.lamps]),
    ):
        if name is not None and name not in names:
            allowed = "the name of a " + (
                f"[[{key}]]: {', '.join(map(as_written, dict.fromkeys(names)))}"
                if names
                else f"[[{key}]], of which there is none"
            )
            near = nearest(name, names)
            remedy = (
                f'Write "{near}" if that is what you mean.'
                if near
                else f"Add a [[{key}]] of this name, or take the line out."
            )
            yield Problem((*place, key), f'found "{name}"', allowed, remedy)
    if plant.trim_at_mm is not None and plant.trim_to_mm is not None and plant.trim_to_mm >= plant.trim_at_mm:
        allowed = f"less than trim_at_mm, which is {plant.trim_at_mm:g} mm"
        yield Problem((*place, "trim_to_mm"), f"found {plant.trim_to_mm:g}", allowed)
    depth = tray.view.camera_to_plants_mm
    if depth is not None and depth + plant.behind_mm <= 0:
        yield _before_the_lens((*place, "behind_mm"), plant.behind_mm, depth)


def _box(plant: Plant) -> str:
    return f"[{', '.join(f'{edge:g}' for edge in plant.box_px)}]"


def check_against_picture(tray: Tray, size: tuple[int, int], *, path: Path | None = None) -> None:
    """Check that what tray.toml says in pixels lies inside the picture.

    Parameters
    ----------
    tray
        What stands in view.
    size
        (width, height) in pixels of the frame that the pixels refer to, after EXIF orientation.
    path
        The file that the tray was read from, so that the message can name its lines.

    Raises
    ------
    TrayError
        A box, a soil line or a point of the scale lies outside the picture.
    """
    width, height = size
    inside = (
        f"inside the picture, which is {width} x {height} pixels: x from 0 to {width - 1}, y from 0 to {height - 1}"
    )
    remedy = "Measure it again in the frame that pixels_of names (the first usable one if it names none)."

    def within(x: float, y: float) -> bool:
        return -0.5 <= x <= width - 0.5 and -0.5 <= y <= height - 0.5

    problems: list[Problem] = []
    for key, point in (("from_px", tray.scale.from_px), ("to_px", tray.scale.to_px)):
        if point is not None and not within(*point):
            problems.append(Problem(("scale", key), f"found [{point[0]:g}, {point[1]:g}]", inside, remedy))
    for n, plant in enumerate(tray.plants):
        left, top, right, bottom = plant.box_px
        if not (within(left, top) and within(right, bottom)):
            problems.append(Problem(("plant", n, "box_px"), f"found {_box(plant)}", inside, remedy))
        soil = plant.soil_y_px
        if soil is not None and tray.view.from_ != "above" and not within(0, soil):
            problems.append(Problem(("plant", n, "soil_y_px"), f"found {soil:g}", inside, remedy))
    names = {"plant": [{"name": plant.name} for plant in tray.plants]}
    lines = key_lines(_text(path)) if path is not None else {}
    raise_problems(problems, path or Path("tray.toml"), names, lines)


def write_tray(tray: Tray, path: Path, *, comments: Mapping[str, str] = {}) -> None:
    """Write a tray.toml that `read_tray` reads back to an equal tray.

    All that is known is written, the values assumed by default too; thresholds under [judge] only where they were
    overruled. The old file stays until the new one is whole.

    Parameters
    ----------
    tray
        What stands in view, rounded as it is used.
    path
        The file to write or to replace.
    comments
        Short remarks that are put behind a line, such as "found in the pictures". The key is the key path joined by
        points: `view.from`, `plant.A.box_px` for the plant named A, `plant.box_px` for all plants,
        `plant.A` or `scale` for the head of a table.
    """
    document = tomlkit.document()
    document.add(tomlkit.comment("What stands in view. Lengths in mm, pixels from the top left of the picture."))
    document.add(tomlkit.comment("Correct what is wrong and use it again: sproutlapse run FOLDER --tray this-file"))
    for head in _ORDER:
        model = _SINGLE.get(head)
        if model is not None:
            table = _table(getattr(tray, head), head, None, comments)
            if table.value:
                document.add(tomlkit.nl())
                document.add(head, table)
            continue
        array = tomlkit.aot()
        for part in getattr(tray, f"{head}s"):
            array.append(_table(part, head, part.name, comments))
        if len(array):
            document.add(tomlkit.nl())
            document.add(head, array)
    _replace(path, tomlkit.dumps(document))


def _table(part: BaseModel, head: str, name: str | None, comments: Mapping[str, str]) -> Table:
    table = tomlkit.table()
    own = f"{head}.{name}" if name is not None else head
    if own in comments:
        table.comment(_one_line(comments[own]))
    for key, field in _keys(type(part)).items():
        value = getattr(part, field)
        if value is None or value == () or (isinstance(part, Judge) and value == getattr(Judge(), field)):
            continue
        item = _item(value)
        remark = comments.get(f"{own}.{key}", comments.get(f"{head}.{key}"))
        if remark:
            item.comment(_one_line(remark))
        table.add(key, item)
    return table


def _item(value: Any) -> Item:
    item: Item = tomlkit.item([_plain(one) for one in value] if isinstance(value, tuple) else _plain(value))
    return item


def _plain(value: Any) -> Any:
    """Whole numbers without a decimal point, as a person would write them."""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e9:
        return int(value)
    return value


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _replace(path: Path, text: str) -> None:
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        with part.open("w", encoding="utf-8", newline="\n") as file:
            file.write(text.rstrip("\n") + "\n")
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
