"""What a film says of each event of events.csv: one table, for one plant, several and the whole tray."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from sproutlapse.growth.handled import BACK

# More names than this are counted instead of named.
MOST_NAMES = 4
# How the detail of a sowing's event begins: "kale: 3 of 6 pots up".
OF_SOWING = re.compile(r"(?P<name>.+): \d+ of \d+ \w+ up\b")
PUT_BACK = "put back"


@dataclass(frozen=True)
class Words:
    """One event in words: `{who}` is the plant's name, or names joined by "and"; `none` where no plant is named."""

    one: str
    many: str
    none: str


def _verb(past: str) -> Words:
    """The same word for one and for many: "came up"."""
    return Words(f"{{who}} {past}", f"{{who}} {past}", f"All {past}")


def _was(part: str) -> Words:
    return Words(f"{{who}} was {part}", f"{{who}} were {part}", f"All were {part}")


def _is(part: str) -> Words:
    return Words(f"{{who}} is {part}", f"{{who}} are {part}", f"All are {part}")


def _any(said: str, none: str) -> Words:
    return Words(said, said, none)


WORDS: Final[dict[str, Words]] = {
    "emerged": _verb("came up"),
    "first up": Words("The first of {who} is up", "The first of {who} are up", "The first is up"),
    "half up": Words("Half of {who} is up", "Half of {who} are up", "Half are up"),
    "done": Words("All of {who} is up", "All of {who} are up", "All are up"),
    "overdue": _is("overdue"),
    "few more": _any("Hardly any more of {who} will come", "Hardly any more will come"),
    "leggy": _is("leggy"),
    "stretching": _is("stretching"),
    "trimmed": _was("cut back"),
    "flopped": _verb("went down"),
    "wilted": _verb("wilted"),
    "collapsed": _verb("collapsed"),
    "gone": _is("gone"),
    "yellower": _verb("turned yellower"),
    "paler": _verb("turned paler"),
    "exchanged": Words(
        "{who} may be another plant now", "{who} may be other plants now", "All may be other plants now"
    ),
    "moved": _was("moved"),
    PUT_BACK: _was("put back"),
    "turned": _was("turned"),
    "covered": _was("covered"),
    "uncovered": _was("uncovered"),
    "watered": Words("{who} was watered", "{who} were watered", "Watered"),
    "lamp too near": _any("Lamp too near {who}", "Lamp too near"),
    "lamp went off": _any("The lamp over {who} went off", "The lamp went off"),
    "lamp did not come on": _any("The lamp over {who} did not come on", "The lamp did not come on"),
    "lamp on at night": _any("The lamp over {who} was on at night", "The lamp was on at night"),
    "lamp on all night": _any("The lamp over {who} was on all night", "The lamp was on all night"),
}


def told_of(plant: str, event: str, detail: str) -> tuple[str, str]:
    """Of whom an event tells and by which entry of the table: a sowing by its name, a pot put back as such."""
    if not plant and (found := OF_SOWING.match(detail)):
        plant = found["name"]
    return plant, PUT_BACK if event == "moved" and detail.startswith(BACK) else event


def joined(names: Sequence[str]) -> str:
    """`A`, `A and B`, `A, B and C`."""
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def in_words(names: Sequence[str], event: str) -> str:
    """One event of these plants or sowings, or of the whole tray without any name, in a grower's words.

    An event that is not in the table is told by its own name.
    """
    own = event[:1].upper() + event[1:]
    words = WORDS.get(event, Words(f"{{who}}: {event}", f"{{who}}: {event}", own))
    names = [name for name in dict.fromkeys(names) if name]
    if not names:
        return words.none
    noun = "sowings" if event in {"first up", "half up", "done", "few more"} else "plants"
    who = f"{len(names)} {noun}" if len(names) > MOST_NAMES else joined(names)
    # Names may hold braces, so nothing but the one place is filled.
    return (words.one if len(names) == 1 else words.many).replace("{who}", who, 1)
