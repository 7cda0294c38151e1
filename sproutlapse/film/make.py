"""The growth film: photos and what the measuring knows of them go in, one MP4 comes out. Nothing is measured again."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import PhotosError
from sproutlapse.film import caption, levels, light, steady, timing
from sproutlapse.film.encode import film_file
from sproutlapse.film.options import FilmOptions, FilmSummary
from sproutlapse.frames.decode import Damaged, decode, read_bytes
from sproutlapse.results import FrameRecord

Picture = NDArray[np.uint8]
SHRINKS = (8, 4, 2, 1)
# Photos decoded ahead of the encoder: enough to keep it busy, and all the memory that the film takes.
AHEAD = 3
AS_USUAL = FilmOptions()


@dataclass(frozen=True)
class Plan:
    """All that is settled before the first photo is decoded.

    Attributes
    ----------
    shots
        The photos in film order.
    matrices
        (2, 3) for each shot, full-size pixels to the film's.
    factors
        (shots, 3) for linear light, one over the gains at the film's level.
    ceiling
        The most linear light that any photo reaches.
    size
        (width, height) of the picture.
    band
        Height of the caption's band below it, pixels.
    """

    shots: tuple[timing.Shot, ...]
    matrices: tuple[NDArray[np.float64], ...]
    factors: NDArray[np.float64]
    ceiling: float
    size: tuple[int, int]
    band: int
    notes: tuple[str, ...]

    @property
    def pictures(self) -> int:
        """How many pictures the film has."""
        return sum(shot.repeats for shot in self.shots)

    def first_pictures(self) -> list[int]:
        """For each shot the number of the first film picture that shows it."""
        starts = np.cumsum([0, *(shot.repeats for shot in self.shots)])
        return [int(start) for start in starts[:-1]]


def make_film(
    frames: Sequence[FrameRecord],
    out: Path,
    *,
    options: FilmOptions = AS_USUAL,
    progress: Callable[[int, int], None] | None = None,
) -> FilmSummary:
    """Write the growth film of a tray.

    Parameters
    ----------
    frames
        All photos in time order with what the measuring learned of them; only those used are shown.
    out
        The MP4 file; its folder exists.
    options
        How the film is to be.
    progress
        Called with (photos done, photos in all).

    Returns
    -------
    FilmSummary

    Raises
    ------
    PhotosError
        If no photo can be shown, or one has gone or changed since it was measured.
    ResultsError
        If the film cannot be written; an earlier film then stays.
    """
    plan = film_plan(frames, options)
    width, height = plan.size[0], plan.size[1] + plan.band
    level = levels.lowest_level(width, height, options.fps) or "5.2"
    pictures = sum(shot.repeats for shot in plan.shots)
    band = caption.Band(width, plan.band)

    def words(shot: timing.Shot) -> NDArray[np.float32]:
        return band.drawn(shot.day, shot.moment, shot.progress).astype(np.float32)

    with film_file(out, size=(width, height), rate=timing.exact_rate(options.fps), level=level) as film:
        for done, (shot, picture) in enumerate(zip(plan.shots, even_pictures(plan, options), strict=True), start=1):
            film.add(np.vstack([picture, words(shot)]) if plan.band else picture, shot.repeats)
            if progress is not None:
                progress(done, len(plan.shots))
    shown = sum(record.used for record in frames)
    return FilmSummary(
        path=out,
        frames=pictures,
        seconds=timing.film_seconds(pictures, options.fps),
        width=width,
        height=height,
        sentence=timing.sentence(len(frames), shown, pictures, options),
        notes=plan.notes,
    )


def film_plan(frames: Sequence[FrameRecord], options: FilmOptions) -> Plan:
    """Settle shots, crop, size and light of the film from the records alone."""
    shots = timing.shots(frames, options)
    records = [shot.record for shot in shots]
    sizes = [_size(record) for record in records]
    shape = _size(next(record for record in frames if record.used))
    matrices = [_matrix(record) if options.steady else steady.IDENTITY for record in records]
    crop, follows = steady.steady_crop(sizes, matrices, shape)
    width, picture, height = levels.film_size(
        crop.width,
        crop.height,
        fps=options.fps,
        height_px=options.height_px,
        band=caption.BAND if options.caption else 0.0,
    )
    into = steady.to_film(crop, (width, picture))
    moved = [
        steady.chained(into, matrix if ok else steady.IDENTITY) for matrix, ok in zip(matrices, follows, strict=True)
    ]
    factors = light_factors(records) if options.even else np.ones((len(records), 3))
    return Plan(
        shots=tuple(shots),
        matrices=tuple(moved),
        factors=factors,
        ceiling=max(1.0, float(factors.max())),
        size=(width, picture),
        band=height - picture,
        notes=_notes(follows),
    )


def light_factors(records: Sequence[FrameRecord]) -> NDArray[np.float64]:
    """(n, 3) factors for linear light that bring each photo to the level of the middle one.

    The middle and not the first photo, so that a lamp too near on the first day does not darken the whole film.
    """
    gains = np.array([record.gains if record.gains is not None else (1.0, 1.0, 1.0) for record in records])
    gains = np.where(np.isfinite(gains) & (gains > 0.01), gains, 1.0)
    return np.asarray(np.median(gains, axis=0) / gains)


def even_pictures(plan: Plan, options: FilmOptions) -> Iterator[NDArray[np.float32]]:
    """The pictures of the film in order, steady and even, decoded a few ahead; memory does not grow with the film."""
    still = light.StillLight()
    for (raw, labels), factors in zip(_decoded_ahead(plan), plan.factors, strict=True):
        if not options.even:
            yield raw.astype(np.float32)
            continue
        now = light.cells(raw)
        shape = now.spread.shape
        moving = np.zeros(shape, dtype=bool) if labels is None else light.plant_cells(labels, (shape[0], shape[1]))
        yield light.lit(raw, still.correction(now, moving, factors), plan.ceiling)


def _decoded_ahead(plan: Plan) -> Iterator[tuple[Picture, Picture | None]]:
    with ThreadPoolExecutor(max_workers=2) as pool:
        waiting: deque[Future[tuple[Picture, Picture | None]]] = deque()
        try:
            for shot, matrix in zip(plan.shots, plan.matrices, strict=True):
                waiting.append(pool.submit(steady_picture, shot.record, matrix, plan.size))
                if len(waiting) > AHEAD:
                    yield waiting.popleft().result()
            while waiting:
                yield waiting.popleft().result()
        finally:
            for future in waiting:
                future.cancel()


def steady_picture(
    record: FrameRecord, matrix: NDArray[np.float64], size: tuple[int, int]
) -> tuple[Picture, Picture | None]:
    """One photo and its label picture (or None), decoded as small as suffices and moved into the film's picture."""
    full = _size(record)
    scale = float(np.sqrt(abs(np.linalg.det(matrix[:, :2]))))
    shrink = next(step for step in SHRINKS if step == 1 or scale * step <= 1.0)
    try:
        raw = decode(read_bytes(record.path), record.frame, shrink=shrink)
    except Damaged as trouble:
        raise PhotosError(
            f"the photo can no longer be read: {trouble}",
            where=str(record.path),
            remedy="put the photo back as it was, or run again so that it is left out",
        ) from trouble
    _check_shape(record, raw, full, shrink)
    labels = None
    if record.labels_png is not None:
        drawn = cv2.imdecode(np.frombuffer(record.labels_png, np.uint8), cv2.IMREAD_UNCHANGED)
        if drawn is not None and drawn.ndim == 2:
            labels = steady.into_crop((drawn > 0).astype(np.uint8), full, matrix, size)
    return steady.into_crop(raw, full, matrix, size), labels


def _check_shape(record: FrameRecord, raw: Picture, full: tuple[int, int], shrink: int) -> None:
    h, w = raw.shape[:2]
    if abs(w * shrink - full[0]) >= 2 * shrink or abs(h * shrink - full[1]) >= 2 * shrink:
        raise PhotosError(
            f"the photo was {full[0]} by {full[1]} pixels when it was measured and is {w * shrink} by {h * shrink} now",
            where=str(record.path),
            remedy="put the photo back as it was, or run again",
        )


def _size(record: FrameRecord) -> tuple[int, int]:
    if record.size is None:
        raise PhotosError("the size of the photo is not known", where=record.frame, remedy="measure the photos again")
    return record.size


def _matrix(record: FrameRecord) -> NDArray[np.float64]:
    return steady.IDENTITY if record.to_reference is None else np.asarray(record.to_reference, dtype=np.float64)


def _notes(follows: Sequence[bool]) -> tuple[str, ...]:
    other = len(follows) - sum(follows)
    if not other:
        return ()
    show = "photos show" if other != 1 else "photo shows"
    return (f"{other} {show} another view (the camera was put elsewhere) and could not be steadied.",)
