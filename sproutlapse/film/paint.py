"""One film picture put together: the trays' pictures with what is drawn on them, and the bands around them."""

from __future__ import annotations

from collections.abc import Hashable, Sequence

import numpy as np
from numpy.typing import NDArray

from sproutlapse.film import caption, lane, marks, timing, told
from sproutlapse.film.curve import Curve
from sproutlapse.film.look import GROUND
from sproutlapse.film.news import News
from sproutlapse.film.options import FilmOptions
from sproutlapse.film.plan import Plan, SidePlan, happenings_of
from sproutlapse.film.timing import MONTHS, Moment, Timeline
from sproutlapse.film.told import Happening

Floats = NDArray[np.float64]
Even = NDArray[np.float32]


class Painter:
    """Paints the pictures of a planned film. `painted` may run in several threads at once."""

    def __init__(self, plan: Plan, options: FilmOptions) -> None:
        self._plan, self._options = plan, options
        moments = plan.line.moments
        self._hours = np.array([moment.hours for moment in moments])
        self._progress = np.array([number / max(1, len(moments) - 1) for number in range(len(moments))])
        self.happenings = self._happened()
        self._news = News(self.happenings, self._hours, plan.line.span_h, options.fps)
        self._covered = [_covered(side.line) for side in plan.sides]
        self._ticks = [float(np.interp(one.hours, self._hours, self._progress)) for one in self.happenings]
        lead = plan.sides[plan.lead]
        self._curve = None
        if options.curve and lead.side.told is not None:
            unit = told.unit_of(lead.side.told)
            size = (plan.place.curve[2], plan.place.curve[3])
            self._curve = Curve(size, self._all_courses(unit), self._hours, self._progress, unit)

    def _all_courses(self, unit: str) -> list[told.Course]:
        """The courses of all sides that are in this unit, in the leading side's time, numbered on."""
        made: list[told.Course] = []
        # Plants of one tray keep their colours; of several trays each tray has one.
        several = len({id(side.side.frames) for side in self._plan.sides}) > 1
        for number, side in enumerate(self._plan.sides):
            if side.side.told is None or told.unit_of(side.side.told) != unit:
                continue
            shift = side.line.moments[0].hours - self._plan.line.moments[0].hours
            for course in side.courses:
                place = number if several else course.number
                hours = course.hours - shift
                made.append(told.Course(course.plant, place, hours, course.value, course.sd))
        return made

    def _happened(self) -> list[Happening]:
        found: list[Happening] = []
        alone = len(self._plan.sides) == 1
        for number, side in enumerate(self._plan.sides):
            shift = side.line.moments[0].hours - self._plan.line.moments[0].hours
            notes = self._options.notes if number == self._plan.lead else ()
            of_side = happenings_of(side.side, notes, alone=alone)
            found += [Happening(one.hours - shift, one.text) for one in of_side]
        low, high = float(self._hours[0]), float(self._hours[-1])
        inside = [one for one in found if low - 1e-6 <= one.hours <= high + 1e-6]
        return sorted(dict.fromkeys(inside), key=lambda one: one.hours)

    def key(self, number: int) -> tuple[Hashable, ...]:
        """What, besides the photos, makes this picture differ from another."""
        moment = self._plan.line.moments[number]
        told_now = self._news.at(number) if self._plan.place.strip[3] else None
        drawn = self._options.heights or self._options.outlines
        asides = tuple(self._asides(number))
        return (moment.day, moment.clock, moment.mark, moment.progress, told_now, asides, drawn and moment.toward)

    def painted(self, number: int, pictures: Sequence[Even]) -> Even:
        """The film picture of this number, (height, width, 3) float32, from the sides' own pictures."""
        place, moment = self._plan.place, self._plan.line.moments[number]
        canvas = np.empty((place.size[1], place.size[0], 3), np.float32)
        if len(pictures) > 1 or place.size != (place.pictures[0][2], self._filled()):
            canvas[:] = GROUND
        for side, picture, box in zip(self._plan.sides, pictures, place.pictures, strict=True):
            left, top, width, height = box
            part = canvas[top : top + height, left : left + width]
            part[:] = picture
            self._draw_on(part, side, side.line.moments[number])
        if place.header[3]:
            widths, gap = [box[2] for box in place.pictures], 0
            if len(widths) > 1 and place.pictures[1][0] > place.pictures[0][0]:
                gap = place.pictures[1][0] - place.pictures[0][0] - widths[0]
            else:
                widths = [place.header[2]]
            names, asides = self._names(), self._asides(number)
            if len(widths) != len(names):
                names, asides = [" / ".join(n + a for n, a in zip(names, asides, strict=True))], [""]
            _put(canvas, place.header, caption.header(widths, gap, place.header[3], names, asides))
        if place.curve[3] and self._curve is not None:
            _put(canvas, place.curve, self._curve.drawn(moment.progress))
        if place.caption[3]:
            band = caption.Band(place.caption[2], place.caption[3])
            ticks = self._ticks if place.strip[3] else ()
            since = self._options.day_words if moment.clock != timing.SINCE_UP else ""
            drawn = band.drawn(moment.day, moment.clock, moment.progress, moment.mark, ticks, since=since)
            _put(canvas, place.caption, drawn)
        if place.strip[3]:
            _put(canvas, place.strip, caption.strip(place.strip[2], place.strip[3], *self._news.at(number)))
        return canvas

    def _filled(self) -> int:
        place = self._plan.place
        return sum(box[3] for box in (place.pictures[0], place.header, place.curve, place.caption, place.strip))

    def _names(self) -> list[str]:
        names = []
        trays = {side.side.told.name for side in self._plan.sides if side.side.told is not None}
        for side in self._plan.sides:
            tray = side.side.told.name if side.side.told is not None else ""
            plant = f"plant {side.side.plant}" if side.side.plant is not None else ""
            names.append(", ".join(word for word in (tray if len(trays) > 1 or not plant else "", plant) if word))
        return names

    def _asides(self, number: int) -> list[str]:
        """Of each picture, that its photos ended or have not begun, while the film's days run on without it."""
        asides = []
        for there in self._covered:
            if there is None:
                asides.append(", of another time")
            elif number > there[1]:
                asides.append(f", until {self._day(there[3])}")
            else:
                asides.append(f", from {self._day(there[2])}" if number < there[0] else "")
        return asides

    def _day(self, number: int) -> str:
        return self._plan.line.moments[number].day.replace("Day", "day")

    def _draw_on(self, part: Even, side: SidePlan, moment: Moment) -> None:
        known, options = side.side.told, self._options
        if known is None or not (options.heights or options.outlines):
            return
        wide = self._plan.place.size[0]
        shot = moment.shot + (1 if moment.toward > 0.5 else 0)
        view = side.views[shot]
        record = side.line.records[shot]
        if options.outlines:
            drawn = lane.labels_in(record, side.lane.matrices[shot], side.lane.size)
            marks.draw_outlines(part, drawn, known.tray.plants, wide)
        if options.heights:
            hours = moment.hours if moment.toward > 0 else record.elapsed_h
            marks.draw_scales(part, side.marks, view, hours, wide)
        if options.outlines or options.heights:
            marks.draw_names(part, known, view, wide, only=side.side.plant)

    def title_lines(self) -> list[str]:
        """What stands below the title: how many plants, from when to when."""
        trays = {id(side.side.frames): side.side for side in self._plan.sides}
        plants = sum(len(side.told.tray.plants) for side in trays.values() if side.told is not None)
        lead = self._plan.line.records
        dates = f"{_date(lead[0].time)} to {_date(lead[-1].time)}"
        chosen = [side.side.plant for side in self._plan.sides if side.side.plant is not None]
        count = len(chosen) or plants
        return [f"{count} plant{'s' if count != 1 else ''}", dates] if count else [dates]

    def end_lines(self) -> list[str]:
        """What stands on the end card."""
        days = float(self._hours[-1] - self._hours[0]) / 24
        known = self._plan.sides[self._plan.lead].side.told
        return [f"{days:.0f} days"] if known is None else told.ending(known, days, float(self._hours[-1]))


def _covered(line: Timeline) -> tuple[int, int, int, int] | None:
    """The first and the last film picture for whose time there are photos, and those of its first and last photo."""
    hours = np.array([record.elapsed_h for record in line.records])
    slack = timing.GAP * max(line.span_h, timing.usual_step(np.diff(hours)))
    own = np.array([moment.hours for moment in line.moments])
    there = np.flatnonzero((own > hours[0] - slack) & (own < hours[-1] + slack))
    if not there.size:
        return None
    begins, ends = (int(there[np.argmin(np.abs(own[there] - hour))]) for hour in (hours[0], hours[-1]))
    return int(there[0]), int(there[-1]), begins, ends


def _date(time: str) -> str:
    year, month, day = time[:10].split("-")
    return f"{int(day)} {MONTHS[int(month) - 1]} {year}"


def _put(canvas: Even, box: tuple[int, int, int, int], picture: NDArray[np.uint8]) -> None:
    left, top = box[0], box[1]
    canvas[top : top + picture.shape[0], left : left + picture.shape[1]] = picture
