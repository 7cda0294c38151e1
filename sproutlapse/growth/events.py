"""What happened, when, and when it could be said: one row each, in the columns of events.csv."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import pandas as pd

from sproutlapse.growth.tracks import Track

COLUMNS = ["time", "known", "plant", "event", "detail"]
# Of what happens to a sowing in one photo the first comes first, after what is said of the plants themselves.
STEPS = {"first up": 1, "half up": 2, "done": 3, "few more": 4}


@dataclass(frozen=True)
class Event:
    """Something that happened to a plant.

    Attributes
    ----------
    row, known_row
        Rows of the plant's track: when it happened, and from which row on it could be said.
    of_sowing
        Whether it concerns the plant's whole sowing; the table then names no plant.
    """

    track: Track
    row: int
    known_row: int
    event: str
    detail: str
    of_sowing: bool = False

    @property
    def time(self) -> str:
        """The frame time at which it happened."""
        return self.track.time[self.row]

    @property
    def known(self) -> str:
        """The frame time at which it could be said."""
        return self.track.time[self.known_row]


def events_table(events: Iterable[Event]) -> pd.DataFrame:
    """Events in the order in which they could be said, then in tray order."""
    ordered = sorted(events, key=_place)
    rows = [(e.time, e.known, "" if e.of_sowing else e.track.plant, e.event, e.detail) for e in ordered]
    return pd.DataFrame(rows, columns=COLUMNS)


def _place(event: Event) -> tuple[float, int, float, int, str]:
    hours = event.track.elapsed_h
    said, happened = float(hours[event.known_row]), float(hours[event.row])
    return said, event.track.order, happened, STEPS.get(event.event, 0), event.event
