"""What is new in the tables, in a grower's words: lines to print, and messages to send, one a sowing."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any

import pandas as pd

from sproutlapse.film.words import in_words, told_of
from sproutlapse.report.words import clock
from sproutlapse.results import CareItem
from sproutlapse.tray import Tray

# Messages of a sowing about what came up, in all: a tray of cells must not ring all week.
MOST_OF_EMERGENCE = 3
FIRST, HALF, ALL = "first up", "half up", "done"
# Events about what came up. That a single plant did is printed; it is sent only along with something else.
OF_EMERGENCE = (FIRST, HALF, ALL, "few more", "overdue")
OF_ONE = "emerged"
LAST_ONES = (ALL, "few more")  # the last message is kept for these
MOST_LINES = 6  # of a message; the page has the rest
MOST_SHOWN = 4  # plants that a picture is cropped to


@dataclass(frozen=True)
class News:
    """One row of events.csv with the sowing that it belongs to; empty where it is the whole tray's."""

    time: str
    known: str
    plant: str
    event: str
    detail: str
    sowing: str

    @property
    def key(self) -> str:
        """What makes it the same event as another time; of a plant also where its sowing goes by another name."""
        return "|".join((self.time, self.plant, self.event, "" if self.plant else self.sowing))


@dataclass(frozen=True)
class Message:
    """What is sent of one sowing at a time.

    Attributes
    ----------
    sowing
        Its name; empty for the whole tray.
    time
        Time of the photo from which on it could be known.
    lines
        In plain words, most urgent first.
    events
        The rows of events.csv.
    to_do
        What to do about it.
    frame, box
        The photo that shows it, and left, top, right, bottom there in pixels; None for all of it.
    """

    sowing: str
    time: str
    lines: tuple[str, ...]
    events: tuple[dict[str, str], ...] = ()
    to_do: tuple[str, ...] = ()
    frame: str = ""
    box: tuple[int, int, int, int] | None = None

    @property
    def title(self) -> str:
        """One line."""
        return f"{self.sowing}: {self.lines[0]}" if self.sowing else self.lines[0]

    @property
    def text(self) -> str:
        """The whole of it."""
        more = len(self.lines) - MOST_LINES
        rest = [f"... and {more} more on the page."] if more > 0 else []
        return "\n".join([*self.lines[:MOST_LINES], *rest, *self.to_do])

    def with_later(self, later: Message) -> Message:
        """The same message with what came after it, before it was sent."""
        return replace(
            later,
            lines=tuple(dict.fromkeys((*self.lines, *later.lines))),
            events=(*self.events, *later.events),
            to_do=tuple(dict.fromkeys((*self.to_do, *later.to_do))),
        )

    def to_values(self) -> dict[str, Any]:
        """Ready for JSON."""
        return asdict(self)

    @staticmethod
    def from_values(values: Mapping[str, Any]) -> Message:
        """The message again from `to_values`."""
        own = dict(values)
        for name in ("lines", "events", "to_do"):
            own[name] = tuple(own[name])
        own["box"] = None if own["box"] is None else tuple(own["box"])
        return Message(**own)


@dataclass
class Told:
    """What was told before, as the store keeps it.

    Attributes
    ----------
    events
        Keys of the events.
    emergence
        By sowing, how many messages of what came up there were.
    given, last
        Hash of the tray.toml of the last round; its last photo, with its time.
    """

    events: set[str] = field(default_factory=set)
    emergence: dict[str, int] = field(default_factory=dict)
    given: str = ""
    last: tuple[str, str] = ("", "")

    def catch_up(self, events: pd.DataFrame, tray: Tray, given: Tray, times: Mapping[str, str]) -> None:
        """Where a sowing was renamed, a limit changed or photos were dated anew: what is told otherwise of the time up
        to the last photo is no news.

        Parameters
        ----------
        given
            As the person wrote it.
        times
            When each photo was taken, in order.
        """
        now = hashlib.sha256(given.model_dump_json(by_alias=True).encode("utf-8")).hexdigest()
        frame, was = self.last
        until = times.get(frame, was)
        if self.given and (self.given, was) != (now, until):
            self.new(events[events["known"].astype(str) <= until], tray)
        self.given, self.last = now, list(times.items())[-1] if times else self.last

    def new(self, events: pd.DataFrame, tray: Tray) -> list[News]:
        """Events that were not told before, and are from now on."""
        found = [one for one in _rows(events, tray) if one.key not in self.events]
        self.events |= {one.key for one in found}
        return found

    def messages(self, news: Sequence[News], tray: Tray, care: Sequence[CareItem] = ()) -> list[Message]:
        """What to send of it: a message a sowing, those of the whole tray last.

        Parameters
        ----------
        news
            Events that were not sent before, in order.
        care
            The list of what to do.
        """
        sowings = dict.fromkeys([*(sowing.name for sowing in tray.sowings), *(one.sowing for one in news), ""])
        sowings[""] = sowings.pop("")
        found = []
        for sowing in sowings:
            own = [one for one in news if one.sowing == sowing]
            others = [one for one in own if one.event not in (*OF_EMERGENCE, OF_ONE)]
            told = self._of_emergence(sowing, own) if sowing else self._of_plants_alone(own, tray)
            if others or told:
                first = {OF_ONE} if told and sowing else set()
                rows = [one for one in own if one in others or one in told or one.event in first]
                words = [one for one in rows if one.event != OF_ONE or not sowing]
                found.append(_message(sowing, words, rows, care))
        return found

    def _of_plants_alone(self, own: Sequence[News], tray: Tray) -> list[News]:
        """What to send of plants that came up and of which no sowing is told: the first, half of them, all."""
        came = [one for one in own if one.event == OF_ONE]
        names = {plant.name for plant in tray.plants if not plant.sowing}
        keys = (key.split("|") for key in self.events)
        up = {plant for _time, plant, event, *_rest in keys if event == OF_ONE} & names
        step = sum((len(up) >= 1, 2 * len(up) >= len(names), len(up) >= len(names)))
        if not came or step <= self.emergence.get("", 0):
            return []
        self.emergence[""] = step
        return came

    def _of_emergence(self, sowing: str, own: Sequence[News]) -> list[News]:
        """What to send of what came up; nothing once enough was sent."""
        told = [one for one in own if one.event in OF_EMERGENCE]
        sent = self.emergence.get(sowing, 0)
        last = any(one.event in LAST_ONES for one in told)
        if not told or sent >= MOST_OF_EMERGENCE - (0 if last else 1):
            return []
        self.emergence[sowing] = sent + 1
        # The first is not told where half of them, or all, are up as well.
        steps = [one for one in told if one.event in (FIRST, HALF, ALL)]
        return [one for one in told if one not in steps[:-1]]


def _rows(events: pd.DataFrame, tray: Tray) -> list[News]:
    """The rows of events.csv, each with its sowing."""
    of_plant = {plant.name: plant.sowing or "" for plant in tray.plants}
    names = {sowing.name for sowing in tray.sowings}
    found = []
    for time, known, plant, event, detail in events[["time", "known", "plant", "event", "detail"]].itertuples(
        index=False, name=None
    ):
        whose, _ = told_of(str(plant), str(event), str(detail))
        sowing = of_plant.get(str(plant), "") if plant else whose if whose in names else ""
        found.append(News(str(time), str(known), str(plant), str(event), str(detail), sowing))
    return found


def lines_of(news: Sequence[News]) -> list[str]:
    """Events in plain words, those of one kind and time together: `B and D are leggy`."""
    groups: dict[tuple[str, str], list[News]] = {}
    for one in news:
        groups.setdefault((one.known, told_of(one.plant, one.event, one.detail)[1]), []).append(one)
    return [_line(kind, same) for (_known, kind), same in groups.items()]


def _line(kind: str, same: Sequence[News]) -> str:
    who = [told_of(one.plant, one.event, one.detail)[0] for one in same]
    detail = f": {same[0].detail}" if len(same) == 1 and same[0].detail and kind not in (FIRST, HALF, ALL) else ""
    count = ""
    if kind in (FIRST, HALF) and len(same) == 1:
        count = f": {same[0].detail.removeprefix(f'{who[0]}: ').partition(';')[0]}"
    return f"{in_words(who, kind)}{count or detail} ({clock(same[0].time)})"


def _message(sowing: str, words: Sequence[News], rows: Sequence[News], care: Sequence[CareItem]) -> Message:
    plants = {one.plant for one in rows if one.plant}
    kinds = {one.event for one in words}
    causes = {f"{kind}:{plant}" for kind in kinds for plant in plants}
    to_do = [f"To do: {item.title}. {item.remedy}" for item in care if causes & set(item.causes)]
    events = tuple({k: v for k, v in asdict(one).items() if k != "sowing"} for one in rows)
    return Message(sowing, words[-1].known, tuple(lines_of(words)), events, tuple(to_do))


def plants_of(message: Message, tray: Tray) -> list[str]:
    """Whom a message concerns: the plants of its events, else those of its sowing."""
    named = list(dict.fromkeys(event["plant"] for event in message.events if event["plant"]))
    return named or [plant.name for plant in tray.plants if message.sowing and plant.sowing == message.sowing]
