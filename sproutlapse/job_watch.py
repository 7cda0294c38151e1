"""A folder watched as it grows: each photo measured as it comes, tables kept as `run` would write them, news told."""

from __future__ import annotations

import re
import signal
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC
from pathlib import Path
from types import FrameType

from sproutlapse.errors import ClusterError, PhotosError, SproutlapseError
from sproutlapse.frames.find import NoPictureError, PhotoFile
from sproutlapse.frames.find import photos as find_photos
from sproutlapse.frames.reel_times import FilmTimes
from sproutlapse.job_film import KEPT
from sproutlapse.job_reel import times_of
from sproutlapse.job_tray import tray_beside
from sproutlapse.job_watch_news import Newsroom, camera_stopped
from sproutlapse.job_watch_page import PageMaker
from sproutlapse.job_watch_round import Outcome, Place, Rounds
from sproutlapse.plainly import as_told
from sproutlapse.progress import spoken_seconds
from sproutlapse.watch.alone import alone
from sproutlapse.watch.glance import Glance
from sproutlapse.watch.news import lines_of
from sproutlapse.watch.night import Night
from sproutlapse.watch.post import Asked, check_asked
from sproutlapse.watch.silence import Silence, longest_silence_s
from sproutlapse.watch.terminal import line_of, lines_of_lost
from sproutlapse.work.crew import Crew
from sproutlapse.work.place import results_folder
from sproutlapse.work.scan import Photo
from sproutlapse.work.store import Store

POLL_S = 0.3  # from one look at the folder to the next
# A round that failed is tried again after so long without anything new, then each time twice as long.
AGAIN_S, AGAIN_AT_MOST_S = 5.0, 300.0
NEWS_AT_LEAST_S = 60.0  # photos that come without end do not hold news back for longer
IDLE_S = 300.0  # workers with nothing to do are sent home
_DIGITS = re.compile(r"\d+")
LAST_WORDS_S = 5.0  # for what is being sent when the watch ends


@dataclass(frozen=True)
class Wishes:
    """What `watch` was asked for besides the places; `quiet` prints nothing but errors."""

    film: bool
    page: bool
    asked: Asked
    night: Night | None
    quiet: bool = False

    def ways(self) -> str | None:
        """Where messages go, and when not, in words; None where there are none."""
        count = len(self.asked.notify)
        to = [f"{count} address{'es' if count > 1 else ''}"] if count else []
        to += [f"the command {self.asked.command}"] if self.asked.command else []
        if not to:
            return None
        hours = self.night and f"; those of {self.night.begins:%H:%M} to {self.night.ends:%H:%M} wait until then"
        return f"Messages go to {' and '.join(to)}{hours or ''}."


def watch_job(
    folder: Path, *, tray_path: Path | None, out: Path | None, masks: bool, crew: Crew, wishes: Wishes,
    film_times: FilmTimes | None = None,
) -> None:  # fmt: skip
    """Watch a folder until the person ends it.

    Parameters
    ----------
    folder
        The photos; it may be empty still, and may vanish and come back.
    tray_path, out, masks
        As for a run.
    crew
        Who measures; it is closed at the end.
    wishes
        What else is wanted.
    film_times
        What was said of a film's times, where `folder` is one.

    Raises
    ------
    SproutlapseError
        If it cannot begin: the folder is not there, the results are in use, an address is not understood.
    """
    check_asked(wishes.asked)
    times = times_of(folder, out, film_times)
    with suppress(NoPictureError):
        find_photos(folder, times)
    out = results_folder(folder, out)
    with alone(out), _ended_by_signals() as stop:
        watch = Watch(Place(folder, tray_path, out, masks, times), crew, wishes, stop)
        try:
            watch.begin()
            while not stop.is_set():
                watch.step()
                stop.wait(POLL_S)
        finally:
            watch.close()


class Watch:
    """One folder under watch; `step` does what there is to do and comes back soon.

    Parameters
    ----------
    place
        What is watched.
    crew
        Who measures.
    wishes
        What is wanted.
    stop
        Set when the person wants it to end.
    clock
        Seconds that only ever rise.
    """

    def __init__(
        self, place: Place, crew: Crew, wishes: Wishes, stop: threading.Event,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        self.place, self.wishes, self.stop, self.clock = place, wishes, stop, clock
        self.rounds = Rounds(place, crew, stop.is_set, clock)
        self.glance = Glance(place.folder, place.photos, clock)
        self.news = Newsroom(wishes.asked, wishes.night, place.folder, place.out, self.rounds.store, clock)
        self.pages = PageMaker(wishes.film, wishes.page, clock)
        self.arrivals = self.rounds.known()
        self.silence = Silence(clock())
        self.outcome: Outcome | None = None
        self._history = False
        self._news_since: float | None = None
        self._said: set[str] = set()
        self._troubles: dict[str, str] = {}  # by part of a step
        self._held: dict[str, float] = {}  # parts that failed: not before
        self._again, self._pause = 0.0, AGAIN_S
        self._no_crew_until = 0.0
        self._tray: object = None
        self._gone = False
        self._patience_s = float("inf")

    def begin(self) -> None:
        """The first look, and what is said of it."""
        place = self.place
        with self.rounds.store() as store:
            lines = self.news.load(store)
        files = self.glance.look(eager=True) or []
        self._history = self.news.fresh and bool(files)
        there = "no photo yet" if not files else f"{len(files)} photo{'s' if len(files) > 1 else ''} there"
        self.say(f"Watching {place.folder} ({there}). Results go to {place.out}. Ctrl-C ends it.")
        if (ways := self.wishes.ways()) is not None:
            self.say(ways)
        for line in lines:
            self.say(line)
        self.arrivals.see(files, self.clock())
        self._again = self.clock()  # a first round in any case: a run may have been broken off

    def step(self) -> None:
        """Look at the folder, measure what came, tell and send what is new."""
        try:
            self._photos()
        except Exception as error:  # whatever it is, the next photo may do
            self._troubled("photos", as_told(error))
        for name, part in (("news", self._send), ("page", self._page), ("silence", self._silent), ("idle", self._idle)):
            if self.clock() < self._held.get(name, 0.0):
                continue
            try:
                part()
                self._troubles.pop(name, None)
            except Exception as error:  # none of them takes the others along
                self._troubled(name, as_told(error))
                self._held[name] = self.clock() + AGAIN_S

    def close(self) -> None:
        """End all that runs beside."""
        busy = self.pages.busy
        self.pages.close()
        self.rounds.crew.close()
        with suppress(SproutlapseError):
            self.news.close(LAST_WORDS_S)
        self.say(" ".join(["Stopped.", *self._left(busy)]))

    def _left(self, page_behind: bool) -> list[str]:
        """What results hold at the end, and what has to wait for the next start."""
        told = {frame.frame for frame in self.outcome.whole.frames} if self.outcome is not None else set()
        waiting = self.arrivals.coming + sum(file.frame not in told for file in self.arrivals.counted)
        behind = ["1 photo" if waiting == 1 else f"{waiting} photos"] if waiting else []
        if page_behind:
            wished = {"page": self.pages.page, "film": self.pages.film}
            behind += [f"the latest {name}" for name, wanted in wished.items() if wanted]
        if behind:
            return [f"Not yet in {self.place.out}: {', '.join(behind)}. Start it again, and it goes on with that."]
        return [f"{self.place.out} holds all that came; start it again at any time."] if told else []

    def say(self, line: str) -> None:
        """A line for the person, unless nothing is to be said."""
        if not self.wishes.quiet:
            print(line, flush=True)

    def _send(self) -> None:
        for line in self.news.step():
            self.say(line)

    def _page(self) -> None:
        if line := self.pages.step():
            self.say(line)

    def _idle(self) -> None:
        if self.clock() - self.rounds.crew_used > IDLE_S:
            self.rounds.crew.close()  # single photos need none; a burst calls them again

    def _photos(self) -> None:
        """One look at the folder, and a round if something came or changed."""
        now = self.clock()
        files = self._files()
        changed = self.arrivals.see(files, now) if files is not None else False
        due = self.arrivals.due(now) if now >= self._no_crew_until else []
        # Remembered before it is tried: a broken one is not read again at every look.
        was, self._tray = self._tray, self._tray_stamp()
        again = now >= self._again or self._tray != was
        if not (due or changed or again):
            return
        with self.rounds.store() as store:
            new = self.rounds.judge(store, self.arrivals, due) if due else []
            changed = changed or bool(self.arrivals.given_up)
            if self.stop.is_set() or not (new or changed or again):
                return
            self._again = float("inf")
            if not self.arrivals.counted:
                return
            outcome = self.rounds.take(store, self.arrivals, new)
            self._troubles.pop("photos", None)
            given_up, self.arrivals.given_up = self.arrivals.given_up, []
            self._tell(outcome, given_up, store)

    def _files(self) -> list[PhotoFile] | None:
        """All photos, or None where there is nothing new or the folder is away."""
        try:
            files = self.glance.look(eager=self.arrivals.coming > 0)
        except (PhotosError, OSError) as error:
            if not self._gone:
                why = error.what if isinstance(error, PhotosError) else error.strerror or str(error)
                self.say(f"{self.place.folder} cannot be read ({why}): waiting until it is there again.")
            self._gone = True
            return None
        if files is not None and not files and self.arrivals.counted:
            # A disk that is not there leaves an empty folder behind: what was measured is not given up for that.
            if not self._gone:
                self.say(f"{self.place.folder} holds no photo any more: waiting until they are there again.")
            self._gone = True
            return None
        if files is not None and self._gone:
            self.say(f"{self.place.folder} is there again.")
            self._gone = False
        return files

    def _tell(self, outcome: Outcome, given_up: Sequence[str], store: Store) -> None:
        """Print a line of the photos that came, and what is new."""
        self.outcome = outcome
        whole = outcome.whole
        self.pages.offer(whole, store.about(KEPT))
        if outcome.new:
            self.say(line_of(whole, [photo.file.frame for photo in outcome.new]))
        for line in lines_of_lost(whole, given_up):
            self.say(line)
        if outcome.new and outcome.rest:
            self.silence.since = self.clock()
        elif outcome.new:
            self._came(outcome)
        # While it is made anew with each of the first photos, nobody wants to hear of it each time.
        said = outcome.said if outcome.complete else ()
        notes = [*said, *outcome.round.begun.notes, *outcome.round.begun.shared.reference.notes]
        for line in [*notes, *outcome.scanned.messages]:
            # With each photo its numbers may change, and nobody wants to read it again for that.
            if (words := _DIGITS.sub("0", line)) not in self._said:
                self._said.add(words)
                self.say(f"  {line}")
        if self._history and not outcome.rest:
            self._history = False
            if count := self.news.only_history(whole, outcome.round.given.tray):
                self.say(f"  {count} events so far: events.csv and the page tell them; only later ones are told here.")
            self.news.keep(store)
        now = self.clock()
        self._news_since = now if self._news_since is None else self._news_since
        if not outcome.complete or self._history or (outcome.rest and now - self._news_since < NEWS_AT_LEAST_S):
            return
        self._news_since = None
        self.news.sending = True
        for line in lines_of(self.news.take(whole, outcome.round.given.tray)):
            self.say(f"  {line}")
        self.news.keep(store)

    def _came(self, outcome: Outcome) -> None:
        """Take note of when photos came; those that lay there at the start tell nothing of how they come."""
        times = _times_s(outcome.scanned.photos)
        if self._history:
            self.silence.last_s = max(times)
        if self.silence.came(max(times), self.clock()):
            self.say("  Photos come again.")
        self.news.stopped_at = ""
        self._patience_s = longest_silence_s(times, self.silence.arrivals_s)

    def _silent(self) -> None:
        """Say it once if the camera has stopped; while photos wait to be measured it has not."""
        if self.arrivals.coming:
            return
        if self.outcome is not None and self._patience_s == float("inf"):
            self._patience_s = longest_silence_s(_times_s(self.outcome.scanned.photos))
        if self.outcome is None or self.clock() - self.silence.since < self._patience_s:
            return
        photos = self.outcome.scanned.photos
        if not self.silence.stopped(_times_s(photos), self.clock()):
            return
        last = photos[-1]
        if self.news.stopped_at == last.file.frame:
            return
        since = spoken_seconds(self.clock() - self.silence.since)
        words = f"The camera has stopped: no new photo for {since}. The last one is {last.file.frame}."
        self.say(words)
        self.news.stopped_at = last.file.frame
        self.news.put_up(camera_stopped([last.dated.taken.text], last.file.frame, words))
        with self.rounds.store() as store:
            self.news.keep(store)

    def _tray_stamp(self) -> object:
        path = self.place.tray_path or tray_beside(self.place.folder)
        try:
            told = path.stat()
        except OSError:
            return None
        return told.st_size, told.st_mtime_ns

    def _troubled(self, part: str, error: SproutlapseError) -> None:
        """Say what is wrong, once, and try again later."""
        if self.stop.is_set():
            return
        words, known = str(error), self._troubles.get(part)
        if words not in self._troubles.values():
            print(words, flush=True)
        self._troubles[part] = words
        if part != "photos":
            return
        if words != known:
            self._pause = AGAIN_S
        self._again = self.clock() + self._pause
        if isinstance(error, ClusterError):
            self._no_crew_until = self._again
            self.rounds.crew.close()  # the next photos connect anew
        self._pause = min(2 * self._pause, AGAIN_AT_MOST_S)


def _times_s(photos: Sequence[Photo]) -> list[float]:
    """When photos were taken, seconds of the camera's clock."""
    return [photo.dated.corrected.replace(tzinfo=UTC).timestamp() for photo in photos]


@contextmanager
def _ended_by_signals() -> Iterator[threading.Event]:
    """An event that Ctrl-C and SIGTERM set; a second Ctrl-C ends at once."""
    stop = threading.Event()

    def end(number: int, frame: FrameType | None) -> None:
        if stop.is_set():
            raise KeyboardInterrupt
        stop.set()

    before = {number: signal.signal(number, end) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield stop
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
