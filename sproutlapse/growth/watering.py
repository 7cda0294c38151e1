"""Watering, seen by the soil: in most pots at once it turns darker and its light specks fade."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from sproutlapse.growth.events import Event
from sproutlapse.growth.middles import known_medians
from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.growth.turned import OTHER_SOIL

Flags = NDArray[np.bool_]

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
    soils = {back: _soil(rough, light, back) for back in range(1, LOOK_BACK + 1)}
    events: list[Event] = []
    last: int | None = None
    for row in range(1, rough.shape[1] - 1):
        start = max(0, row - LOOK_BACK if last is None else max(last, row - LOOK_BACK))
        if last is not None and row - last < 2:
            continue
        soil = soils[row - start]
        if not soil.some_wet[row] or not own[0].one_view(start, row + 1):
            continue
        wet = soil.wet[:, row]
        seen = soil.seen[:, row] & ~_other_soil(own, start, row)
        if seen.any() and wet[seen].mean() > MOST and seen.sum() >= min(2, len(own)):
            pots = int(wet[seen].sum())
            days = "" if last is None else f", {_days(own[0], last, row)} after the last time"
            detail = f"the soil turned darker in {pots} of {int(seen.sum())} pots or cells{days}"
            events.append(Event(own[0], row, row + 1, "watered", detail, of_sowing=True))
            last = row
    return events


def _other_soil(tracks: Sequence[Track], start: int, row: int) -> Flags:
    """Whether a pot was turned within these photos, so that other soil is seen."""
    out = []
    for track in tracks:
        other = track.soil_same < OTHER_SOIL
        out.append(bool(len(other) and (other[start : row + 2] != other[row]).any()))
    return np.array(out)


@dataclass(frozen=True)
class _Soil:
    """Of p pots in n photos, each against the same number of photos before it.

    Attributes
    ----------
    wet, seen
        (p, n) whether its soil turned darker there and stayed so, and whether it is seen at all.
    some_wet
        (n,) whether that of any pot did.
    """

    wet: Flags
    seen: Flags
    some_wet: list[bool]


def _soil(rough: Floats, light: Floats, back: int) -> _Soil:
    """What all photos tell at once, each against the median of `back` photos before it."""
    before = _before(rough, back)
    fell, paler = before - rough, _before(light, back) - light
    then = np.full_like(rough, np.nan)
    then[:, :-1] = before[:, :-1] - rough[:, 1:]
    # Against the photo right before too: what faded slowly under leaves was not watered.
    step = np.full_like(rough, np.nan)
    step[:, 1:] = rough[:, :-1] - rough[:, 1:]
    least = -np.log(1 - LESS_ROUGH)
    wet = (fell >= least) & (step >= least) & (then >= HOLDS * fell) & (paler >= -np.log(1 - LESS_LIGHT))
    seen = np.isfinite(fell)
    seen[:, :-1] &= np.isfinite(rough[:, 1:])
    return _Soil(wet, seen, wet.any(axis=0).tolist())


def _before(log: Floats, back: int) -> Floats:
    """(p, n) the median of so many photos before each; NaN where there are fewer, or nothing is seen in them."""
    out = np.full_like(log, np.nan)
    if log.shape[1] > back:
        out[:, back:] = known_medians(sliding_window_view(log, back, axis=1)[:, :-1])
    return out


def _days(track: Track, since: int, row: int) -> str:
    days = float(track.elapsed_h[row] - track.elapsed_h[since]) / 24
    return f"{days:.1f} days"
