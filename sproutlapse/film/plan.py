"""All that is settled before the first photo is decoded: which pictures, moved how, at what light, standing where."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import ResultsError
from sproutlapse.film import caption, curve, lane, layout, levels, steady, timing, told
from sproutlapse.film.choice import wall_clock
from sproutlapse.film.closer import close_views, whole_view
from sproutlapse.film.lane import Lane, light_factors
from sproutlapse.film.layout import Bands, Layout
from sproutlapse.film.marks import Scale, scales
from sproutlapse.film.news import lines_needed
from sproutlapse.film.options import FilmOptions, Note
from sproutlapse.film.steady import Crop
from sproutlapse.film.timing import Moment, Timeline
from sproutlapse.film.to_scale import common_scales, not_to_scale, to_scale
from sproutlapse.film.told import Course, Happening, Told
from sproutlapse.film.words import MOST_NAMES, joined
from sproutlapse.results import FrameRecord

Floats = NDArray[np.float64]

# Where the light of a closer cut is measured: the whole view, this many pixels wide.
APART_PX = 640
# A closer cut with fewer pixels across than this looks small on any screen, which is said.
FEWEST_PX = 480
SCALE_REMEDY = "Growth stands in pixels (--curve); a printed mark or a known length in tray.toml gives a scale."


@dataclass(frozen=True)
class Side:
    """One tray, or one plant of it: its photos in time order, and its tables if they are known."""

    frames: Sequence[FrameRecord]
    told: Told | None = None
    plant: str | None = None


@dataclass(frozen=True)
class SidePlan:
    """One picture of the film.

    Attributes
    ----------
    line
        Which photo it shows in each film picture.
    lane
        How its pictures are made.
    views
        For each photo, (2, 3) from the reference's pixels to this picture's.
    courses, marks
        What is known of its plants, and their scales.
    """

    side: Side
    line: Timeline
    lane: Lane
    views: tuple[Floats, ...]
    courses: tuple[Course, ...] = ()
    marks: tuple[Scale, ...] = ()


@dataclass(frozen=True)
class Plan:
    """The whole film; `sides[lead]` is the one that gives the time."""

    sides: tuple[SidePlan, ...]
    lead: int
    place: Layout
    level: str
    notes: tuple[str, ...]

    @property
    def line(self) -> Timeline:
        """The film's time."""
        return self.sides[self.lead].line


def sides_of(
    frames: Sequence[FrameRecord], known: Told | None, beside: Sequence[Side], options: FilmOptions
) -> list[Side]:
    """What stands side by side: each tray, or of each tray the plants that are to be followed.

    Raises
    ------
    ResultsError
        If a plant is in none of the trays.
    """
    trays = [Side(frames, known), *beside]
    if not options.plants:
        return trays
    made = []
    for name in options.plants:
        holders = [tray for tray in trays if tray.told and any(p.name == name for p in tray.told.tray.plants)]
        if not holders:
            for tray in trays:
                if tray.told is not None:
                    told.plant_named(tray.told, name)
            raise ResultsError("without tables no plant can be followed", remedy="measure the photos first")
        made += [replace(tray, plant=name) for tray in holders]
    return made


def film_plan(sides: Sequence[Side], options: FilmOptions) -> Plan:
    """Settle time, crop, size and light of the film from the records and tables alone."""
    _must_be_able(sides, options)
    lead, lines = _lines(sides, options)
    bands = _bands(sides, options, lines[lead].span_h)
    below = bands.header + bands.curve + bands.caption + bands.strip
    framed = [_framed(side, line, options, below) for side, line in zip(sides, lines, strict=True)]
    shapes, place, notes = _composed(sides, lines, framed, options, bands)
    made = []
    for side, line, found, box in zip(sides, lines, framed, place.pictures, strict=True):
        notes += _notes(found[1])
        made.append(_side_plan(side, line, found, box, options))
    small = min(box[2] for box in place.pictures)
    if options.plants and small < FEWEST_PX and small <= min(width for width, _height in shapes):
        notes.append(f"The closer cut is {small} pixels wide: the photos hold no more there.")
    notes += _what_is_not_known(sides, sides[lead], options)
    level = levels.lowest_level(*place.size, options.fps) or "5.2"
    return Plan(tuple(made), lead, place, level, tuple(dict.fromkeys(notes)))


def _must_be_able(sides: Sequence[Side], options: FilmOptions) -> None:
    asked = [("--heights", options.heights), ("--outlines", options.outlines), ("--curve", options.curve)]
    for name, wanted in asked:
        if wanted and any(side.told is None for side in sides):
            raise ResultsError(f"{name} needs the tables of a run", remedy="measure the photos first")
    if options.heights and all(side.told is not None and side.told.from_above for side in sides):
        raise ResultsError(
            "a camera that looks down sees no heights", remedy="leave out --heights; --outlines and --curve show growth"
        )
    for side in sides:
        if side.plant is not None and side.told is not None:
            told.plant_named(side.told, side.plant)


def _bands(sides: Sequence[Side], options: FilmOptions, span_h: float) -> Bands:
    strip = 0.0
    if options.moments or options.notes:
        most = max(lines_needed(happenings_of(side, options.notes, alone=len(sides) == 1), span_h) for side in sides)
        strip = caption.STRIP + (most - 1) * caption.STRIP_MORE
    return Bands(
        header=caption.STRIP if len(sides) > 1 else 0.0,
        curve=curve.HIGH if options.curve else 0.0,
        caption=caption.BAND if options.caption else 0.0,
        strip=strip,
    )


def happenings_of(side: Side, notes: Sequence[Note], *, alone: bool) -> list[Happening]:
    """What happened in one picture of the film, its tray named where it does not stand alone."""
    if side.told is None:
        return []
    name = "" if alone or side.plant is not None else f"{side.told.name}: "
    return [replace(one, text=name + one.text) for one in told.happenings(side.told, notes, side.plant)]


def _lines(sides: Sequence[Side], options: FilmOptions) -> tuple[int, list[Timeline]]:
    """Each side's timeline; the one that lasts longest gives the time, the others follow it."""
    ups = [told.emerged_h(side.told, side.plant) if side.told is not None else None for side in sides]
    if len(sides) == 1:
        return 0, [timing.timeline(sides[0].frames, options, emerged_h=ups[0])]
    own = [timing.timeline(side.frames, options, emerged_h=up) for side, up in zip(sides, ups, strict=True)]
    spans = [line.records[-1].elapsed_h - line.records[0].elapsed_h for line in own]
    lead = int(np.argmax(spans))
    main = own[lead]
    if options.in_step == "age":
        ages = [up for up in ups if up is not None]
        if len(ages) < len(ups):
            raise ResultsError(
                "of one of them nothing has come up, so they cannot run in step by age",
                remedy="take --in-step date, or leave it out",
            )
        # Whole days, so that the hour of the day agrees.
        shifts = [24.0 * round((up - ages[lead]) / 24) for up in ages]
        main = replace(main, moments=tuple(_aged(moment, ages[lead]) for moment in main.moments))
    else:
        zero = _begin(sides[lead].frames)
        shifts = [(zero - _begin(side.frames)).total_seconds() / 3600 for side in sides]
    lines = [
        main if number == lead else following(main, side.frames, shift)
        for number, (side, shift) in enumerate(zip(sides, shifts, strict=True))
    ]
    return lead, lines


def _begin(frames: Sequence[FrameRecord]) -> datetime:
    """The wall clock at hour 0 of a tray's tables."""
    first = next(record for record in frames if record.used)
    return wall_clock(first) - timedelta(hours=first.elapsed_h)


def _aged(moment: Moment, up: float) -> Moment:
    age = int(np.floor((moment.hours - up) / 24))
    return replace(moment, day=f"Day {age}".replace("-", "−"), clock=timing.SINCE_UP)


def following(lead: Timeline, frames: Sequence[FrameRecord], shift_h: float) -> Timeline:
    """The photos of another tray in step with a timeline: at its hours plus `shift_h`; its first and last are held."""
    used = [record for record in frames if record.used]
    hours = np.array([record.elapsed_h for record in used])
    shots = [int(np.searchsorted(hours, m.hours + shift_h + 0.02, side="right")) - 1 for m in lead.moments]
    shots = [max(0, shot) for shot in shots]
    order = {shot: place for place, shot in enumerate(sorted(set(shots)))}
    moments = [
        replace(m, shot=order[shot], toward=0.0, hours=m.hours + shift_h)
        for m, shot in zip(lead.moments, shots, strict=True)
    ]
    return replace(lead, records=tuple(used[shot] for shot in order), moments=tuple(moments))


Framed = tuple[list[Floats], list[bool], list[Crop], Crop]


def _framed(side: Side, line: Timeline, options: FilmOptions, below: float) -> Framed:
    """How each photo is moved, whether it follows, which part of the reference it shows, and the common crop."""
    records = line.records
    sizes = [lane.size_of(record) for record in records]
    shape = lane.size_of(next(record for record in side.frames if record.used))
    matrices = _matrices(records) if options.steady else [steady.IDENTITY] * len(records)
    crop, follows = steady.steady_crop(sizes, matrices, shape)
    if side.plant is not None and side.told is not None:
        return matrices, follows, close_views(crop, side.told, side.plant, records, options), crop
    whole = whole_view(crop, side.told, records, options, below)
    return matrices, follows, [whole] * len(records), crop


def _composed(
    sides: Sequence[Side], lines: Sequence[Timeline], framed: list[Framed], options: FilmOptions, bands: Bands
) -> tuple[list[tuple[float, float]], Layout, list[str]]:
    """Sizes of the parts that are shown, source pixels, and where they stand: side by side on one scale.

    Closer cuts are framed anew for that, each as high in mm as the highest of them; `framed` is changed.
    """
    if len(sides) == 1:
        shapes = _smallest(framed)
        return shapes, layout.lay_out(shapes, bands, options), []
    trays = [(side.told, side.plant) for side in sides]
    scales = common_scales(trays)
    if scales is not None and any(side.plant is not None for side in sides):
        most = max(view.height * mm for (_m, _f, views, _c), mm in zip(framed, scales, strict=True) for view in views)
        for number, (side, line, mm) in enumerate(zip(sides, lines, scales, strict=True)):
            matrices, follows, _views, crop = framed[number]
            if side.told is not None and side.plant is not None:
                views = close_views(crop, side.told, side.plant, line.records, options, height=most / mm)
                framed[number] = (matrices, follows, views, crop)
    shapes = _smallest(framed)
    alike = None if scales is None else to_scale(shapes, scales)
    if alike is None:
        return shapes, layout.lay_out(shapes, bands, options), [not_to_scale(trays, scales)]
    return shapes, layout.lay_out(alike, bands, options, as_they_are=True), []


def _smallest(framed: Sequence[Framed]) -> list[tuple[float, float]]:
    return [min(((v.width, v.height) for v in views), key=lambda s: s[0]) for _m, _f, views, _c in framed]


def _matrices(records: Sequence[FrameRecord]) -> list[Floats]:
    """Each photo's move to the reference; a dark one moves as the last by light did."""
    made: list[Floats] = []
    first = next((r.to_reference for r in records if r.to_reference is not None), None)
    last = steady.IDENTITY if first is None else np.asarray(first, dtype=np.float64)
    for record in records:
        if record.to_reference is not None:
            last = steady.as_seen(np.asarray(record.to_reference, dtype=np.float64), record.size)
        made.append(steady.IDENTITY if record.used and record.to_reference is None else last)
    return made


def _side_plan(side: Side, line: Timeline, framed: Framed, box: layout.Box, options: FilmOptions) -> SidePlan:
    matrices, follows, shown, crop = framed
    size = (box[2], box[3])
    views = [steady.to_film(view, size) for view in shown]
    moves = [matrix if ok else steady.IDENTITY for matrix, ok in zip(matrices, follows, strict=True)]
    moved = tuple(steady.chained(view, move) for view, move in zip(views, moves, strict=True))
    whole = None
    if side.plant is not None:
        small = (APART_PX, max(16, round(APART_PX * crop.height / crop.width)))
        apart = steady.to_film(crop, small)
        whole = (tuple(steady.chained(apart, move) for move in moves), small)
    factors = light_factors(line.records) if options.even else np.ones((len(line.records), 3))
    own = Lane(
        records=line.records,
        matrices=moved,
        factors=factors,
        ceiling=max(1.0, float(factors.max())),
        size=size,
        even=options.even,
        whole=whole,
    )
    if side.told is None or not (options.heights or options.curve or options.end_card or options.then_and_now):
        return SidePlan(side, line, own, tuple(views))
    courses = tuple(told.courses(side.told))
    marks = tuple(scales(side.told, courses))
    if side.plant is not None:
        courses = tuple(course for course in courses if course.plant == side.plant)
        marks = tuple(mark for mark in marks if mark.course.plant == side.plant)
    return SidePlan(side, line, own, tuple(views), courses, marks)


def _notes(follows: Sequence[bool]) -> list[str]:
    other = len(follows) - sum(follows)
    if not other:
        return []
    show = "photos show" if other != 1 else "photo shows"
    return [f"{other} {show} another view (the camera was put elsewhere) and could not be steadied."]


def _what_is_not_known(sides: Sequence[Side], lead: Side, options: FilmOptions) -> list[str]:
    """What was asked for and cannot be drawn truly: millimetres without a scale, the age of what stood there before."""
    known = [(side.told, side.plant) for side in sides if side.told is not None]
    notes = []
    bare = list(dict.fromkeys(one.name for one, _plant in known if not one.from_above and told.unscaled(one)))
    if options.heights and bare:
        notes.append(f"No scale is known of {joined(bare)}, so --heights draws no millimetres there. {SCALE_REMEDY}")
    if options.then_and_now and lead.told is not None and told.unscaled(lead.told):
        notes.append(f"No scale is known of {lead.told.name}, so then-and-now bears no rule in mm. {SCALE_REMEDY}")
    if options.curve and lead.told is not None:
        unit = told.unit_of(lead.told)
        other = dict.fromkeys(one.name for one, _plant in known if told.unit_of(one) != unit and told.measured(one))
        if other:
            notes.append(f"The curve is in {unit}; measured otherwise and so not in it: {joined(list(other))}.")
    if len(sides) > 1 and options.in_step == "age":
        for one, plant in known:
            up = told.emerged_h(one, plant)
            stood = [name for name in told.stood_already(one, plant) if told.emerged_h(one, name) == up]
            if stood:
                who = joined(stood) if len(stood) <= MOST_NAMES else f"{len(stood)} plants"
                notes.append(f"{who} of {one.name} stood there when first seen: age is counted from then.")
    return notes
