"""The camera order of a folder: times and file names go in, order, clock corrections and messages come out.

Frames are in camera time. Where the time falls while the file's number rises by one, the clock was set back: the time
stays as written, and a shift in seconds corrects it and every later frame; likewise where it leaps to another year, and
where a clock is set right again. What is said of the first n frames never
depends on later ones.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise
from statistics import median

from sproutlapse.frames.find import natural_order, number_of
from sproutlapse.frames.moment import Taken, taken

__all__ = ["Dated", "Taken", "duration_text", "gaps", "in_order", "taken"]

# Sources of a time that no camera's clock told, so none can have been set otherwise.
NOT_A_CLOCK = ("name", "film")
# A gap is a step longer than this many usual intervals.
GAP_FACTOR = 1.5
# A fall of time is taken for a clock set back only while falls stay this much rarer than rises: where the numbers
# do not follow the time at all, half of the steps fall.
RISES_PER_FALL = 3
# Four digits, then the camera begins again (DCF 2.0, 3.2.3: file numbers 0001 to 9999).
LAST_NUMBER = 9999
# Nobody leaves a tray for so long between two photos whose numbers follow one another: the clock shows another year.
LEAP_S = 180 * 86400.0
# A clock that was set back by as much or more, and then goes ahead by just as much, was set right again. Smaller ones
# may be a gap as well.
SET_RIGHT_S = 12 * 3600.0
# Cameras without sub-seconds count whole ones, so a fall below this is none.
SAME_MOMENT_S = 1.0
# A correction this near to an hour looks like daylight saving.
HOUR_S, NEAR_HOUR_S = 3600.0, 300.0


@dataclass(frozen=True)
class Dated:
    """One frame in camera order; `shift_s` seconds are to be added to its time because the clock was set otherwise."""

    frame: str
    taken: Taken
    shift_s: float

    @property
    def corrected(self) -> datetime:
        """The wall clock as it would read had it never been set otherwise."""
        return self.taken.when + timedelta(seconds=self.shift_s)


@dataclass
class _Clock:
    """What the frames so far tell of the camera's clock."""

    shift_s: float = 0.0
    last_s: float = 0.0  # the part of it that came last
    steps_s: list[float] = field(default_factory=list)
    rises: int = 0
    falls: int = 0

    def usual_s(self) -> float:
        return median(self.steps_s) if self.steps_s else 0.0

    def believable(self) -> bool:
        return self.falls * RISES_PER_FALL <= self.rises

    def set_by(self, seconds: float) -> None:
        self.shift_s += seconds
        self.last_s = seconds

    def set_right(self, step: float) -> bool:
        """Whether a step ahead undoes what the clock was last set back by."""
        rest = step - self.usual_s() - self.last_s
        return self.last_s >= SET_RIGHT_S and abs(rest) <= self.usual_s() / 2


def in_order(items: Sequence[tuple[str, Taken]]) -> tuple[list[Dated], list[str]]:
    """Frames in camera order, and what a person should know about their times.

    Parameters
    ----------
    items
        Frame (path relative to the photo folder) and its time, in any order.

    Returns
    -------
    The frames by corrected time, ties in natural order of their path; and messages in plain words.
    """
    series = _as_numbered(items)
    dated, messages = _corrected(series)
    dated.sort(key=lambda one: (one.corrected, natural_order(one.frame)))
    return dated, messages + _about_equal_times(dated) + _about_sources(dated)


def gaps(dated: Sequence[Dated]) -> tuple[float, list[tuple[str, str, float]]]:
    """The usual interval, and the steps longer than 1.5 times it.

    Parameters
    ----------
    dated
        Frames in camera order.

    Returns
    -------
    Usual interval in seconds (the median of the steps between different times; 0 with fewer than two), and for each
    gap the frame before it, the frame after it and its length in seconds.
    """
    steps = [(a.frame, b.frame, (b.corrected - a.corrected).total_seconds()) for a, b in pairwise(dated)]
    lengths = [length for *_, length in steps if length > 0]
    if not lengths:
        return 0.0, []
    usual = float(median(lengths))
    return usual, [step for step in steps if step[2] > GAP_FACTOR * usual]


def _as_numbered(items: Iterable[tuple[str, Taken]]) -> list[tuple[str, Taken]]:
    """Natural order, but where numbers ran over within a folder, 0001 comes after 9999."""
    natural = sorted(items, key=lambda item: natural_order(item[0]))
    families: dict[str, list[tuple[str, Taken]]] = {}
    for item in natural:
        families.setdefault(_family(item[0]), []).append(item)
    return [item for family in families.values() for item in _from_first(family)]


def _family(frame: str) -> str:
    """Folder and the name's text before the number: the photos of one camera in one folder."""
    folder, _, name = frame.rpartition("/")
    return f"{folder}/{re.sub(r'[0-9]+$', '', name.rsplit('.', 1)[0]).casefold()}"


def _from_first(family: list[tuple[str, Taken]]) -> list[tuple[str, Taken]]:
    numbers = [number_of(frame) for frame, _ in family]
    known = [number for number in numbers if number is not None]
    if len(known) < len(numbers) or len(known) < 2 or max(known) > LAST_NUMBER:
        return family
    cut = max(range(1, len(known)), key=lambda k: known[k] - known[k - 1])
    ran_over = known[-1] > LAST_NUMBER - 100 and known[0] < 100 and known[cut] - known[cut - 1] > LAST_NUMBER // 10
    return family[cut:] + family[:cut] if ran_over else family


def _corrected(series: Sequence[tuple[str, Taken]]) -> tuple[list[Dated], list[str]]:
    clock, out, messages = _Clock(), [], []
    # The last frame of each source: times of different sources cannot be set against each other.
    last: dict[str, tuple[int, str, Taken]] = {}
    for place, (frame, time) in enumerate(series):
        before = last.get(time.source)
        if before is not None and time.source not in NOT_A_CLOCK:
            step = (time.when - before[2].when).total_seconds()
            follows = _follows(series, before[0], place)
            pair = (before[1:], (frame, time))
            if step <= -SAME_MOMENT_S and follows and clock.believable():
                added = max(clock.usual_s() - step, 0.0)
                right = clock.last_s < 0 and abs(clock.last_s + added) <= clock.usual_s() / 2
                messages.append(_about_right(*pair) if right else _about_fall(*pair, added, clock.usual_s()))
                clock.set_by(added)
                clock.falls += 1
            elif step <= -SAME_MOMENT_S:
                clock.falls += 1
            elif step == 0 and follows and _offset_s(before[2]) > _offset_s(time):
                # The hour that comes twice, photographed hourly: only the offset tells it from one moment.
                added = _offset_s(before[2]) - _offset_s(time)
                messages.append(_about_fall(*pair, added, added))
                clock.shift_s += added
            elif follows and clock.set_right(step):
                messages.append(_about_right(*pair))
                clock.set_by(-clock.last_s)
            elif follows and step >= LEAP_S:
                added = clock.usual_s() - step
                messages.append(_about_leap(*pair, clock.usual_s()))
                clock.set_by(added)
            elif step > 0:
                clock.rises += 1
                clock.steps_s.append(step)
        last[time.source] = (place, frame, time)
        out.append(Dated(frame, time, clock.shift_s if time.source not in NOT_A_CLOCK else 0.0))
    return out, messages


def _follows(series: Sequence[tuple[str, Taken]], first: int, second: int) -> bool:
    """Whether the number rises by one from each frame to the next between two places of the series."""
    frames = [frame for frame, _ in series[first : second + 1]]
    return all(_rises_by_one(a, b) for a, b in pairwise(frames))


def _rises_by_one(before: str, after: str) -> bool:
    a, b = number_of(before), number_of(after)
    same_name = _family(before).rpartition("/")[2] == _family(after).rpartition("/")[2]
    return a is not None and b is not None and same_name and b == a + 1


def _offset_s(time: Taken) -> float:
    if not time.offset:
        return 0.0
    hours, minutes = time.offset[1:].split(":")
    return (int(hours) * 3600 + int(minutes) * 60) * (-1.0 if time.offset.startswith("-") else 1.0)


def duration_text(seconds: float) -> str:
    """A length of time as a person says it: `45 s`, `10 min`, `1 h 5 min`, `3 days 2 h`."""
    whole = round(abs(seconds))
    if whole < 60:
        return f"{whole} s"
    minutes = round(whole / 60)
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    days, hours = divmod(round(whole / 3600), 24)
    return f"{days} days {hours} h" if hours else f"{days} days"


def _about_right(before: tuple[str, Taken], after: tuple[str, Taken]) -> str:
    return (
        f"the camera's clock was set right again at {after[0]}: it shows {after[1].text} after {before[1].text} in "
        f"{before[0]}. Times stay as written; durations go on as if it had never been wrong."
    )


def _about_leap(before: tuple[str, Taken], after: tuple[str, Taken], usual: float) -> str:
    step = f"the usual {duration_text(usual)}" if usual > 0 else "no time (there is no earlier step to go by)"
    return (
        f"the camera's clock leaps to another year at {after[0]}: it shows {after[1].text} after {before[1].text} in "
        f"{before[0]}, though the photos' numbers follow one another. Times stay as written; for durations {step} "
        "is taken between these two photos, and all later ones are moved alike. What to do: set the camera's date, and "
        "check it after each change of battery."
    )


def _about_fall(before: tuple[str, Taken], after: tuple[str, Taken], added: float, usual: float) -> str:
    one_hour = abs(added - HOUR_S) <= NEAR_HOUR_S
    why = "as when daylight saving ends" if one_hour else "as after a change of battery"
    step = f"the usual {duration_text(usual)}" if usual > 0 else "no time (there is no earlier step to go by)"
    return (
        f"the camera's clock was set back by about {duration_text(added)} at {after[0]} ({why}): it shows "
        f"{after[1].text} after {before[1].text} in {before[0]}. Times stay as written; for durations {step} is taken "
        f"between these two photos, and all later ones are moved alike. What to do: set the camera's clock once, leave "
        f"it on winter time, and check it after each change of battery."
    )


def _about_equal_times(dated: Sequence[Dated]) -> list[str]:
    same = [(a.frame, b.frame) for a, b in pairwise(dated) if a.corrected == b.corrected]
    if not same:
        return []
    shown = ", ".join(f"{a} and {b}" for a, b in same[:3]) + (" ..." if len(same) > 3 else "")
    return [
        f"{len(same)} photo{'s carry' if len(same) > 1 else ' carries'} the same time as the one before: {shown}. They "
        f"are taken in the order of their names, and a copy of another photo counts once. What to do: if a clock was "
        f"changed, set it right."
    ]


def _about_sources(dated: Sequence[Dated]) -> list[str]:
    named = [one.frame for one in dated if one.taken.source == "name"]
    filed = [one.frame for one in dated if one.taken.source == "file"]
    messages = []
    if named:
        messages.append(f"{_photos(named)} no time inside; the date in the file's name was taken.")
    if filed:
        messages.append(
            f"{_photos(filed)} no time inside and none in the name; the file's own time was taken, read as UTC. "
            f"Copying or editing changes that time. What to do: use the files as the camera wrote them."
        )
    return messages


def _photos(frames: Sequence[str]) -> str:
    if len(frames) == 1:
        return f"{frames[0]} carries"
    return f"{len(frames)} photos ({frames[0]} to {frames[-1]}) carry"
