"""Bands that dimmed lamps leave across a photo: a wave in the board's brightness from row to row (or column to column).

A camera's sensor is read line by line; a lamp that flickers while it is read lights some lines more than others.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lombscargle

from sproutlapse.first.sight import Sight
from sproutlapse.first.verdict import Line, fine, mend

# Half the height of the wave over the mean light. Below it the gain of a photo hides it. Own proposal, no source.
MOST_SHARE = 0.012
# A wave counts from so many turns over the board on: fewer are the lamp's own slope and the lens's dark corners.
FEWEST_TURNS = 4.0
MOST_TURNS = 80.0
# Slopes and dark corners follow this smooth curve.
SMOOTH_DEGREE = 4
# The wave must explain so much of what the smooth curve leaves, or it is no wave.
WAVE_SHARE = 0.5
# Every single band has at least this share of the usual height.
ALL_ALONG_SHARE = 0.3
LEAST_LINES = 60
# Places that show the board in nearly as many lines as the best ones, and lines with so much of them, are read.
WHOLE_SHARE = 0.8
LINE_SHARE = 0.4
LEAST_PLACES = 24


def bands(sight: Sight) -> list[Line]:
    """Whether bands run over the board."""
    if sight.ground.mean() < 0.02:
        return []
    waves = [_wave(sight, axis) for axis in (1, 0)]
    height, turns = max(waves)
    if height > MOST_SHARE:
        says = f"about {turns:.0f} light and dark bands over the board, {2 * height:.1%} from light to dark"
        return [
            mend(
                "Bands",
                says.replace("%", " %") + f" (at most {2 * MOST_SHARE:.1%})".replace("%", " %"),
                "A dimmed lamp flickers: set it to full, or expose 1/50 s or longer (1/60 s where mains has 60 Hz).",
            )
        ]
    return [fine("Bands", "none over the board")]


def _wave(sight: Sight, axis: int) -> tuple[float, float]:
    """Half height (share of the light) and number of turns of the strongest wave along one side of the picture.

    `axis` is the one that is averaged over: 1 for a wave from row to row. A band runs over the whole line, so the wave
    must be there in the board's one half as in its other; a shadow is not.
    """
    lines, halves = _line_light(sight, axis)
    if len(lines) < LEAST_LINES:
        return 0.0, 0.0
    place = (lines - lines[0]) / (lines[-1] - lines[0])
    rests = [half - np.polynomial.Polynomial.fit(place, half, SMOOTH_DEGREE)(place) for half in halves]
    both = (rests[0] + rests[1]) / 2
    turns = np.arange(FEWEST_TURNS, min(len(lines) / 4, MOST_TURNS), 0.1)
    best = float(turns[int(lombscargle(place, both, 2 * np.pi * turns).argmax())])
    # Against the lines half a wave before and after, a wave stands out twofold all along; a bend of the light, which no
    # smooth curve follows, does so at one place only.
    near = [_against_half_a_wave(place, rest, best) for rest in rests]
    inner = (place > 0.5 / best) & (place < 1 - 0.5 / best)
    wave = np.exp(2j * np.pi * best * place)
    halves_say = [2 * complex(np.mean((part * wave)[inner])) for part in near]
    middle = sum(halves_say) / 2
    part = (near[0] + near[1]) / 2
    if abs(middle) ** 2 / 2 < WAVE_SHARE * float(np.var(part[inner])):
        return 0.0, best
    periods = np.floor((place - 0.5 / best) * best)[inner]
    each = [2 * np.mean((part * wave)[inner][periods == k]) for k in range(int(best) - 1)]
    if min((one * middle.conjugate()).real for one in each) < ALL_ALONG_SHARE * abs(middle) ** 2:
        return 0.0, best
    return float(np.sqrt(max(0.0, (halves_say[0] * halves_say[1].conjugate()).real))), best


def _against_half_a_wave(place: NDArray[np.float64], light: NDArray[np.float64], turns: float) -> NDArray[np.float64]:
    before, after = (np.interp(place + way * 0.5 / turns, place, light) for way in (-1, 1))
    return np.asarray(light / 2 - (before + after) / 4)


def _line_light(sight: Sight, axis: int) -> tuple[NDArray[np.float64], list[NDArray[np.float64]]]:
    """Which lines hold enough board, and the logarithm of its light there in the board's one half and its other.

    Each place is counted against its own mean over the lines, since not every line shows the same places. Only places
    count that show the board in most lines: beside a tray the table comes and goes.
    """
    light = np.log(np.maximum(sight.luminance, 1e-4)).astype(np.float64)
    ground = sight.ground
    if axis == 0:
        light, ground = light.T, ground.T
    share = ground.mean(axis=0)
    places = np.flatnonzero(share > WHOLE_SHARE * share.max())
    if len(places) < LEAST_PLACES:
        return np.empty(0), []
    light, ground = light[:, places], ground[:, places]
    half = len(places) // 2
    parts = slice(None, half), slice(half, None)
    keep = np.flatnonzero(np.min([ground[:, part].mean(axis=1) for part in parts], axis=0) > LINE_SHARE)
    masked = np.where(ground, light, np.nan)[keep]
    against = masked - _middle(masked, 0)[None, :]
    return keep.astype(np.float64), [_middle(against[:, part], 1) for part in parts]


def _middle(values: NDArray[np.float64], axis: int) -> NDArray[np.float64]:
    """Mean over what is finite; nan where nothing is."""
    known = np.isfinite(values)
    count = known.sum(axis=axis)
    total = np.where(known, values, 0.0).sum(axis=axis)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))
