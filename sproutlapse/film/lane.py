"""The pictures of one tray or plant: photos decoded small, moved into the film's picture, and evened in their light.

Photos are decoded a few ahead of the encoder by two threads, which also apply the light; only the light's measuring
goes in order. Memory does not grow with the film.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Generator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import PhotosError
from sproutlapse.film import light, steady
from sproutlapse.frames.decode import Damaged, decode, read_bytes
from sproutlapse.results import FrameRecord

Picture = NDArray[np.uint8]
Floats = NDArray[np.float64]
Even = NDArray[np.float32]

SHRINKS = (8, 4, 2, 1)
# Photos decoded ahead of the encoder: enough to keep it busy, and all the memory that the film takes.
AHEAD = 3
# A photo of the night, dark or lit by infrared, is brought to this mean of linear light: the night reads as night, and
# pots can just be told. Never raised by more than so many times, which would show nothing but noise.
NIGHT_LIGHT, NIGHT_MOST = 0.035, 8.0


@dataclass(frozen=True)
class Lane:
    """One tray's or plant's part of the film, settled before the first photo is decoded.

    Attributes
    ----------
    records
        The photos in film order.
    matrices
        (2, 3) for each photo, full-size pixels to the film's.
    factors
        (photos, 3) for linear light, one over the gains at the film's level.
    ceiling
        The most linear light that any photo reaches.
    size
        (width, height) of the picture.
    even
        Whether changes of light are undone.
    whole
        Matrices to a small picture of the whole view and its (width, height), where the light is measured when the
        film's own picture moves (a closer cut); None where it stands still.
    """

    records: tuple[FrameRecord, ...]
    matrices: tuple[Floats, ...]
    factors: Floats
    ceiling: float
    size: tuple[int, int]
    even: bool = True
    whole: tuple[tuple[Floats, ...], tuple[int, int]] | None = None


@dataclass(frozen=True)
class _Raw:
    picture: Picture
    cells: light.Cells | None
    moving: NDArray[np.bool_] | None
    to_cells: Floats | None


def light_factors(records: Sequence[FrameRecord]) -> Floats:
    """(n, 3) factors for linear light that bring each photo to the level of the middle one.

    The middle and not the first photo, so that a lamp too near on the first day does not darken the whole film.
    """
    known = [record.gains if record.gains is not None else (np.nan,) * 3 for record in records]
    gains = np.array(known, dtype=np.float64).reshape(len(records), 3)
    gains = np.where(np.isfinite(gains) & (gains > 0.01), gains, np.nan)
    if np.isnan(gains).all():
        return np.ones_like(gains)
    return np.nan_to_num(np.nanmedian(gains, axis=0) / gains, nan=1.0)


def pictures(lane: Lane) -> Generator[Even]:
    """The lane's pictures in order, steady and even, (height, width, 3) sRGB values of 0 to 255, not rounded."""
    still = light.StillLight()
    with ThreadPoolExecutor(max_workers=2) as pool:
        raw: deque[Future[_Raw]] = deque()
        ready: deque[Future[Even]] = deque()
        try:
            for number in range(len(lane.records)):
                raw.append(pool.submit(_raw, lane, number))
                if len(raw) > AHEAD - 1:
                    ready.append(_light_up(lane, number - len(raw) + 1, raw.popleft().result(), still, pool))
                if len(ready) > 1:
                    yield ready.popleft().result()
            while raw:
                ready.append(_light_up(lane, len(lane.records) - len(raw), raw.popleft().result(), still, pool))
                yield ready.popleft().result()
            while ready:
                yield ready.popleft().result()
        finally:
            for waiting in raw:
                waiting.cancel()
            for lit in ready:
                lit.cancel()


def _light_up(lane: Lane, number: int, raw: _Raw, still: light.StillLight, pool: ThreadPoolExecutor) -> Future[Even]:
    """Measure this photo's light against the film's, in order; the picture itself is lit by the threads."""
    if not lane.records[number].used:
        return pool.submit(_dimmed, raw.picture)
    if raw.cells is None or raw.moving is None:
        return pool.submit(lambda: raw.picture.astype(np.float32))
    found = still.correction(raw.cells, raw.moving, lane.factors[number], lane.ceiling)
    return pool.submit(light.lit, raw.picture, found, lane.ceiling, raw.to_cells)


def _dimmed(picture: Picture) -> Even:
    small = cv2.resize(picture, (64, 48), interpolation=cv2.INTER_AREA)
    mean = max(float(light.LINEAR[small].mean()), 1e-4)
    return light.lit(picture, light.Correction(np.full(3, min(NIGHT_LIGHT / mean, NIGHT_MOST))), 1.0)


def _raw(lane: Lane, number: int) -> _Raw:
    record, matrix = lane.records[number], lane.matrices[number]
    full = size_of(record)
    decoded = decoded_small(record, scale_of(matrix))
    picture = steady.into_crop(decoded, full, matrix, lane.size)
    if not (lane.even and record.used):
        return _Raw(picture, None, None, None)
    if lane.whole is None:
        seen, drawn, to_cells = picture, labels_in(record, matrix, lane.size), None
    else:
        apart, size = lane.whole
        seen = steady.into_crop(decoded, full, apart[number], size)
        drawn = labels_in(record, apart[number], size)
        back = np.asarray(cv2.invertAffineTransform(matrix), dtype=np.float64)
        to_cells = steady.chained(apart[number], back)
    cells = light.cells(seen)
    shape = (cells.spread.shape[0], cells.spread.shape[1])
    moving = np.zeros(shape, dtype=bool) if drawn is None else light.plant_cells(drawn, shape)
    if to_cells is not None:
        h, w = seen.shape[:2]
        to_cells = steady.chained(steady.scaling(shape[1] / w, shape[0] / h), to_cells)
    return _Raw(picture, cells, moving, to_cells)


def scale_of(matrix: Floats) -> float:
    """How many of the film's pixels one pixel of the photo becomes."""
    return float(np.sqrt(abs(np.linalg.det(matrix[:, :2]))))


def decoded_small(record: FrameRecord, scale: float) -> Picture:
    """One photo decoded as small as suffices.

    Raises
    ------
    PhotosError
        If it has gone, is damaged or has another size than when it was measured.
    """
    full = size_of(record)
    shrink = next(step for step in SHRINKS if step == 1 or scale * step <= 1.0)
    try:
        raw = decode(read_bytes(record.path), record.frame, shrink=shrink)
    except Damaged as trouble:
        raise PhotosError(
            f"the photo can no longer be read: {trouble}",
            where=str(record.path),
            remedy="put the photo back as it was, or run again so that it is left out",
        ) from trouble
    h, w = raw.shape[:2]
    if abs(w * shrink - full[0]) >= 2 * shrink or abs(h * shrink - full[1]) >= 2 * shrink:
        raise PhotosError(
            f"the photo was {full[0]} by {full[1]} pixels when it was measured and is {w * shrink} by {h * shrink} now",
            where=str(record.path),
            remedy="put the photo back as it was, or run again",
        )
    return raw


def labels_in(record: FrameRecord, matrix: Floats, size: tuple[int, int]) -> Picture | None:
    """The label picture (0 = no plant, 1..n in tray order) moved as the photo is, or None if there is none."""
    drawn = record.labels()
    return None if drawn is None else steady.into_crop(drawn, size_of(record), matrix, size)


def size_of(record: FrameRecord) -> tuple[int, int]:
    """(width, height) of a photo; a PhotosError if it was never learned."""
    if record.size is None:
        raise PhotosError("the size of the photo is not known", where=record.frame, remedy="measure the photos again")
    return record.size
