"""What all photos, also those left out, tell of the lamps: hours of light a day, and days with other hours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from sproutlapse.growth.light_hours import (
    LampPhoto,
    hours_in_words,
    lamp_hours_events,
    light_days,
    with_lamp_events,
    witness,
)
from sproutlapse.work.scan import Photo

LIGHT_COLUMNS = ("day", "photos", "light_photos", "light_least_h", "light_most_h")


@dataclass(frozen=True)
class LampHours:
    """A row per day with the columns of light.csv, the same in words, and the events table with the lamps' events."""

    days: pd.DataFrame
    told: str
    events: pd.DataFrame


def lamp_hours(photos: Sequence[Photo], why: Sequence[str], events: pd.DataFrame) -> LampHours:
    """Hours of light from when photos were light or dark.

    Parameters
    ----------
    photos, why
        All files in camera order and the reason of each that is left out.
    events
        The columns of events.csv.
    """
    seen: list[LampPhoto] = []
    lit: dict[str, bool | None] = {}
    for photo, reason in zip(photos, why, strict=True):
        frame, dated = photo.dated.frame, photo.dated
        first = lit.get(reason.partition("same picture as ")[2])
        lit[frame] = witness(reason, first_dark=first is False)
        if (light := lit[frame]) is not None:
            seen.append(LampPhoto(dated.taken.text, dated.corrected, light))
    seen.sort(key=lambda one: one.when)
    days = light_days(seen)
    rows = [(day.day.isoformat(), day.photos, day.lit_photos, day.least_h, day.most_h) for day in days]
    when = {photo.dated.taken.text: photo.dated.corrected for photo in photos}
    return LampHours(
        pd.DataFrame(rows, columns=list(LIGHT_COLUMNS)),
        hours_in_words(days),
        with_lamp_events(events, lamp_hours_events(seen), when),
    )
