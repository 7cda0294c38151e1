"""Leaves that turn yellower or paler than they were, against their plant's own past and the board's white.

A change is told once it is larger than what it may be off, and has lasted. What all plants share is the light's doing
and counts for none. A hue that goes from purple to green, as many crops do, is neither.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sproutlapse.figures import GIVE_OR_TAKE, amount
from sproutlapse.growth.curves import last_break
from sproutlapse.growth.cuts import Drop
from sproutlapse.growth.events import Event
from sproutlapse.growth.leaf_days import DAY_H, OTHER_LIGHT, LeafDays, leaf_days
from sproutlapse.growth.tracks import Floats, Track
from sproutlapse.tray import Judge

YELLOWER, PALER = "yellower", "paler"
# A leaf is green, and may turn yellow, between these hues with so much colour; rendered green leaves have 118 to 145
# degrees and 0.38 to 0.8, purple and red ones less than 75 degrees. Own proposals.
GREEN_HUE, GREEN_STRENGTH = (95.0, 165.0), 0.25
PAST_H = 10 * 24.0  # so far back a plant's own past is looked at: leaves age
OVER = 0.5  # of the change that is told: less, and it is over
SHARED = 0.5  # of a plant's change: if all others changed by as much, the light did
HUE, STRENGTH, TONE = range(3)


@dataclass(frozen=True)
class Fade:
    """A time of another colour: row since when, row at which it was said, row at which it was over (or None).

    Attributes
    ----------
    event
        `yellower` or `paler`.
    change, sd
        Degrees of hue towards yellow, or L of CIELAB; its standard deviation.
    than
        Row at whose end the day lies that it is compared with.
    """

    since: int
    known: int
    until: int | None
    event: str
    change: float
    sd: float
    than: int


@dataclass(frozen=True)
class _Change:
    """What changed at a row: the kind, by how much beyond what all share, its doubt, and the day compared with."""

    event: str
    amount: float
    sd: float
    than: int


def fades(tracks: Sequence[Track], drops: Sequence[Sequence[Drop]], judge: Judge) -> list[list[Fade]]:
    """Each plant's times of yellower or paler leaves, in the order of `tracks`.

    A run must last `colour_hours` and `colour_frames`; days without a colour neither make nor break it. Nothing is
    compared across a cut or a fall, nor between photos of another light.

    Parameters
    ----------
    tracks
        All plants, for a shift that all share is none.
    drops
        Cuts and falls of each.
    """
    days = leaf_days(tracks)
    if days is None:
        return [[] for _ in tracks]
    return [_of_plant(days, k, own, judge) for k, own in enumerate(drops)]


def fade_events(track: Track, found: Sequence[Fade]) -> list[Event]:
    """One event a time of another colour."""
    return [Event(track, f.since, f.known, f.event, fade_in_words(track, f)) for f in found]


def fade_in_words(track: Track, fade: Fade) -> str:
    """By how much, and than when."""
    day = f"{track.clock(fade.than):%d %B}".lstrip("0")
    if fade.event == YELLOWER:
        nearer = "nearer to yellow on the circle of colours"
        return f"leaves {amount(fade.change, 'degrees', fade.sd)}, {nearer} than on {day}"
    return f"leaves lighter by {amount(fade.change, 'of 100', fade.sd)}, and weaker in colour, than on {day}"


def _of_plant(days: LeafDays, k: int, drops: Sequence[Drop], judge: Judge) -> list[Fade]:
    found: list[Fade] = []
    run: list[int] = []
    may_be = _may_be(days, k, judge)
    for at in np.flatnonzero(np.isfinite(days.figures[HUE, k]) & np.isfinite(days.light).all(axis=1)):
        row = int(days.rows[at])
        if not may_be[at] and not (found and found[-1].until is None):
            run = []
            continue
        # Leaves that stay yellow are compared with the same days as when they turned, however long ago.
        still = bool(found) and found[-1].until is None
        back_from = days.hours[np.searchsorted(days.rows, found[-1].since)] if still else days.hours[at]
        first = last_break([drop for drop in drops if drop.known_row <= row])
        past = _past(days, k, int(at), first, float(back_from))
        if len(past) == 0:
            continue
        if found and found[-1].until is None:
            least = OVER * (judge.yellow_deg if found[-1].event == YELLOWER else judge.pale_l)
            now = _seen(days, k, int(at), past, OVER * judge.pale_share)
            if not any(one.event == found[-1].event and one.amount >= least for one in now):
                found[-1] = replace(found[-1], until=row)
            continue
        told = _told(_seen(days, k, int(at), past, judge.pale_share), judge)
        run = [*run, int(at)] if told is not None else []
        if told is None or len(run) < judge.colour_frames:
            continue
        if days.hours[at] - days.hours[run[0]] >= judge.colour_hours:
            found.append(Fade(int(days.rows[run[0]]), row, None, told.event, told.amount, told.sd, told.than))
            run = []
    return found


def _may_be(days: LeafDays, k: int, judge: Judge) -> NDArray[np.bool_]:
    """(n,) whether leaves differ by enough from any day before; most never do, and are looked at no closer."""
    hue, tone = days.figures[HUE, k], days.figures[TONE, k]
    with np.errstate(invalid="ignore"):
        yellow = np.fmax.accumulate(hue) - hue >= judge.yellow_deg
        return np.asarray(yellow | (tone - np.fmin.accumulate(tone) >= judge.pale_l))


def _past(days: LeafDays, k: int, at: int, first: int, back_from: float) -> NDArray[np.intp]:
    """Earlier days of plant k, under the same light, from row `first` on and not much before the
    hour `back_from`, that share no photo with that at `at`.

    Leaves take on their colour as they unfold: the first day on which it is told, and what overlaps it, is no past.
    """
    unfolded = int(np.argmax(np.isfinite(days.figures[HUE, k])))
    before = slice(0, int(days.start[at]))
    ok = np.isfinite(days.figures[HUE, k, before]) & (days.hours[before] >= back_from - PAST_H - DAY_H)
    ok &= (days.rows[np.maximum(days.start[before], 0)] >= first) & (days.start[before] > unfolded)
    with np.errstate(invalid="ignore"):
        ok &= (np.abs(days.light[before] - days.light[at]) <= math.log1p(OTHER_LIGHT)).all(axis=1)
    return np.flatnonzero(ok).astype(np.intp)


def _green(days: LeafDays, at: NDArray[np.intp]) -> NDArray[np.bool_]:
    """(p, len(at)) whether leaves are green."""
    hue, strength = days.figures[HUE][:, at], days.figures[STRENGTH][:, at]
    with np.errstate(invalid="ignore"):
        return np.asarray((hue >= GREEN_HUE[0]) & (hue <= GREEN_HUE[1]) & (strength >= GREEN_STRENGTH))


def _own(change: Floats, k: int) -> float:
    """The change of plant k beyond what all others changed by at least; 0 where most of it is shared by all."""
    others = np.delete(change, k)
    told = others[np.isfinite(others)]
    shared = max(0.0, float(told.min())) if len(told) else 0.0
    return float(change[k]) - shared if shared < SHARED * change[k] else 0.0


def _yellower(days: LeafDays, k: int, at: int, past: NDArray[np.intp]) -> _Change | None:
    green = _green(days, past)
    own = past[green[k]]
    if len(own) == 0:
        return None
    hue = days.figures[HUE]
    than = int(own[int(np.argmax(hue[k, own]))])
    change = np.where(_green(days, np.array([than]))[:, 0], hue[:, than] - hue[:, at], np.nan)
    sd = float(np.hypot(days.doubts[HUE, k, than], days.doubts[HUE, k, at]))
    return _Change(YELLOWER, _own(change, k), sd, int(days.rows[than]))


def _paler(days: LeafDays, k: int, at: int, past: NDArray[np.intp], least_share: float) -> _Change | None:
    tone, strength = days.figures[TONE], days.figures[STRENGTH]
    than = int(past[int(np.argmin(tone[k, past]))])
    change = tone[:, at] - tone[:, than]
    sd = float(np.hypot(days.doubts[TONE, k, than], days.doubts[TONE, k, at]))
    lost = float(strength[k, than] - strength[k, at])
    doubt = float(np.hypot(days.doubts[STRENGTH, k, than], days.doubts[STRENGTH, k, at]))
    if lost < max(least_share * strength[k, than], GIVE_OR_TAKE * doubt):
        return None
    return _Change(PALER, _own(change, k), sd, int(days.rows[than]))


def _seen(days: LeafDays, k: int, at: int, past: NDArray[np.intp], least_share: float) -> list[_Change]:
    """What changed about plant k at a row; it is paler only if this share of its strength of colour is gone."""
    found = _yellower(days, k, at, past), _paler(days, k, at, past, least_share)
    return [one for one in found if one is not None]


def _told(seen: Sequence[_Change], judge: Judge) -> _Change | None:
    """The first change that is large enough to be told, and larger than what it may be off."""
    least = {YELLOWER: judge.yellow_deg, PALER: judge.pale_l}
    return next((one for one in seen if one.amount >= max(least[one.event], GIVE_OR_TAKE * one.sd)), None)
