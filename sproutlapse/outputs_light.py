"""What all photos, also those left out, tell of the lamps: hours of light a day, and days with other hours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from sproutlapse.frames.audit import Look
from sproutlapse.growth.light_hours import (
    LampPhoto,
    hours_in_words,
    lamp_hours_events,
    light_days,
    with_lamp_events,
    witness,
)
from sproutlapse.growth.light_sum import daily_light, daily_light_in_words
from sproutlapse.tray import Tray
from sproutlapse.work.scan import Photo

LIGHT_COLUMNS = (
    "day", "photos", "light_photos", "light_least_h", "light_most_h", "relative_light", "light_least_mol_m2",
    "light_most_mol_m2",
)  # fmt: skip
CLIPPED = 0.9  # a board brighter than this share of white may have lost some of its light


@dataclass(frozen=True)
class LampHours:
    """A row per day with the columns of light.csv, the same in words, and the events table with the lamps' events."""

    days: pd.DataFrame
    told: str
    events: pd.DataFrame


def lamp_hours(
    photos: Sequence[Photo], why: Sequence[str], events: pd.DataFrame, looks: Mapping[str, Look | None], tray: Tray
) -> LampHours:
    """Hours of light from when photos were light or dark.

    Parameters
    ----------
    photos, why
        All files in camera order and the reason of each that is left out.
    events
        The columns of events.csv.
    looks
        By digest.
    tray
        With its lamps.
    """
    seen: list[LampPhoto] = []
    lit: dict[str, bool | None] = {}
    for photo, reason in zip(photos, why, strict=True):
        frame, dated = photo.dated.frame, photo.dated
        first = lit.get(reason.partition("same picture as ")[2])
        lit[frame] = witness(reason, first_dark=first is False)
        if (light := lit[frame]) is not None:
            seen.append(LampPhoto(dated.taken.text, dated.corrected, light, _light(looks.get(photo.digest), reason)))
    seen.sort(key=lambda one: one.when)
    days = light_days(seen)
    sums = daily_light(days, tray)
    rows = [
        (d.day.isoformat(), d.photos, d.lit_photos, d.least_h, d.most_h, d.relative)
        + ((None, None) if band is None else (round(band.least, 3), round(band.most, 3)))
        for d, band in zip(days, sums, strict=True)
    ]
    when = {photo.dated.taken.text: photo.dated.corrected for photo in photos}
    return LampHours(
        pd.DataFrame(rows, columns=list(LIGHT_COLUMNS)),
        " ".join(part for part in (hours_in_words(days), daily_light_in_words(sums)) if part),
        with_lamp_events(events, lamp_hours_events(seen), when),
    )


def _light(look: Look | None, reason: str) -> float | None:
    """Light on what is white in a photo that counts, from its brightness there and the camera's exposure."""
    if reason or look is None or look.brightness_value is None or look.white > CLIPPED:
        return None
    return float(look.white * 2**look.brightness_value)
