"""Which things to do are open: since when there is cause for them, what was said to be done, and their short names.

The list is made anew from the tables and the diary each time. What was said to be done stays away until its cause began
anew after that.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from sproutlapse.growth.tracks import Floats, wall_clock
from sproutlapse.results import CareItem, DiaryEntry

Bools = NDArray[np.bool_]

# A state counts once so many photos in a row show it, and is over once so many show that it is not.
IN_A_ROW = 3
ID_LENGTH = 24


def marks_of(diary: Sequence[DiaryEntry]) -> dict[str, datetime]:
    """When each cause was last said to be done."""
    marks: dict[str, datetime] = {}
    for entry in diary:
        if entry.kind == "done":
            when = wall_clock(entry.time)
            marks[entry.about] = max(when, marks.get(entry.about, when))
    return marks


def is_open(marks: Mapping[str, datetime], cause: str, since: datetime | None) -> bool:
    """Whether there is still something to do about a cause: nobody said it was done, or it began anew since."""
    mark = marks.get(cause)
    return mark is None or (since is not None and since > mark)


def open_since(holds: Bools, known: Bools, hours: Floats, *, clear_h: float = 0.0) -> int | None:
    """The row since which something holds, or None where it does not hold now.

    Parameters
    ----------
    holds, known
        (n,) whether it does, and whether the photo tells; others count neither way.
    hours
        (n,) of each row.
    clear_h
        It is over only after so many hours of photos that say otherwise, so that leaves that fold for the night do not
        end it.
    """
    if not (holds & known).any():
        return None
    since: int | None = None
    run: list[int] = []
    for row in np.flatnonzero(known):
        if holds[row] == (since is None):
            run.append(int(row))
        else:
            run = []
        if len(run) < IN_A_ROW or (since is not None and hours[row] - hours[run[0]] < clear_h):
            continue
        since, run = (run[0] if since is None else None), []
    return since


def open_items(items: Iterable[CareItem], marks: Mapping[str, datetime]) -> list[CareItem]:
    """The items of which something is still to be done, each with the short name to type after `done`."""
    found, taken = [], set()
    for item in items:
        causes = item.causes or (item.key,)
        since = wall_clock(item.since) if item.since else None
        # An item that names its causes was made of the open ones only.
        if not item.causes and not is_open(marks, item.key, since):
            continue
        name = first = _short(item.key)
        number = 1
        while name in taken:
            number += 1
            name = f"{first}-{number}"
        taken.add(name)
        found.append(replace(item, id=name, causes=causes))
    return found


def _short(key: str) -> str:
    """`leggy:B,D` as `leggy-b`: words that can be typed anywhere without quotes."""
    kind, _, about = key.partition(":")
    words = [re.sub(r"[^a-z0-9]+", "-", part.lower()).strip("-") for part in (kind, about.split(",")[0])]
    return "-".join(word for word in words if word)[:ID_LENGTH].strip("-") or "item"


def item_named(items: Sequence[CareItem], name: str) -> CareItem | None:
    """The item of a short name, or the only one whose name begins so; None where there is none."""
    word = name.strip().casefold()
    exact = [item for item in items if item.id == word]
    found = exact or [item for item in items if word and item.id.startswith(word)]
    return found[0] if len(found) == 1 else None
