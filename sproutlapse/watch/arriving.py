"""Photos as they arrive: which ones are to be looked at now, and which count as being in the folder.

A file is being copied for as long as it does not decode to its last row. Nothing tells that it is done: names and sizes
are asked again and again, since folders on a network send no word of changes, and some copy into a file that has its
whole size from the start.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sproutlapse.frames.find import PhotoFile

# What is not whole and did not grow for so long is damaged; seconds.
GIVEN_UP_S = 60.0
# A known photo that is missing for less may be on its way under the same name; seconds.
MISSING_S = 2.0
# Tries of a file that seems to stand still: the first after so long, then each time twice as long; seconds. A network
# folder may tell an old size for a while.
AGAIN_S, AGAIN_AT_MOST_S = 0.5, 8.0


@dataclass(frozen=True)
class _Coming:
    """A file that is not whole yet: as it was last seen and since when, when to try again and after what pause."""

    file: PhotoFile
    since: float
    next_try: float
    pause: float = AGAIN_S
    tried: bool = False


@dataclass(frozen=True)
class Stamp:
    """Size and time of a file: both the same, and it is taken for the same."""

    size: int
    mtime_ns: int


class Arrivals:
    """Who is there, who is coming and who has gone; times are seconds of a clock that only ever rises.

    Parameters
    ----------
    known
        Files that were counted before, with size and time: they are whole or were given up.
    """

    def __init__(self, known: Mapping[str, Stamp]) -> None:
        self._known = dict(known)
        self._here: dict[str, PhotoFile] = {}
        self._coming: dict[str, _Coming] = {}
        self._missing: dict[str, float] = {}
        self.given_up: list[str] = []  # frames of photos that were given up; whoever tells of them empties it

    @property
    def coming(self) -> int:
        """How many files are not whole yet."""
        return len(self._coming)

    @property
    def counted(self) -> list[PhotoFile]:
        """The photos that count: whole, or given up as damaged."""
        return list(self._here.values())

    def see(self, files: Sequence[PhotoFile], now: float) -> bool:
        """Take note of what lies in the folder; says whether photos that counted have gone or were given up.

        Parameters
        ----------
        files
            All of them.
        now
            Seconds.
        """
        there = {file.frame: file for file in files}
        for frame, file in there.items():
            stamp = Stamp(file.size_bytes, file.mtime_ns)
            if self._known.get(frame) == stamp:
                self._here[frame] = file
                self._coming.pop(frame, None)
                continue
            was = self._coming.get(frame)
            if was is None:
                # One that is new is tried at once: it may have been moved into place whole.
                self._coming[frame] = _Coming(file, now, now)
            elif (was.file.size_bytes, was.file.mtime_ns) != (stamp.size, stamp.mtime_ns):
                self._coming[frame] = _Coming(file, now, now + AGAIN_S)
        for frame in self._coming.keys() - there.keys():
            del self._coming[frame]
        return self._gone(there, now) | self._given_up(now)

    def due(self, now: float) -> list[PhotoFile]:
        """Files to be looked at now, in the order of their names in the folder."""
        return [one.file for one in self._coming.values() if one.next_try <= now]

    def whole(self, files: Iterable[PhotoFile]) -> None:
        """These decode to the last row: they count from now on."""
        for file in files:
            self._coming.pop(file.frame, None)
            self._count(file)

    def not_whole(self, file: PhotoFile, now: float) -> None:
        """This one does not, or could not be read."""
        one = self._coming.get(file.frame)
        if one is not None:
            pause = min(2 * one.pause, AGAIN_AT_MOST_S)
            self._coming[file.frame] = replace(one, tried=True, next_try=now + one.pause, pause=pause)

    def put_off(self, file: PhotoFile, now: float) -> None:
        """This one could not be measured, whole or not: it is tried again later, and time alone does not make it
        damaged."""
        one = self._coming.get(file.frame)
        if one is not None:
            pause = min(2 * one.pause, AGAIN_AT_MOST_S)
            self._coming[file.frame] = replace(one, next_try=now + one.pause, pause=pause)

    def give_up(self, files: Iterable[PhotoFile]) -> None:
        """These count from now on, though nothing is to be learned of them."""
        for file in files:
            self._coming.pop(file.frame, None)
            self._count(file)
            self.given_up.append(file.frame)

    def _count(self, file: PhotoFile) -> None:
        self._known[file.frame] = Stamp(file.size_bytes, file.mtime_ns)
        self._here[file.frame] = file
        self._missing.pop(file.frame, None)

    def _given_up(self, now: float) -> bool:
        """Count files that were tried and stand still for too long; they are told to be damaged."""
        late = [one.file for one in self._coming.values() if one.tried and now - one.since >= GIVEN_UP_S]
        self.give_up(late)
        return bool(late)

    def _gone(self, there: Mapping[str, PhotoFile], now: float) -> bool:
        """Forget photos that are missing for a while."""
        for frame in self._here:
            if frame in there:
                self._missing.pop(frame, None)
            else:
                self._missing.setdefault(frame, now)
        gone = [frame for frame, since in self._missing.items() if now - since >= MISSING_S]
        for frame in gone:
            for where in (self._missing, self._here, self._known):
                where.pop(frame, None)
        return bool(gone)
