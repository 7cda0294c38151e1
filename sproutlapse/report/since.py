"""What is new since the page before this one was looked at, and the grower's notes as the page carries them."""

from __future__ import annotations

from sproutlapse.report.facts import used_frames
from sproutlapse.report.words import clock, counted, missing, moment, named
from sproutlapse.results import DiaryEntry, Results

MOST_LINES = 6
MOST_NAMED = 5
# Events in the order in which they matter to one who looks in again; others follow as they came.
FIRST = ("collapsed", "flopped", "gone", "lamp too near", "leggy", "stretching", "emerged", "trimmed")
WORDS = {
    "emerged": "Came up", "collapsed": "Collapsed", "flopped": "Fell over", "gone": "Gone", "leggy": "Leggy",
    "stretching": "Stretching", "trimmed": "Cut back", "lamp too near": "Too near a lamp", "wilted": "Wilted and stood"
    " up again", "overdue": "Overdue",
}  # fmt: skip
# Told by the plants' own events already.
NOT_TOLD = frozenset({"first up", "done", "half up"})


def notes_of(results: Results) -> list[DiaryEntry]:
    """The grower's notes, in order of time; on the charts they are numbered from 1."""
    return [entry for entry in results.diary if entry.kind == "note"]


def since_looked(results: Results) -> tuple[str, ...]:
    """What came since the last photo of the page before this one; nothing where there was no such page.

    The most important first, a few lines at most.
    """
    hours = {frame.time: frame.elapsed_h for frame in reversed(used_frames(results))}
    if results.looked not in hours:
        return ()
    since = hours[results.looked]
    fresh = sum(frame.elapsed_h > since for frame in used_frames(results))
    if not fresh:
        return ()
    by_event: dict[str, list[str]] = {}
    for _, row in results.events.iterrows():
        event = str(row["event"])
        if hours.get(str(row["known"]), -1.0) > since and event not in NOT_TOLD:
            by_event.setdefault(event, []).append("" if missing(row["plant"]) else str(row["plant"]))
    order = sorted(by_event, key=lambda e: FIRST.index(e) if e in FIRST else len(FIRST))
    lines = [_line(event, by_event[event]) for event in order]
    lines += [f"You noted: {note.text}." for note in notes_of(results) if moment(note.time) >= moment(results.looked)]
    fresh_items = [i.title for i in results.care if i.since and moment(i.since) > moment(results.looked)]
    more = [f"and {len(lines) - MOST_LINES} more, in the diary below."] if len(lines) > MOST_LINES else []
    head = f"{counted(fresh, 'photo')} since {clock(results.looked)}" + (
        "; nothing happened that is worth a word." if not lines else "."
    )
    new = [f"New on the list: {'; '.join(fresh_items[:MOST_NAMED])}."] if fresh_items else []
    return (head, *lines[:MOST_LINES], *more, *new)


def _line(event: str, plants: list[str]) -> str:
    names = list(dict.fromkeys(name for name in plants if name))
    said = WORDS.get(event, event[:1].upper() + event[1:])
    if not names:
        return f"{said}." if len(plants) == 1 else f"{said}, {len(plants)} times."
    who = named(names) if len(names) <= MOST_NAMED else f"{len(names)} plants"
    return f"{said}: {who}."
