"""What was told and what has still to be sent: kept in the store, so that a restart neither forgets nor repeats it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sproutlapse.errors import SproutlapseError
from sproutlapse.frames.find import path_of
from sproutlapse.watch.news import Message, News, Told, plants_of
from sproutlapse.watch.night import Night
from sproutlapse.watch.picture import place_of
from sproutlapse.watch.post import EXEC, MOST_WAITING, RETRY_AT_MOST_S, RETRY_S, Asked, Letter, Post
from sproutlapse.work.store import Store

if TYPE_CHECKING:
    from sproutlapse.results import Results
    from sproutlapse.tray import Tray

KEY = "watch"  # in the store


@dataclass
class Newsroom:
    """What becomes of news.

    Attributes
    ----------
    asked
        Where messages go.
    night
        When nothing is sent; None for never.
    open_store
        Opens the store.
    clock
        Seconds that only ever rise.
    wall
        The machine's own clock.
    """

    asked: Asked
    night: Night | None
    folder: Path
    out: Path
    open_store: Callable[[], AbstractContextManager[Store]]
    clock: Callable[[], float]
    wall: Callable[[], datetime] = datetime.now
    told: Told = field(default_factory=Told)
    letters: list[Letter] = field(default_factory=list)
    stopped_at: str = ""
    fresh: bool = True  # nothing was ever told here
    sending: bool = False  # from when on what photos are compared with is complete
    _retry: dict[str, tuple[float, float]] = field(default_factory=dict)  # by way: not before, and the next pause

    def __post_init__(self) -> None:
        self._post = Post(self.asked, self.folder, self.out)

    def load(self, store: Store) -> list[str]:
        """Read what was told before; lines on what may have been lost."""
        kept = store.about(KEY)
        self.fresh = kept is None
        kept = kept or {}
        told_of = str(kept.get("given", "")), tuple(kept.get("last", ("", "")))
        self.told = Told(set(kept.get("events", [])), dict(kept.get("emergence", {})), *told_of)
        self.stopped_at, self.sending = str(kept.get("stopped_at", "")), bool(kept.get("sending", False))
        self.letters = [Letter.from_values(values) for values in kept.get("letters", [])]
        lines = [
            f"This was on its way when the watch ended, and may not have come: {letter.message.title}"
            for letter in self.letters
            if letter.going
        ]
        for letter in self.letters:
            # Sent a second time it would be worse than not at all; ways that are not asked for any more are none.
            letter.going, letter.ways = [], [way for way in letter.ways if way in self.asked.ways]
        self._tidy()
        return lines

    def keep(self, store: Store) -> None:
        """Put all of it into the store at once."""
        values: dict[str, Any] = {
            "events": sorted(self.told.events),
            "emergence": self.told.emergence,
            "given": self.told.given,
            "last": self.told.last,
            "letters": [letter.to_values() for letter in self.letters],
            "stopped_at": self.stopped_at,
            "sending": self.sending,
        }
        store.set_about({KEY: values})
        self.fresh = False

    def only_history(self, whole: Results, given: Tray) -> int:
        """Take all events so far as told; how many there are."""
        self._catch_up(whole, given)
        self.told.new(whole.events, whole.tray)
        return len(whole.events)

    def take(self, whole: Results, given: Tray) -> list[News]:
        """What is new in the results, where the person wrote this tray.toml; it is put up to be sent."""
        self._catch_up(whole, given)
        new = self.told.new(whole.events, whole.tray)
        for message in self.told.messages(new, whole.tray, whole.care):
            self.put_up(_shown(message, whole))
        return new

    def _catch_up(self, whole: Results, given: Tray) -> None:
        self.told.catch_up(whole.events, whole.tray, given, {frame.frame: frame.time for frame in whole.frames})

    def put_up(self, message: Message) -> None:
        """A message to be sent, together with an earlier one of its sowing that has not gone yet."""
        if not self.asked.ways:
            return
        for letter in self.letters:
            if letter.message.sowing == message.sowing and not letter.going and letter.ways == self.asked.ways:
                letter.message = letter.message.with_later(message)
                return
        self.letters = [*self.letters, Letter(message, list(self.asked.ways))][-MOST_WAITING:]

    def step(self) -> list[str]:
        """Send what may be sent now, and take note of what was; lines to print."""
        lines = self._come_back()
        if not self.sending or (self.night is not None and self.night.at(self.wall())):
            return lines
        # One at a time: those that have not begun when the watch ends are sent by the next one.
        found = None if any(letter.going for letter in self.letters) else self._next()
        if found is not None:
            letter, way = found
            with self.open_store() as store:
                letter.ways.remove(way)
                letter.going.append(way)
                try:
                    self.keep(store)
                except SproutlapseError:
                    letter.going.remove(way)
                    letter.ways.insert(0, way)
                    raise
            photo = path_of(self.folder, letter.message.frame) if letter.message.frame else None
            self._post.send(letter, way, photo)
        return lines

    def _next(self) -> tuple[Letter, str] | None:
        """The oldest letter with a way that may be tried now."""
        now = self.clock()
        for letter in self.letters:
            for way in letter.ways:
                if now >= self._retry.get(way, (0.0, RETRY_S))[0]:
                    return letter, way
        return None

    def close(self, seconds: float) -> None:
        """Wait a little for what is under way, and put down how it went."""
        self._post.close(seconds)
        self._come_back()

    def _come_back(self) -> list[str]:
        lines = []
        back = self._post.back()
        for letter, way, trouble in back:
            letter.going.remove(way)
            if not trouble:
                self._retry.pop(way, None)
            elif way == EXEC:  # what it did before it failed is not known: once is enough
                lines.append(f"The command did not take the message ({trouble}): {letter.message.title}")
            else:
                letter.ways.append(way)
                pause = self._retry.get(way, (0.0, RETRY_S))[1]
                self._retry[way] = (self.clock() + pause, min(2 * pause, RETRY_AT_MOST_S))
                lines.append(f"Not sent, it is tried again later ({trouble}): {letter.message.title}")
        if back:
            self._tidy()
            with self.open_store() as store:
                self.keep(store)
        return lines

    def _tidy(self) -> None:
        self.letters = [letter for letter in self.letters if letter.ways or letter.going]


def _shown(message: Message, whole: Results) -> Message:
    """The message with the photo that shows it: that of its time, cropped to its plants."""
    used = [frame for frame in whole.frames if frame.used]
    if not used:
        return message
    frame = next((one for one in reversed(used) if one.time == message.time), used[-1])
    return replace(message, frame=frame.frame, box=place_of(frame, whole.tray, plants_of(message, whole.tray)))


def camera_stopped(times: Sequence[str], frame: str, words: str) -> Message:
    """The message that no photo has come for too long."""
    return Message(
        "",
        times[-1],
        (words,),
        ({"time": times[-1], "known": times[-1], "plant": "", "event": "camera stopped", "detail": words},),
        (),
        frame,
    )
