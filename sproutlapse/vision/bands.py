"""Bands of a dimmed lamp: a wave of light over the rows of one photo, read against the reference and taken out.

A sensor is read row by row; a lamp that flickers meanwhile lights some rows more than others, every photo at another
phase. Board that shows beside the plants tells how much, the same in the picture's left half as in its right one.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.colour import Floats, Mask

Numbers = NDArray[np.float64]

# All own proposals, tried on rendered shelves and trays without bands, at every stage of growth (no band is found in
# any), and with bands of 2 to 20 % of the light from light to dark.
STRIP_PX = 8  # read of each piece of a row whose light is compared: every second one
ROWS_MOST = 1024  # of finer pictures not every row is read: bands are some dozen rows wide
STRAY = 0.2  # pieces that differ more than this from the rest of the light are covered by something
WHOLE_SHARE = 0.9  # of a piece that must be still surface
LEAST_PIECES = 5  # of board in each half of a row
LEAST_ROWS = 0.3  # share of the picture's rows that must tell
FEWEST_TURNS, MOST_TURNS = 3.0, 90.0  # over the rows that tell: fewer are the lamp's own slope or shade
LEAST_HEIGHT = 0.006  # half the height of the wave; less does not matter
WAVE_SHARE = 0.6  # of what moves in a half's rows the wave must explain so much, in both halves
SLOPE_DEGREE = 3  # shade and slope that are no wave
SPECTRUM = 1024  # places along the picture's height at which its rows are read for turns
HARMONICS = 2  # a lamp that is switched on and off gives no plain sine


def row_bands(light: Floats, stage: Pieces, tilt: tuple[float, float]) -> tuple[float, ...]:
    """The wave over the rows as (turns over the picture's height, cosine and sine share of each harmonic); empty where
    there is none.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the photo, aligned.
    stage
        What it is compared with, see `pieces_of`.
    tilt
        What is known of the photo's light over the reference's: see `light.Lighting`.
    """
    pieces = _pieces(light, stage, tilt)
    middle = pieces.shape[1] // 2
    halves = pieces[:, :middle], pieces[:, middle:]
    counts = [np.isfinite(half).sum(axis=1) for half in halves]
    known = np.flatnonzero(np.minimum(*counts) >= LEAST_PIECES)
    if len(known) < max(LEAST_ROWS * len(pieces), 8 * FEWEST_TURNS):
        return ()
    at = (known + 0.5) / len(pieces)
    lines = [_middle(half[known], count[known]) for half, count in zip(halves, counts, strict=True)]
    rests = [line - np.polynomial.Polynomial.fit(at, line, SLOPE_DEGREE)(at) for line in lines]
    # What the halves share is at least half the square of a wave's height: nearly every photo ends here.
    if float(np.mean(rests[0] * rests[1])) < LEAST_HEIGHT**2 / 3:
        return ()
    both = (rests[0] + rests[1]) / 2
    turns = _turns(at, both, FEWEST_TURNS / (at[-1] - at[0]), min(MOST_TURNS, len(pieces) / 8))
    wave = _waves(at, turns, 1)
    shares = [np.linalg.lstsq(wave, rest, rcond=None)[0] for rest in rests]
    left = [np.var(rest - wave @ share) / np.var(rest) for rest, share in zip(rests, shares, strict=True)]
    if float(shares[0] @ shares[1]) < LEAST_HEIGHT**2 or max(left) > 1 - WAVE_SHARE:
        return ()
    whole, *_ = np.linalg.lstsq(_waves(at, turns, HARMONICS), both, rcond=None)
    return (turns, *(float(v) for v in whole))


def band_gain(bands: tuple[float, ...], at: Numbers) -> Numbers:
    """Logarithm of the light that bands add at heights `at` (0 the picture's upper edge, 1 its lower one)."""
    if not bands:
        return np.zeros(len(at))
    return np.asarray(_waves(at, bands[0], (len(bands) - 1) // 2) @ np.array(bands[1:]))


@dataclass(frozen=True)
class Pieces:
    """The reference's rows in pieces: `weight` (rows, columns) of still surface, `every` how many of the picture's rows
    make one, `share` (rows, strips) of still surface in each and `bare` its green light times that."""

    weight: Floats
    every: int
    share: Floats
    bare: Floats


def pieces_of(bare: Floats, surfaces: Mask) -> Pieces:
    """The pieces of a bare stage (height, width, 3) on its `light.still_surfaces` (height, width)."""
    every = -(-surfaces.shape[0] // ROWS_MOST)
    weight = surfaces[::every, :: 2 * every].astype(np.float32)
    size = (max(2, weight.shape[1] // STRIP_PX), weight.shape[0])
    share, light = (
        cv2.resize(plane, size, interpolation=cv2.INTER_AREA) for plane in (weight, _green(bare, every) * weight)
    )
    return Pieces(weight, every, np.asarray(share, dtype=np.float32), np.asarray(light, dtype=np.float32))


def _green(light: Floats, every: int) -> Floats:
    return np.ascontiguousarray(light[::every, :: 2 * every, 1])


def _pieces(light: Floats, known: Pieces, tilt: tuple[float, float]) -> Numbers:
    """(rows, strips) logarithm of the photo's green light over what is expected; nan where no still surface shows."""
    share, bottom = known.share, known.bare
    size = share.shape[1], share.shape[0]
    top = cv2.resize(_green(light, known.every) * known.weight, size, interpolation=cv2.INTER_AREA)
    told = share > WHOLE_SHARE
    if not told.any():
        return np.full(share.shape, np.nan)
    ratio = np.full(share.shape, np.nan)
    ratio[told] = np.log(np.maximum(top[told], 1e-5) / np.maximum(bottom[told], 1e-5))
    across, down = ((np.arange(n) + 0.5) / n * slope for n, slope in zip(size, tilt, strict=True))
    ratio -= across[None, :] + down[:, None]
    # What counts is the change from row to row.
    ratio -= np.median(ratio[told])
    ratio[~(np.abs(ratio) < STRAY)] = np.nan
    return ratio


def _middle(values: Numbers, count: NDArray[np.int_]) -> Numbers:
    """The median of each row, of what is known there: the lower of two middle ones."""
    return np.asarray(np.sort(values, axis=1)[np.arange(len(values)), (count - 1) // 2])


def _turns(at: Numbers, rest: Numbers, fewest: float, most: float) -> float:
    """The number of turns over the picture's height that explains most of what is left."""
    # Rows that tell nothing count as level; with zeros behind, the spectrum is read at quarters of a turn.
    level = np.interp(np.arange(SPECTRUM) / SPECTRUM, at, rest, left=0.0, right=0.0)
    power = np.abs(np.fft.rfft(level, 4 * SPECTRUM))
    coarse = np.arange(len(power)) / 4
    power[(coarse < fewest) | (coarse > most)] = 0.0
    best = float(coarse[int(power.argmax())])
    return _strongest(at, rest, np.arange(max(fewest, best - 0.25), best + 0.25, 0.01))


def _strongest(at: Numbers, rest: Numbers, turns: Numbers) -> float:
    return float(turns[int(np.abs(np.exp(2j * np.pi * turns[:, None] * at) @ rest).argmax())])


def _waves(at: Numbers, turns: float, harmonics: int) -> Numbers:
    angle = 2 * np.pi * turns * at[:, None] * np.arange(1, harmonics + 1)
    return np.stack([np.cos(angle), np.sin(angle)], axis=-1).reshape(len(at), 2 * harmonics)
