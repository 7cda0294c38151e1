"""Watering, seen by the soil: in most pots at once it turns darker and its light specks fade."""

from __future__ import annotations

import warnings
from collections.abc import Sequence

import numpy as np

from sproutlapse.growth.events import Event
from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.growth.turned import OTHER_SOIL

# Shares that a pot's soil loses from one photo to the next. On rendered shelves and trays watering took 0.10 to 0.36 of
# the roughness and 0.015 to 0.17 of the light, in pots of black, white and brown; other photos moved by at most 0.03
# and 0.01 at once. Blur takes roughness alone, and shadow light alone. Own proposals, no published values.
LESS_ROUGH, LESS_LIGHT = 0.06, 0.008
HOLDS = 0.4  # of the loss of roughness must still be there in the next photo: no hand, no shadow
LOOK_BACK = 3  # photos before, whose median is the level it fell from
MOST = 0.5  # more than this share of the pots that are seen


def watered_events(tracks: Sequence[Track]) -> list[Event]:
    """One `watered` event for the tray each time; known with the photo after it, in which the soil is still dark."""
    own = [track for track in tracks if len(track.soil_rough)]
    if not own:
        return []
    rough = np.log(np.maximum(np.stack([track.soil_rough for track in own]), 1e-3))
    light = np.log(np.maximum(np.stack([track.soil_light for track in own]), 1e-3))
    events: list[Event] = []
    last: int | None = None
    for row in range(1, rough.shape[1] - 1):
        start = max(0, row - LOOK_BACK if last is None else max(last, row - LOOK_BACK))
        if last is not None and row - last < 2:
            continue
        if not own[0].one_view(start, row + 1):
            continue
        wet = _wet(rough, start, row) & (_fall(light, start, row, row) >= -np.log(1 - LESS_LIGHT))
        seen = np.isfinite(_fall(rough, start, row, row)) & np.isfinite(rough[:, row + 1])
        seen &= ~_other_soil(own, start, row)
        if seen.any() and wet[seen].mean() > MOST and seen.sum() >= min(2, len(own)):
            pots = int(wet[seen].sum())
            days = "" if last is None else f", {_days(own[0], last, row)} after the last time"
            detail = f"the soil turned darker in {pots} of {int(seen.sum())} pots or cells{days}"
            events.append(Event(own[0], row, row + 1, "watered", detail, of_sowing=True))
            last = row
    return events


def _other_soil(tracks: Sequence[Track], start: int, row: int) -> np.typing.NDArray[np.bool_]:
    """Whether a pot was turned within these photos, so that other soil is seen."""
    out = []
    for track in tracks:
        other = track.soil_same < OTHER_SOIL
        out.append(bool(len(other) and (other[start : row + 2] != other[row]).any()))
    return np.array(out)


def _fall(log: Floats, start: int, row: int, to: int) -> Floats:
    """How far each pot's figure fell from the median of the photos before `row` to that at `to`; NaN if not seen."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # a pot that was never seen
        before = np.nanmedian(log[:, start:row], axis=1)
    return np.asarray(before - log[:, to], dtype=np.float64)


def _wet(rough: Floats, start: int, row: int) -> np.typing.NDArray[np.bool_]:
    now, then = _fall(rough, start, row, row), _fall(rough, start, row, row + 1)
    # Against the photo right before too: what faded slowly under leaves was not watered.
    step = rough[:, row - 1] - rough[:, row]
    least = -np.log(1 - LESS_ROUGH)
    return np.asarray((now >= least) & (step >= least) & (then >= HOLDS * now))


def _days(track: Track, since: int, row: int) -> str:
    days = float(track.elapsed_h[row] - track.elapsed_h[since]) / 24
    return f"{days:.1f} days"
