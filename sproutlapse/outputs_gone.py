"""Events that an earlier run told and this one does not: which, and why, so that none goes without a word."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pandas as pd
from pydantic import ValidationError

from sproutlapse.tray import Tray

MOST_NAMED = 6


def events_told(path: Path) -> pd.DataFrame:
    """The events as the last run wrote them to `path`, all as text; an empty table where there is none to be read."""
    try:
        return pd.read_csv(path, dtype=str, keep_default_na=False)
    except (OSError, ValueError):
        return pd.DataFrame(columns=["time", "plant", "event"])


def gone_in_words(before: pd.DataFrame, events: pd.DataFrame, why: str) -> list[str]:
    """One line on the events of `before` that are not among `events`; none where all are there still."""
    key = ["time", "plant", "event"]
    if not set(key) <= set(before.columns):
        return []
    there = set(events[key].itertuples(index=False, name=None))
    gone = [row for row in before[key].itertuples(index=False, name=None) if row not in there]
    if not gone:
        return []
    named = [
        f"{event} ({' '.join(part for part in (plant, time.replace('T', ' ')) if part)})" for time, plant, event in gone
    ]
    more = [f"{len(gone) - MOST_NAMED} more"] if len(gone) > MOST_NAMED else []
    told = "1 event that the last run told is" if len(gone) == 1 else f"{len(gone)} events that the last run told are"
    return [f"{told} not told any more, since {why}: {', '.join(named[:MOST_NAMED] + more)}."]


def what_changed(before: Mapping[str, Any] | None, tray: Tray) -> str:
    """Why events may have gone: the parts of tray.toml that are not as they were, else the photos.

    Parameters
    ----------
    before
        The tray of the last run as plain values.
    tray
        The tray of this run, as complete as that one.
    """
    now = tray.model_dump(mode="json", by_alias=True)
    try:
        # A version before this one may not have known all keys.
        before = None if before is None else Tray.model_validate(before).model_dump(mode="json", by_alias=True)
    except ValidationError:  # or may have known one that is no more
        return "tray.toml has other keys in this version"
    parts = [part for part in now if before is not None and before.get(part) != now[part]]
    if not parts or before is None:
        return "photos were taken away or changed, or earlier ones were added"
    named = [f"[{part}]" for part in parts if part != "plant"]
    if "plant" in parts:
        named += _plants_changed(before.get("plant", []), now["plant"])
    return f"tray.toml was changed ({'; '.join(named)})"


def _plants_changed(before: list[dict[str, Any]], now: list[dict[str, Any]]) -> list[str]:
    old = {plant["name"]: plant for plant in before}
    if list(old) != [plant["name"] for plant in now]:
        return ["other plants"]
    by_key: dict[str, list[str]] = {}
    for plant in now:
        for key, value in plant.items():
            if old[plant["name"]].get(key) != value:
                by_key.setdefault(key, []).append(plant["name"])
    return [f"{key} of {', '.join(names)}" for key, names in by_key.items()]
