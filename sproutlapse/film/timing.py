"""Which photo stands in each film picture, what its caption says, and how long the film is.

Frame records go in, a timeline comes out: the photos of the film, and for each film picture which of them it shows.
Every film picture stands for the same span of time. No pictures are touched here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import PhotosError
from sproutlapse.film.choice import calm_photos, chosen_photos, nights_between, wall_clock
from sproutlapse.film.options import FilmOptions
from sproutlapse.results import FrameRecord

Floats = NDArray[np.float64]

# By name here, since the machine's own language must not change the film.
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
# Stands in place of the clock where several run in step by age.
SINCE_UP = "since coming up"
# A wall clock may differ from the running time by a change to summer time; more than this is a clock that was reset.
CLOCK_SLACK = timedelta(hours=1, minutes=5)
# A film shorter than this shows each photo for a few pictures, but never less than so many photos a second.
LEAST_S, FEWEST_A_SECOND = 8.0, 3.0
# A step between photos this near to a whole number of usual ones is taken as that: timers are a little early or late.
JITTER = 0.25
# A step this many times the usual one is a gap.
GAP = 1.6


@dataclass(frozen=True)
class Moment:
    """One film picture.

    Attributes
    ----------
    shot
        Which photo it shows, counted within the timeline's.
    toward
        How far it is led over to the next photo, 0 (not at all) to 1.
    hours
        The time it stands for, hours as in the tables.
    day
        Caption's day, "Day 12".
    clock
        Caption's date and time, "14 Mar 2025, 14:10".
    mark
        What the caption says of a picture that is no photo of this time: "held", "blended", "night"; or nothing.
    progress
        Where it lies between the film's first and last picture, 0 to 1.
    """

    shot: int
    toward: float
    hours: float
    day: str
    clock: str
    mark: str
    progress: float


@dataclass(frozen=True)
class Timeline:
    """The film in time: its photos in order, its pictures, and the span in hours that each picture stands for."""

    records: tuple[FrameRecord, ...]
    moments: tuple[Moment, ...]
    span_h: float
    hold: int = 1
    nights_out: bool = False

    def shares(self) -> list[int]:
        """For each photo, how many film pictures show it."""
        found = np.bincount([moment.shot for moment in self.moments], minlength=len(self.records))
        return [int(share) for share in found]

    def marked(self, mark: str) -> int:
        """How many film pictures bear this mark."""
        return sum(moment.mark == mark for moment in self.moments)


def exact_rate(fps: float) -> Fraction:
    """The frame rate as a fraction of small whole numbers (23.976 becomes 24000/1001)."""
    broadcast = Fraction(round(fps) * 1000, 1001)
    if fps != round(fps) and abs(float(broadcast) - fps) < 0.005:
        return broadcast
    return Fraction(fps).limit_denominator(1001)


def film_seconds(frames: int, fps: float) -> float:
    """Length in seconds of so many pictures at a constant rate."""
    return float(frames / exact_rate(fps))


def timeline(frames: Sequence[FrameRecord], options: FilmOptions, *, emerged_h: float | None = None) -> Timeline:
    """The photos of the film, and what each film picture shows.

    Parameters
    ----------
    frames
        All photos in time order; only those used are shown (with `night` "show" those of the night too).
    options
        Rate, length, part, gaps, nights and day zero.
    emerged_h
        When the first plant came up, hours as in the tables; None if none did.

    Returns
    -------
    Timeline
        Only photos that a film picture shows.

    Raises
    ------
    PhotosError
        If no photo can be shown.
    ResultsError
        If the part asked for holds none, or nothing came up to start at.
    """
    records = chosen_photos(frames, options, emerged_h)
    if not records:
        raise PhotosError(f"none of the {len(frames)} photos can be shown in a film", remedy=_why_none(frames))
    if options.calm:
        records = calm_photos(records)
    hours = np.array([record.elapsed_h for record in records])
    steps = np.diff(hours)
    usual = usual_step(steps)
    night = nights_between(records, frames, usual)
    film_steps = _whole_steps(steps, usual)
    if options.night == "skip" and not options.calm:
        film_steps = np.where(night, np.minimum(film_steps, usual), film_steps)
    starts = np.append(0.0, np.cumsum(film_steps))
    pictures, span, hold = _pictures(float(starts[-1]), usual, options)
    moments = _moments(records, starts, span, pictures, night=night, usual=usual, options=options)
    return _only_shown(records, moments, span, hold, nights_out=bool(night.any()) and options.night == "skip")


def usual_step(steps: Floats) -> float:
    """The usual time between two photos, hours: the median of those that are not nothing; 1 for a single photo."""
    real = steps[steps > 0]
    return float(np.median(real)) if real.size else 1.0


def _whole_steps(steps: Floats, usual: float) -> Floats:
    times = steps / usual
    whole = np.round(times)
    return np.where((whole >= 1) & (np.abs(times - whole) < JITTER), whole * usual, np.maximum(steps, 0.0))


def _pictures(length_h: float, usual: float, options: FilmOptions) -> tuple[int, float, int]:
    """How many pictures, what span in hours each stands for, and how many a usual photo gets (0: as asked)."""
    whole = length_h + usual
    if options.seconds is not None:
        pictures = max(1, round(options.seconds * exact_rate(options.fps)))
        return pictures, whole / pictures, 0
    photos = max(1, round(whole / usual))
    most = max(1, int(options.fps / FEWEST_A_SECOND))
    hold = min(max(1, int(np.ceil(LEAST_S * options.fps / photos))), most)
    if options.calm:  # a day led over to the next may take longer than a photo that stands
        hold = max(hold, most)
    return photos * hold, usual / hold, hold


def _moments(
    records: Sequence[FrameRecord],
    starts: Floats,
    span: float,
    pictures: int,
    *,
    night: NDArray[np.bool_],
    usual: float,
    options: FilmOptions,
) -> list[Moment]:
    hours = np.array([record.elapsed_h for record in records])
    words = _Captions(records[0], options.day_zero)
    blends = options.smooth or options.calm
    made = []
    stands, since = -1, 0
    for number in range(pictures):
        at = number * span
        shot = int(np.searchsorted(starts, at + 1e-6 * usual, side="right")) - 1
        into = max(0.0, at - float(starts[shot]))
        last = shot == len(records) - 1
        step = 0.0 if last else float(starts[shot + 1] - starts[shot])
        gap = not last and step > GAP * usual
        dark = not last and bool(night[shot])
        toward, mark = 0.0, ""
        if into > 1e-6 * usual and not last and (blends or (gap and options.gaps == "blend" and not dark)):
            toward, mark = into / step, "blended"
        elif gap and into > 0.999 * usual:
            mark = "night" if dark else "held"
        if not records[shot].used:
            mark = "night"
        # A photo that merely stands for its own span keeps its own time; over a gap the clock runs on.
        told = hours[shot] + into if mark in {"held", "blended"} or (mark and gap) else hours[shot]
        day, clock = words.of(records[shot], float(told))
        if mark or shot != stands:
            # A photo that stands is one picture with one place on the line; over a gap the line runs on.
            stands, since = shot, number
        progress = since / (pictures - 1) if pictures > 1 else 1.0
        made.append(Moment(shot, toward, float(hours[shot] + into), day, clock, mark, progress))
    return made


def _only_shown(
    records: Sequence[FrameRecord], moments: Sequence[Moment], span: float, hold: int, *, nights_out: bool
) -> Timeline:
    """The timeline without photos that no picture shows or leads over to."""
    wanted = {moment.shot for moment in moments} | {moment.shot + 1 for moment in moments if moment.toward > 0}
    order = {shot: place for place, shot in enumerate(sorted(wanted))}
    kept = tuple(record for shot, record in enumerate(records) if shot in order)
    # Where the next photo was passed over, a picture leads over to the next one that is shown.
    made = [Moment(order[m.shot], m.toward, m.hours, m.day, m.clock, m.mark, m.progress) for m in moments]
    return Timeline(kept, tuple(made), span, hold, nights_out)


class _Captions:
    """Day and clock of a time, counted on from the first photo."""

    def __init__(self, first: FrameRecord, day_zero: date | None) -> None:
        self._first, self._start = first, wall_clock(first)
        self._zero = day_zero or (self._start - timedelta(hours=first.elapsed_h)).date() - timedelta(days=1)

    def of(self, record: FrameRecord, hours: float) -> tuple[str, str]:
        running = self._start + timedelta(hours=record.elapsed_h - self._first.elapsed_h)
        written = wall_clock(record)
        now = written if abs(written - running) <= CLOCK_SLACK else running
        now += timedelta(hours=hours - record.elapsed_h)
        day = (now.date() - self._zero).days
        return f"Day {day}".replace("-", "−"), f"{now.day} {MONTHS[now.month - 1]} {now.year}, {now:%H:%M}"


def _why_none(frames: Sequence[FrameRecord]) -> str:
    reasons = sorted({record.reason for record in frames if record.reason})
    seen = f" (left out as: {', '.join(reasons)})" if reasons else ""
    return f"check with frames.csv why the photos were left out{seen}; take photos in enough light and run again"


def sentence(frames: Sequence[FrameRecord], line: Timeline, options: FilmOptions) -> str:
    """How long the film is and why: "336 photos, 224 by light: 9.3 s at 24 a second"."""
    photos, by_light = len(frames), sum(record.used for record in frames)
    start = f"{photos} photo{'s' if photos != 1 else ''}"
    if by_light != photos:
        start += f", {by_light} by light"
    if len(line.records) < by_light:
        start += f", {len(line.records)} of them shown"
    pictures = len(line.moments)
    why = f"{film_seconds(pictures, options.fps):.1f} s at {options.fps:g} a second"
    if options.seconds is not None:
        why += ", as asked"
    elif line.hold > 1:
        why += f", each photo for {line.hold} pictures"
    if line.nights_out:
        why += ", nights left out"
    for mark, said in (("held", "held where photos are missing"), ("night", "of the night"), ("blended", "blended")):
        count = line.marked(mark)
        if count:
            why += f", {count} picture{'s' if count != 1 else ''} {said}"
    return f"{start}: {why}"
