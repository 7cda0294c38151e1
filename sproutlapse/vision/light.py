"""Exposure and white balance of a photo, read from the backdrop and other bright still surfaces."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.bands import Pieces, band_gain, pieces_of, row_bands
from sproutlapse.vision.colour import Floats, Mask

BLOCK_PX = 16  # side of the blocks whose medians are compared
BRIGHT_SHARE = 0.35  # of the brightest surfaces: dimmer ones say little of exposure
STRAY = 0.06  # blocks whose brightness strays from the fitted plane by more than this share are covered by something


Part = tuple[slice, slice]  # rows and columns


class NoLightError(ValueError):
    """No bright still surface is in view to read a photo's light from."""


@dataclass(frozen=True)
class Lighting:
    """How a photo is lit compared with the reference.

    Attributes
    ----------
    gains
        Red, green and blue light over the reference's, at the picture's centre.
    tilt
        (2,) change of the logarithm of brightness from left to right and from top to bottom of the picture.
    bands
        A dimmed lamp's wave over the rows, see `bands.row_bands`; empty where there is none.
    """

    gains: tuple[float, float, float]
    tilt: tuple[float, float]
    bands: tuple[float, ...] = ()

    def field(self, height: int, width: int, part: Part = (slice(None), slice(None))) -> Floats:
        """(height, width, 3) factors that take the reference's light to this photo's, or a part of them."""
        across = np.linspace(-0.5, 0.5, width, dtype=np.float32) * self.tilt[0]
        down = np.linspace(-0.5, 0.5, height, dtype=np.float32) * self.tilt[1]
        if self.bands:
            down = down + band_gain(self.bands, (np.arange(height) + 0.5) / height).astype(np.float32)
        shape = np.exp(across[part[1]])[None, :] * np.exp(down[part[0]])[:, None]
        return np.asarray(cv2.merge([shape * np.float32(gain) for gain in self.gains]), dtype=np.float32)

    def at(self, rows: NDArray[np.intp], columns: NDArray[np.intp], shape: tuple[int, ...]) -> Floats:
        """(n, 3) factors of `field` at n pixels of a picture of (height, width)."""
        height, width = shape[:2]
        log = (columns / max(width - 1, 1) - 0.5) * self.tilt[0] + (rows / max(height - 1, 1) - 0.5) * self.tilt[1]
        if self.bands:
            log = log + band_gain(self.bands, (rows + 0.5) / height)
        return np.asarray(np.exp(log)[:, None] * np.asarray(self.gains), dtype=np.float32)


def still_surfaces(bare: Floats, keep_out: Mask | None = None) -> Mask:
    """Bright, even parts of the bare stage, from which exposure is read.

    Parameters
    ----------
    bare
        (height, width, 3) linear light.
    keep_out
        (height, width) places not to use, or None.
    """
    grey = bare.mean(axis=-1)
    smooth = cv2.GaussianBlur(grey, (0, 0), 2.0)
    steep = np.hypot(cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)) / np.maximum(
        smooth, 1e-3
    )
    bright = smooth > BRIGHT_SHARE * float(np.percentile(smooth, 95))
    even = bright & (steep < 0.25) & (bare.max(axis=-1) < 0.98)
    if keep_out is not None:
        even &= ~keep_out
    return np.asarray(even)


def read_lighting(light: Floats, bare: Floats, surfaces: Mask, known: Blocks | None = None) -> Lighting:
    """Gains of a photo over the reference from block medians on still surfaces, with a gradient over the board.

    Blocks that something covers are left out: the plane is fitted again without what strays from it.

    Parameters
    ----------
    light, bare
        (height, width, 3) linear light of the photo and of the reference, aligned.
    surfaces
        (height, width) bool, see `still_surfaces`.
    known
        Their blocks, where they were summed up before.

    Raises
    ------
    NoLightError
        If no surface is left to read the light from.
    """
    known = known or blocks(bare, surfaces)
    ratios, places = _block_ratios(light, known)
    if len(ratios) < 4:
        raise NoLightError("no bright still surface in view to read the light from")
    log = np.log(np.maximum(ratios, 1e-4))
    lighting = _fitted(log, places)
    bands = row_bands(light, known.pieces, lighting.tilt)
    if not bands:
        return lighting
    # A block is as high as some bands: what counts is their mean over its rows.
    rows = (np.arange(BLOCK_PX) + 0.5) / BLOCK_PX - 0.5
    at = places[:, 1, None] + 0.5 + rows / max(1, surfaces.shape[0] // BLOCK_PX)
    waves = band_gain(bands, at.ravel()).reshape(at.shape).mean(axis=1)
    evened = _fitted(log - waves[:, None], places)
    return Lighting(evened.gains, evened.tilt, bands)


def _fitted(log: NDArray[np.float64], places: NDArray[np.float64]) -> Lighting:
    """Gains and gradient from the logarithm of the blocks' ratios and their places."""
    brightness = log.mean(axis=1)
    keep = np.abs(brightness - np.median(brightness)) < 4 * STRAY
    plane = np.zeros(3)
    base = np.column_stack([np.ones(len(places)), places])
    for _ in range(4):
        if keep.sum() < 12:
            plane = np.array([float(np.median(brightness)), 0.0, 0.0])
            break
        plane, *_rest = np.linalg.lstsq(base[keep], brightness[keep], rcond=None)
        keep = np.abs(brightness - base @ plane) < STRAY
    if keep.sum() < 4:
        keep = np.abs(brightness - np.median(brightness)) < 4 * STRAY
    flat = log - (base[:, 1:] @ plane[1:])[:, None]
    gains = np.exp(np.median(flat[keep], axis=0))
    return Lighting((float(gains[0]), float(gains[1]), float(gains[2])), (float(plane[1]), float(plane[2])))


@dataclass(frozen=True)
class Blocks:
    """Still surfaces summed up in blocks.

    Attributes
    ----------
    weight
        (height, width, 3) float32: 1 on still surfaces.
    bare
        (rows, columns, 3) their mean bare light, blocks that lie on them in part less.
    told
        (rows, columns) bool: blocks that lie on them.
    places
        (n, 2) where these are, across and down, -0.5..0.5.
    pieces
        The rows in pieces, see `bands`.
    """

    weight: Floats
    bare: Floats
    told: Mask
    places: NDArray[np.float64]
    pieces: Pieces


def blocks(bare: Floats, surfaces: Mask) -> Blocks:
    """The blocks of a bare stage (height, width, 3) on its still surfaces (height, width)."""
    height, width = surfaces.shape
    size = (max(1, width // BLOCK_PX), max(1, height // BLOCK_PX))
    weight = surfaces.astype(np.float32)
    told = cv2.resize(weight, size, interpolation=cv2.INTER_AREA) > 0.6
    wide = np.asarray(cv2.merge([weight] * 3), dtype=np.float32)
    mean = cv2.resize(bare * wide, size, interpolation=cv2.INTER_AREA)
    rows, columns = np.nonzero(told)
    places = np.column_stack([(columns + 0.5) / size[0] - 0.5, (rows + 0.5) / size[1] - 0.5])
    return Blocks(wide, np.asarray(mean, dtype=np.float32), np.asarray(told), places, pieces_of(bare, surfaces))


def _block_ratios(light: Floats, known: Blocks) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Mean light over mean bare light of each block that lies on still surfaces, and the blocks' places (-0.5..0.5)."""
    size = known.told.shape[1], known.told.shape[0]
    top = cv2.resize(light * known.weight, size, interpolation=cv2.INTER_AREA)
    ratios = top[known.told] / np.maximum(known.bare[known.told], 1e-6)
    return np.asarray(ratios, dtype=np.float64), known.places
