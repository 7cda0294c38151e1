"""Hours of light a day, and days when the lamps kept other hours: from whether each photo was light or dark.

A photo tells of its own moment. Between a light photo and a dark one the lamp was switched at a time that nobody saw,
and a long gap tells nothing: hours of light are therefore given as least and most, never as one number.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from statistics import median

import pandas as pd

from sproutlapse.growth.events import COLUMNS

HOUR = timedelta(hours=1)
# Between two photos so far apart a lamp may go off and on again unseen. Own proposal.
GAP = timedelta(hours=3)
# A day's hours are told where least and most are no farther apart. Own proposal.
TOLD_WITHIN_H = 4.0
# What is usual at an hour: the same on so many of the last days as are known, and known on at least so many. A photo
# within this of the hour tells it where photos stand farther apart than GAP. Own proposals.
USUAL_DAYS, USUAL_LEAST = 3, 2
# An hour counts as night only if it was light on none of so many days: a lamp that broke comes back by day.
NIGHT_DAYS = 14
SAME_HOUR = timedelta(minutes=45)
# A day's light is told where three quarters of its photos lie within this share of their middle. Own proposal: lamps
# keep theirs to a few per cent, and cameras write exposures in steps of a third of a stop at most, 26 %.
AGREE_SHARE = 0.2
# A lamp keeps other hours once so many photos in a row, over so long, say so: lamps are switched by hand for a moment
# when people water or look. Own proposals.
LEAST_PHOTOS, LEAST_TIME = 2, HOUR

Span = tuple[datetime, datetime, bool | None]  # from, to, and whether it was light: None where nobody knows


@dataclass(frozen=True)
class LampPhoto:
    """One photo as a witness of the lamps.

    Attributes
    ----------
    time
        The time that tables show.
    when
        The camera's wall clock, corrected where it was set back.
    lit
        Whether it was light.
    light
        Light on the board in any unit that stays the same, from its brightness in the picture and the camera's
        exposure; None where it is not known.
    """

    time: str
    when: datetime
    lit: bool
    light: float | None = None


@dataclass(frozen=True)
class LightDay:
    """Hours of light of one day of the camera's clock, and the photos that tell of it.

    `relative` is the light while it was light over that of the first day on which it is known; None where it is not.
    """

    day: date
    photos: int
    lit_photos: int
    least_h: float
    most_h: float
    relative: float | None = None

    @property
    def told(self) -> bool:
        """Whether the photos stand close enough to tell the day's hours."""
        return self.most_h - self.least_h <= TOLD_WITHIN_H


@dataclass(frozen=True)
class LampEvent:
    """Other hours of the lamps than on the days before: since which photo, and the photo that settled it."""

    first: LampPhoto
    known: LampPhoto
    event: str
    detail: str


def witness(reason: str, first_dark: bool | None = None) -> bool | None:
    """Whether it was light, from the reason for which a photo was left out; None where the photo does not tell.

    `first_dark` says of a duplicate whether the first of its kind was dark: a black picture looks like any other.
    """
    if reason.startswith(("dark", "night picture")):
        return False
    if reason.startswith("duplicate"):
        return False if first_dark else None
    return None if reason.startswith("damaged") else True


def light_days(photos: Sequence[LampPhoto]) -> list[LightDay]:
    """Least and most hours of light of each day with photos, in order. `photos` stand in order of their `when`."""
    if not photos:
        return []
    start = datetime.combine(photos[0].when.date(), time())
    end = datetime.combine(photos[-1].when.date(), time()) + timedelta(days=1)
    least: dict[date, float] = {}
    most: dict[date, float] = {}
    spans: list[Span] = [(start, photos[0].when, None), *_spans(photos), (photos[-1].when, end, None)]
    for begin, until, lit in spans:
        for day, hours in _by_day(begin, until):
            least[day] = least.get(day, 0.0) + (hours if lit else 0.0)
            most[day] = most.get(day, 0.0) + (0.0 if lit is False else hours)
    days = sorted({photo.when.date() for photo in photos})
    own = {day: [photo for photo in photos if photo.when.date() == day] for day in days}
    light = {day: _light_of(own[day]) for day in days}
    first = next((value for value in light.values() if value), None)
    return [
        LightDay(
            day=d,
            photos=len(own[d]),
            lit_photos=sum(p.lit for p in own[d]),
            least_h=round(least[d], 3),
            most_h=round(min(most[d], 24.0), 3),
            relative=None if first is None or not (here := light[d]) else round(here / first, 4),
        )
        for d in days
    ]


def _light_of(photos: Sequence[LampPhoto]) -> float | None:
    """The usual light of a day; None where too few photos tell it, or where they do not agree, as when a camera maps
    tones by itself or the sun shines in."""
    values = [photo.light for photo in photos if photo.light]
    if len(values) < LEAST_PHOTOS or len(values) < len([photo for photo in photos if photo.lit]) / 2:
        return None
    middle = median(values)
    stray = sum(abs(value / middle - 1) > AGREE_SHARE for value in values)
    return None if stray > len(values) / 4 else middle


def _spans(photos: Sequence[LampPhoto]) -> list[Span]:
    """Each gap between two photos: light, dark, or not known."""
    spans: list[Span] = []
    for a, b in pairwise(photos):
        known = a.lit == b.lit and b.when - a.when <= GAP
        spans.append((a.when, b.when, a.lit if known else None))
    return spans


def _by_day(begin: datetime, until: datetime) -> list[tuple[date, float]]:
    """A span's hours in each day that it touches."""
    out = []
    while begin < until:
        midnight = datetime.combine(begin.date() + timedelta(days=1), time())
        end = min(until, midnight)
        out.append((begin.date(), (end - begin) / HOUR))
        begin = end
    return out


def hours_in_words(days: Sequence[LightDay]) -> str:
    """The hours of light of the days that photos tell, as a sentence; empty where they tell none."""
    told = [day for day in days if day.told]
    if not told:
        return ""
    low, high = min(day.least_h for day in told), max(day.most_h for day in told)
    of = f"on the {len(told)} days" if len(told) > 1 else "on the one day"
    if all(day.lit_photos == day.photos for day in told):
        return f"The lamps were on day and night {of} on which photos stand close enough to tell."
    middle = sorted((day.least_h + day.most_h) / 2 for day in told)[len(told) // 2]
    if len(told) > 1:
        spread = f"usually about {middle:.0f} hours a day, between {low:.1f} and {high:.1f} hours"
    else:
        spread = f"between {low:.1f} and {high:.1f} hours"
    return f"Light: {spread}, {of} on which photos stand close enough to tell."


def lamp_hours_events(photos: Sequence[LampPhoto]) -> list[LampEvent]:
    """Days on which the lamps kept other hours than on the days before, each said by photos up to then.

    `lamp did not come on` and `lamp went off` are said while it lasts, `lamp on all night` and `lamp on at night` once
    it is over. `photos` stand in order of their `when`.
    """
    watch = _Watch()
    for photo in photos:
        watch.see(photo)
    return watch.events


@dataclass
class _Watch:
    """What the photos so far say of the lamps' hours."""

    seen: list[LampPhoto] = field(default_factory=list)
    times: list[datetime] = field(default_factory=list)  # of these
    usual: list[bool] = field(default_factory=list)  # whether each photo says what is usual
    spell: list[int] = field(default_factory=list)  # photos in a row that say otherwise
    said: bool = False
    events: list[LampEvent] = field(default_factory=list)

    def see(self, photo: LampPhoto) -> None:
        expected = self._usual_at(photo.when)
        otherwise = expected is not None and expected != photo.lit
        if self.spell and (photo.lit != self.seen[self.spell[0]].lit or expected == photo.lit):
            self._over(photo)
        self.seen.append(photo)
        self.times.append(photo.when)
        self.usual.append(True)
        if otherwise or self.spell:
            self.spell.append(len(self.seen) - 1)
            self._lasts()

    def _usual_at(self, when: datetime) -> bool | None:
        states = [self._state_at(when - timedelta(days=back)) for back in range(1, USUAL_DAYS + 1)]
        known = [state for state in states if state is not None]
        if len(known) < USUAL_LEAST or len(set(known)) != 1:
            return None
        nights = range(USUAL_DAYS + 1, NIGHT_DAYS + 1)
        if not known[0] and any(self._state_at(when - timedelta(days=back)) for back in nights):
            return None
        return known[0]

    def _state_at(self, when: datetime) -> bool | None:
        """Whether it was light at a moment that photos stand around; None where they do not tell, or where the lamps
        kept unusual hours."""
        after, before = bisect_left(self.times, when), bisect_right(self.times, when) - 1
        if before < 0 or after >= len(self.seen):
            return None
        a, b = self.seen[before], self.seen[after]
        if b.when - a.when > GAP:
            before = after = min((before, after), key=lambda k: abs(self.seen[k].when - when))
            if abs(self.seen[before].when - when) > SAME_HOUR:
                return None
        told = self.usual[before] and self.usual[after] and self.seen[before].lit == self.seen[after].lit
        return self.seen[before].lit if told else None

    def _enough(self) -> bool:
        first, last = self.seen[self.spell[0]], self.seen[self.spell[-1]]
        return len(self.spell) >= LEAST_PHOTOS and last.when - first.when >= LEAST_TIME

    def _lasts(self) -> None:
        """A lamp that stays off is said at once."""
        first = self.seen[self.spell[0]]
        if not self._enough():
            return
        for k in self.spell:
            self.usual[k] = False
        if first.lit or self.said:
            return
        self.said = True
        went = self.spell[0] > 0 and self.seen[self.spell[0] - 1].lit
        name = "lamp went off" if went else "lamp did not come on"
        until = self.seen[self.spell[-1]]
        detail = f"dark from {first.when:%H:%M} to {until.when:%H:%M} at least, when it was light on the days before"
        self.events.append(LampEvent(first, until, name, detail))

    def _over(self, photo: LampPhoto) -> None:
        """A lamp that was on at night is said once the night is over."""
        first, last = self.seen[self.spell[0]], self.seen[self.spell[-1]]
        if first.lit and self._enough():
            before = self.spell[0] > 0 and self.seen[self.spell[0] - 1].lit
            name = "lamp on all night" if before and photo.lit else "lamp on at night"
            detail = f"light from {first.when:%H:%M} to {last.when:%H:%M}, when it was dark on the days before"
            self.events.append(LampEvent(first, photo, name, detail))
        self.spell, self.said = [], False


def with_lamp_events(events: pd.DataFrame, told: Sequence[LampEvent], when: Mapping[str, datetime]) -> pd.DataFrame:
    """The events table with the lamps' events set in where they could be said; what it holds keeps its order.

    Parameters
    ----------
    events
        The columns of events.csv, in order of `known`.
    when
        The corrected wall clock of each time that `known` may hold.
    """
    if not told:
        return events
    waiting = sorted(told, key=lambda one: (one.known.when, one.first.when))
    rows: list[tuple[str, ...]] = []

    def set_in(before: datetime | None) -> None:
        while waiting and (before is None or waiting[0].known.when < before):
            one = waiting.pop(0)
            rows.append((one.first.time, one.known.time, "", one.event, one.detail))

    for row in events[COLUMNS].itertuples(index=False, name=None):
        set_in(when.get(str(row[1]), datetime.min))
        rows.append(row)
    set_in(None)
    return pd.DataFrame(rows, columns=COLUMNS)
