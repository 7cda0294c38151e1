"""Covers over pots or trays: when one was put on and taken off, and what that means for what is known."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Track

ON, OFF = "covered", "uncovered"


def cover_events(tracks: Sequence[Track]) -> list[Event]:
    """`covered` and `uncovered`, said at the photo that shows it; one event where it concerns all plants at once."""
    by_row: dict[tuple[int, str], list[Track]] = {}
    for track in tracks:
        for row in range(1, len(track.covered)):
            if track.covered[row] != track.covered[row - 1]:
                by_row.setdefault((row, ON if track.covered[row] else OFF), []).append(track)
    events: list[Event] = []
    for (row, event), own in by_row.items():
        detail = "what is under the cover is not measured" if event == ON else "the cover was taken off"
        if len(own) == len(tracks):
            events.append(Event(own[0], row, row, event, f"all pots or cells: {detail}", of_sowing=True))
        else:
            events += [Event(track, row, row, event, detail) for track in own]
    return events


def told_enough(track: Track, row: int, frames: int) -> int | None:
    """The first row from `row` on by which so many in a row have shown the place, cover off; None if there is none."""
    if not track.covered.any():
        return row if row < len(track.time) else None
    run = 0
    for at, hidden in enumerate(track.covered):
        run = 0 if hidden else run + 1
        if at >= row and run >= frames:
            return at
    return None


def covers_in_words(table: pd.DataFrame) -> list[str]:
    """What to say of covers in a table of measurements; nothing where there are none."""
    if "covered" not in table or not table["covered"].any():
        return []
    photos, plants = table["frame"].nunique(), list(table["plant"].unique())
    own = table[table["covered"]]
    named = [str(name) for name in plants if (own["plant"] == name).any()]
    who = "all pots or cells" if len(named) == len(plants) else ", ".join(named)
    always = [str(name) for name, rows in table.groupby("plant", sort=False) if rows["covered"].all()]
    if len(always) == len(named):
        return [
            f"A cover with fog or glare on it hides {who} in every photo: nothing under it can be measured, nor is it "
            "known what is up. Take it off or wipe it before a photo is taken."
        ]
    count = own["frame"].nunique()
    return [
        f"A cover with fog or glare on it hides {who} in {count} of {photos} photos: nothing under it is measured, and "
        "what came up there is known to be up by the uncovering, not since when."
    ]


def came_up_covered(track: Track, by_row: int) -> bool:
    """Whether a plant was up when its cover came off, so that the hour is not known."""
    return bool(by_row > 0 and len(track.covered) and track.covered[by_row - 1])


def covered_now(tracks: Sequence[Track]) -> bool:
    """Whether covers hide all these plants in the last photo."""
    return bool(tracks) and all(len(track.covered) and track.covered[-1] for track in tracks)
