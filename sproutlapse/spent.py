"""Where the time went: seconds by part, noted where the work is done and handed back with it.

Nothing is noted, and a mark costs next to nothing, unless somebody asked: `with noting() as spent`. Marks in one
another make parts of parts: "measuring" and in it "align" is told as `measuring/align`.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import NamedTuple

WORKERS = "workers"  # under this name stands what they told; it ran beside the other parts, not after them


class Took(NamedTuple):
    """Seconds by the clock, and seconds of a processor that this process used meanwhile."""

    clock: float
    processor: float


# What travels from a worker with each photo.
Parts = Mapping[str, tuple[float, float]]


def _now() -> Took:
    return Took(time.perf_counter(), time.process_time())


@dataclass
class Spent:
    """Seconds by part, in the order in which parts were first begun."""

    parts: dict[str, Took] = field(default_factory=dict)
    measured: int = 0  # photos of which workers told
    begun: Took = field(default_factory=_now)
    _within: str = ""

    @contextmanager
    def part(self, name: str) -> Iterator[None]:
        """Note the seconds of a `with` block under this name."""
        before, self._within = self._within, f"{self._within}/{name}" if self._within else name
        own = self._within
        self.parts.setdefault(own, Took(0.0, 0.0))
        begun = _now()
        try:
            yield
        finally:
            now = _now()
            self._add(own, now.clock - begun.clock, now.processor - begun.processor)
            self._within = before

    def add(self, told: Parts) -> None:
        """Take up what a worker noted of one photo."""
        self.measured += 1
        for name, (clock, processor) in told.items():
            self._add(f"{WORKERS}/{name}", clock, processor)

    def whole(self) -> Took:
        """All that was spent since the noting began."""
        now = _now()
        return Took(now.clock - self.begun.clock, now.processor - self.begun.processor)

    def _add(self, name: str, clock: float, processor: float) -> None:
        was = self.parts.get(name, Took(0.0, 0.0))
        self.parts[name] = Took(was.clock + clock, was.processor + processor)


# Of this thread alone: a thread that was started beside notes nothing.
_NOW: ContextVar[Spent | None] = ContextVar("spent", default=None)


@contextmanager
def noting(wanted: bool = True) -> Iterator[Spent]:
    """Note what is marked within, and only there; if not `wanted`, the marks cost next to nothing."""
    spent = Spent()
    token = _NOW.set(spent if wanted else None)
    try:
        yield spent
    finally:
        _NOW.reset(token)


def wanted() -> bool:
    """Whether somebody asked, so that work that is handed on should be noted as well."""
    return _NOW.get() is not None


def part(name: str) -> AbstractContextManager[None]:
    """A mark: `with part("align"):`."""
    spent = _NOW.get()
    return nullcontext() if spent is None else spent.part(name)


def told(parts: Parts) -> None:
    """Take up what a worker noted of one photo."""
    spent = _NOW.get()
    if spent is not None and parts:
        spent.add(parts)


def table(spent: Spent, whole: Took, photos: int) -> list[str]:
    """The table to print: seconds in all, on a processor and for each photo, and the share.

    Parameters
    ----------
    spent
        What was noted.
    whole
        Of the whole run.
    photos
        In the folder: by them "a photo" divides, and for what workers told by those that were measured.
    """
    own = {name: took for name, took in spent.parts.items() if name.partition("/")[0] != WORKERS}
    theirs = {name.partition("/")[2]: took for name, took in spent.parts.items() if name.partition("/")[0] == WORKERS}
    top = [took for name, took in own.items() if "/" not in name]
    rest = Took(whole.clock - sum(t.clock for t in top), whole.processor - sum(t.processor for t in top))
    out = [_row(("", "seconds", "processor", "a photo", "share"))]
    out += _rows({**own, "everything else": rest, "in all": whole}, whole.clock, photos)
    if theirs:
        all_theirs = sum(took.clock for name, took in theirs.items() if "/" not in name)
        out += ["", "In the workers, added up over all of them:", *_rows(theirs, all_theirs, spent.measured)]
    return out


def _rows(parts: Mapping[str, Took], whole: float, photos: int) -> list[str]:
    rows = []
    for name in _parts_below_their_whole(list(parts)):
        took = parts[name]
        share = f"{100 * took.clock / whole:.1f} %" if whole > 0 else ""
        a_photo = f"{took.clock / photos:.4f}" if photos else ""
        label = "  " * name.count("/") + name.rpartition("/")[2]
        rows.append(_row((label, f"{took.clock:.2f}", f"{took.processor:.2f}", a_photo, share)))
    return rows


def _parts_below_their_whole(names: Sequence[str]) -> list[str]:
    """In the order given, but each part right below what it is a part of."""
    first = {name: n for n, name in enumerate(names)}

    def place(name: str) -> list[int]:
        steps = name.split("/")
        return [first.get("/".join(steps[: n + 1]), len(first)) for n in range(len(steps))]

    return sorted(names, key=place)


def _row(cells: Sequence[str]) -> str:
    label, *figures = cells
    return f"{label:<34}" + "".join(f"{figure:>11}" for figure in figures)
