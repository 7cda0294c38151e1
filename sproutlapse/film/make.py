"""The growth film: photos and what the measuring knows of them go in, one film comes out. Nothing is measured again."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sproutlapse.film import cards, lane, timing
from sproutlapse.film.beside import write_poster, write_subtitles, write_then_and_now
from sproutlapse.film.blend import Between
from sproutlapse.film.encode import Writer, film_file
from sproutlapse.film.options import FilmOptions, FilmSummary
from sproutlapse.film.paint import Painter
from sproutlapse.film.plan import Plan, Side, SidePlan, film_plan, sides_of
from sproutlapse.film.told import Told
from sproutlapse.results import FrameRecord

Even = NDArray[np.float32]

# Pictures painted ahead of the encoder.
AHEAD = 2
AS_USUAL = FilmOptions()


@dataclass
class _Painted:
    """A run of equal film pictures on its way to the encoder; `canvas` is kept of the first and the last."""

    work: Future[tuple[Any, Even]]
    times: int
    photos: int


def make_film(
    frames: Sequence[FrameRecord],
    out: Path,
    *,
    options: FilmOptions = AS_USUAL,
    progress: Callable[[int, int], None] | None = None,
    known: Told | None = None,
    beside: Sequence[Side] = (),
) -> FilmSummary:
    """Write the growth film of a tray, or of several side by side.

    Parameters
    ----------
    frames
        All photos in time order with what the measuring learned of them; only those used are shown.
    out
        The film's file; its folder exists. Subtitles and poster are written beside it where there is something to tell.
    options
        How the film is to be.
    progress
        Called with (photos done, photos in all).
    known
        The tray's tables, for everything that is drawn or told besides the caption.
    beside
        Further trays.

    Returns
    -------
    FilmSummary

    Raises
    ------
    PhotosError
        If no photo can be shown, or one has gone or changed since it was measured.
    ResultsError
        If the film cannot be written, or what is asked for cannot be; an earlier film then stays.
    """
    plan = film_plan(sides_of(frames, known, beside, options), options)
    painter = Painter(plan, options)
    lead_in = round(cards.TITLE_S * options.fps) if options.title else 0
    ends = round(cards.END_S * options.fps) if options.end_card else 0
    rate = timing.exact_rate(options.fps)
    ends_with: Even | None = None
    keep = _Ends(options.then_and_now)
    with film_file(out, size=plan.place.size, rate=rate, level=plan.level, kind=options.kind) as film:
        for number, (prepared, canvas, times, photos) in enumerate(_painted(plan, painter, film, keep)):
            if number == 0 and lead_in:
                film.add(film.prepared(cards.card(canvas, options.title, painter.title_lines())), lead_in)
            film.add(prepared, times)
            ends_with = canvas
            if progress is not None:
                progress(photos, len(plan.line.records))
        if ends and ends_with is not None:
            film.add(film.prepared(cards.card(ends_with, options.title or "Until now", painter.end_lines())), ends)
    pictures = len(plan.line.moments)
    # Beside a WebP or GIF the poster of the film stays, and of themselves they show enough.
    files = [write_poster(out, ends_with)] if ends_with is not None and options.kind == "mp4" else []
    files += write_subtitles(out, plan, painter.happenings, options, lead_in)
    files += write_then_and_now(out, plan, keep.first, keep.last) if options.then_and_now else []
    sentence = timing.sentence(frames, plan.line, options)
    if lead_in or ends:
        sentence += f", and {(lead_in + ends) / float(rate):.0f} s of cards"
    return FilmSummary(
        path=out,
        frames=pictures + lead_in + ends,
        seconds=timing.film_seconds(pictures + lead_in + ends, options.fps),
        width=plan.place.size[0],
        height=plan.place.size[1],
        sentence=sentence,
        notes=plan.notes,
        beside=tuple(files),
    )


@dataclass
class _Ends:
    """The first and the last picture of the leading side, without anything drawn on them, if they are wanted."""

    wanted: bool
    first: Even | None = None
    last: Even | None = None


def _painted(plan: Plan, painter: Painter, film: Writer, keep: _Ends) -> Iterator[tuple[Any, Even, int, int]]:
    """The film's pictures in order as the encoder takes them, equal ones together, painted a few ahead."""

    def paint(number: int, arrays: tuple[Even, ...]) -> tuple[Any, Even]:
        canvas = painter.painted(number, arrays)
        return film.prepared(canvas), canvas

    with ThreadPoolExecutor(max_workers=2) as pool:
        waiting: deque[_Painted] = deque()
        try:
            for number, arrays, times in _runs(plan, painter):
                if keep.wanted:
                    keep.first = arrays[plan.lead] if keep.first is None else keep.first
                    keep.last = arrays[plan.lead]
                photos = plan.line.moments[number].shot + 1
                waiting.append(_Painted(pool.submit(paint, number, arrays), times, photos))
                if len(waiting) > AHEAD:
                    yield _done(waiting.popleft())
            while waiting:
                yield _done(waiting.popleft())
        finally:
            for one in waiting:
                one.work.cancel()


def _done(one: _Painted) -> tuple[Any, Even, int, int]:
    prepared, canvas = one.work.result()
    return prepared, canvas, one.times, one.photos


def _runs(plan: Plan, painter: Painter) -> Iterator[tuple[int, tuple[Even, ...], int]]:
    """The number of each picture that differs from the one before, the sides' pictures, and for how many it stands."""
    streams = [shown(side) for side in plan.sides]
    held: tuple[int, tuple[Even, ...]] | None = None
    key, times = None, 0
    try:
        for number, arrays in enumerate(zip(*streams, strict=True)):
            now = (*(id(array) for array in arrays), *painter.key(number))
            if held is not None and now == key:
                times += 1
                continue
            if held is not None:
                yield *held, times
            held, key, times = (number, arrays), now, 1
        if held is not None:
            yield *held, times
    finally:
        for stream in streams:
            stream.close()


def shown(side: SidePlan) -> Generator[Even]:
    """One side's picture for each film picture: the photo that stands, or what leads over to the next.

    The same array comes again while the same picture stands.
    """
    source = lane.pictures(side.lane)
    current, following, between, at = next(source), None, None, 0
    try:
        for moment in side.line.moments:
            while at < moment.shot:
                current = next(source) if following is None else following
                following, between = None, None
                at += 1
            if moment.toward <= 0:
                yield current
                continue
            if following is None:
                following = next(source)
            between = between or Between(current, following)
            yield between.at(moment.toward)
    finally:
        source.close()
