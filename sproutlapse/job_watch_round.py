"""Photos that came: looked at until they are whole, measured oldest first, and all written that follows from them."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from sproutlapse.errors import PhotosError, ResultsError, SproutlapseError
from sproutlapse.frames.find import PhotoFile, natural_order, photos
from sproutlapse.frames.reel_times import FilmTimes
from sproutlapse.job import write_tables_of
from sproutlapse.job_steps import Remembered, Round, Steps
from sproutlapse.job_tray import given_tray
from sproutlapse.plainly import as_told
from sproutlapse.progress import Silent
from sproutlapse.vision.reference import FRAMES
from sproutlapse.watch.arriving import Arrivals, Stamp
from sproutlapse.work.crew import Crew, LocalCrew
from sproutlapse.work.engine import Shared, Task, Told, look_at
from sproutlapse.work.origin import keep_origin
from sproutlapse.work.remember import Memory, RememberingStore
from sproutlapse.work.scan import Photo, Scan, scan
from sproutlapse.work.store import Scanned, Store

if TYPE_CHECKING:
    from sproutlapse.results import Results

# So few photos are measured here, and one after the other: workers would first have to be told what to compare with.
FEW = FRAMES
# Of a burst so many photos are measured before the tables are written again, at first; later as many as take ten times
# as long as the tables do, so that these cost a burst little.
CHUNK, TIMES_THE_TABLES = 16, 10.0
LEAST_CHUNK_S = 5.0
TRIES = 3  # to measure a photo that makes the measuring fail, before it is left out


@dataclass(frozen=True)
class Place:
    """What is watched, what stands in view, and where the results go; of a film, when its frames were taken."""

    folder: Path
    tray_path: Path | None
    out: Path
    masks: bool
    film_times: FilmTimes | None = None

    def photos(self, folder: Path) -> list[PhotoFile]:
        """All photos of the folder, or frames of the film."""
        return photos(folder, self.film_times)


@dataclass(frozen=True)
class Outcome:
    """What a round led to.

    Attributes
    ----------
    whole
        All results.
    said
        What to say of the round as a whole.
    new
        Photos that count since the last round, in camera order.
    complete
        Whether what photos are compared with stays as it is from now on.
    rest
        How many more photos wait to be measured.
    """

    whole: Results
    round: Round
    said: tuple[str, ...]
    new: tuple[Photo, ...]
    rest: int

    @property
    def complete(self) -> bool:
        """Whether what photos are compared with stays as it is from now on."""
        return self.round.begun.complete

    @property
    def scanned(self) -> Scan:
        """All photos of the round."""
        return self.round.scanned


class EndedError(SproutlapseError):
    """The person ends the watch while photos are measured; what was measured is kept."""


class NotMeasuredError(SproutlapseError):
    """One photo makes the measuring fail; `where` is its path."""

    def __init__(self, task: Task, error: Exception) -> None:
        super().__init__(as_told(error).what, where=str(task.path), remedy="Move it out of the folder.")


class _Careful(Crew):
    """A crew that stops between two photos when the person wants it to, and names the photo that makes it fail."""

    def __init__(self, crew: Crew, stopped: Callable[[], bool]) -> None:
        self._crew, self._stopped = crew, stopped

    @property
    def unlike(self) -> Sequence[str]:
        return self._crew.unlike

    def get_ready(self, photos: int) -> None:
        self._crew.get_ready(photos)

    def measure(self, tasks: Sequence[Task], shared: Shared) -> Iterator[Told]:
        left = {task.digest: task for task in tasks}
        try:
            for told in self._crew.measure(tasks, shared):
                left.pop(told.task.digest, None)
                yield told
                if self._stopped():
                    raise EndedError("ended while photos were measured.")
        except SproutlapseError:
            raise
        except Exception:  # of whatever kind: which photo it was shows when each is measured by itself
            for task in left.values():
                yield from self._by_itself(task, shared)

    def _by_itself(self, task: Task, shared: Shared) -> Sequence[Told]:
        if self._stopped():
            raise EndedError("ended while photos were measured.")
        try:
            return list(self._crew.measure([task], shared))
        except SproutlapseError:
            raise
        except Exception as error:
            raise NotMeasuredError(task, error) from error

    def close(self) -> None:
        self._crew.close()


@dataclass
class Rounds:
    """One round after the other on one tray.

    Attributes
    ----------
    stopped
        Whether the person wants it to end.
    clock
        Seconds that only ever rise.
    """

    place: Place
    crew: Crew
    stopped: Callable[[], bool]
    clock: Callable[[], float] = time.monotonic
    memory: Memory = field(default_factory=Memory)
    remembered: Remembered = field(default_factory=Remembered)
    chunk: int = CHUNK
    rest: int = 0
    alone: Crew = field(default_factory=lambda: LocalCrew(1))
    crew_used: float = 0.0  # when several photos at once were last measured
    tables_s: float = 1.0  # how long the tables took
    failed: dict[str, int] = field(default_factory=dict)  # how often measuring a photo failed, by digest

    @contextmanager
    def store(self) -> Iterator[Store]:
        """The store, open; between rounds others may use it.

        Raises
        ------
        ResultsError
            If somebody else has it just now.
        """
        with RememberingStore(self.place.out, self.memory) as store:
            yield store

    def known(self) -> Arrivals:
        """Photos of earlier runs count as they were, if they are so still."""
        with self.store() as store:
            # Only now: later, page and film may just be written beside.
            self._steps(store, self.alone).take_up()
            return Arrivals({frame: Stamp(one.size, one.mtime_ns) for frame, one in store.scanned().items()})

    def _steps(self, store: Store, crew: Crew) -> Steps:
        place, ended = self.place, _Careful(crew, self.stopped)
        return Steps(
            store, place.folder, place.out, place.tray_path, ended, Silent(), self.remembered, place.film_times
        )

    def judge(self, store: Store, arrivals: Arrivals, due: Sequence[PhotoFile]) -> list[PhotoFile]:
        """Look at files that came, oldest first, as many as fit into one round; the new ones that are whole."""
        came = self._dated(store, arrivals, due)
        looks = store.looks()
        seen = {photo.digest for photo in came if photo.digest in looks and not looks[photo.digest][0]}
        whole = [photo.file for photo in came if photo.digest in seen]  # copied, moved or touched, but known
        came = [photo for photo in came if photo.digest not in seen]
        chunk = came[: FRAMES if self.remembered.begun is None else self.chunk]
        self.rest = len(came) - len(chunk)
        by_digest: dict[str, list[PhotoFile]] = {}
        for photo in chunk:
            by_digest.setdefault(photo.digest, []).append(photo.file)
        tasks = [Task(files[0].frame, files[0].path, digest) for digest, files in by_digest.items()]
        began = self.clock()
        try:
            for told in self._told(tasks, arrivals, store, by_digest):
                files = by_digest[told.task.digest]
                if told.damaged:
                    for file in files:
                        self._not_whole(arrivals, file)
                else:
                    whole += files
                if self.stopped():
                    break
        finally:  # what is measured counts, whatever became of the others
            arrivals.whole(whole)
        self._paced(len(tasks), self.clock() - began)
        before, read = store.scanned(), self.remembered.scanned
        mended = {photo.file.frame for photo in chunk if photo.digest in looks}  # left out so far
        return [
            file for file in whole
            if file.frame in mended or not _same(before.get(file.frame), read.get(file.frame))
        ]  # fmt: skip

    def take(self, store: Store, arrivals: Arrivals, new: Sequence[PhotoFile]) -> Outcome:
        """Make and write everything that follows from the photos that count.

        Raises
        ------
        SproutlapseError
            If nothing can be measured, with the reason.
        """
        place = self.place
        steps = self._steps(store, self.alone if len(arrivals.counted) <= FEW else self.crew)
        files = sorted(arrivals.counted, key=lambda file: natural_order(file.frame))
        now = steps.begin(files, given_tray(place.folder, place.tray_path))
        try:
            steps.measure(now.scanned.photos, now.begun.shared)
        except SproutlapseError as error:
            digests = [photo.digest for photo in now.scanned.photos if str(photo.file.path) == error.where]
            if digests and not isinstance(error, PhotosError):
                self._left_out(store, digests[0], error)
            raise
        began = self.clock()
        whole, said = steps.finish(now)
        write_tables_of(whole, masks=place.masks)
        self.tables_s = self.clock() - began
        for photo in now.scanned.photos:
            self.remembered.scanned.pop(photo.file.frame, None)
        names = {file.frame for file in new}
        own = tuple(photo for photo in now.scanned.photos if photo.file.frame in names)
        return Outcome(whole, now, tuple(said), own, self.rest)

    def _paced(self, photos: int, seconds: float) -> None:
        if photos >= CHUNK:
            wanted = max(LEAST_CHUNK_S, TIMES_THE_TABLES * self.tables_s)
            self.chunk = max(CHUNK, min(round(photos * wanted / max(seconds, 1e-3)), 4 * self.chunk))

    def _dated(self, store: Store, arrivals: Arrivals, due: Sequence[PhotoFile]) -> Sequence[Photo]:
        """The files in camera order; those that cannot be read are tried again later."""
        read = self.remembered.scanned
        files = []
        for file in due:
            if self.stopped():
                break
            try:
                read[file.frame] = scan([file], read, lambda: None).scanned[0]
                files.append(file)
            except PhotosError:
                self._not_whole(arrivals, file)
        return scan(files, read, lambda: None).photos

    def _told(
        self, tasks: Sequence[Task], arrivals: Arrivals, store: Store, files_of: Mapping[str, Sequence[PhotoFile]]
    ) -> Iterator[Told]:
        """What the photos tell, kept at once where they are whole."""
        begun = self.remembered.begun
        shared = begun[1].shared if begun is not None else None
        there = {str(task.path): task for task in tasks}
        try:
            for told in self._by_crew(tasks, shared) if shared is not None else self._by_looking(tasks):
                if not told.damaged:
                    digest = shared.reference.digest if shared is not None and told.found is not None else ""
                    keep_origin(store, digest, self.crew.unlike)
                    store.keep(told.task.digest, "", told.look, digest, told.found)
                yield told
        except PhotosError as error:  # one went or grew while it was looked at; the others wait for the next round
            task = there.get(error.where)
            if task is None:
                raise
            for file in arrivals.due(self.clock()):
                if file.path == task.path:
                    self._not_whole(arrivals, file)
        except EndedError:
            return
        except SproutlapseError as error:  # one that workers die of, say; the others wait for the next round
            task = there.get(error.where)
            if task is None or isinstance(error, ResultsError):
                raise
            files = files_of[task.digest]
            if self._left_out(store, task.digest, error):
                arrivals.give_up(files)
            else:
                for file in files:
                    arrivals.put_off(file, self.clock())

    def _left_out(self, store: Store, digest: str, error: SproutlapseError) -> bool:
        """Take note that a photo made the measuring fail; whether it is given up now, which the store then says."""
        self.failed[digest] = self.failed.get(digest, 0) + 1
        if self.failed[digest] < TRIES:
            return False
        store.keep(digest, f"could not be measured in {TRIES} tries: {error.what.rstrip('.')}", {}, "", None)
        del self.failed[digest]
        return True

    def _by_crew(self, tasks: Sequence[Task], shared: Shared) -> Iterator[Told]:
        if len(tasks) > 1:
            self.crew_used = self.clock()
        return _Careful(self.crew, self.stopped).measure(tasks, shared) if tasks else iter(())

    def _by_looking(self, tasks: Sequence[Task]) -> Iterator[Told]:
        """Before there is anything to compare with: decoded here, the first pictures kept for what is made of them."""
        for task in tasks:
            try:
                told, picture = look_at(task)
            except SproutlapseError:
                raise
            except Exception as error:
                raise NotMeasuredError(task, error) from error
            if picture is not None and len(self.remembered.pictures) < FRAMES:
                self.remembered.pictures[task.digest] = picture
            yield told

    def _not_whole(self, arrivals: Arrivals, file: PhotoFile) -> None:
        # Its bytes may change while its size and time stay: next time all of it is read again.
        self.remembered.scanned.pop(file.frame, None)
        arrivals.not_whole(file, self.clock())


def _same(one: Scanned | None, other: Scanned | None) -> bool:
    """Whether a file was only touched: the same bytes, taken at the same time."""
    return one is not None and other is not None and (one.digest, one.moment) == (other.digest, other.moment)
