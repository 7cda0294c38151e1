"""Where the film looks: the whole tray, a part of it that suits a shape, or one plant that is followed closely."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sproutlapse.film import lane, steady
from sproutlapse.film.layout import RATIOS, crop_toward
from sproutlapse.film.options import FilmOptions
from sproutlapse.film.steady import Crop
from sproutlapse.film.told import Told, plant_named
from sproutlapse.results import FrameRecord

Floats = NDArray[np.float64]

# Photos whose outlines are looked at to place the camera; between them it glides.
LOOKED_AT = 90
# The glide is smoothed over this share of the film.
SMOOTH = 0.06
# Of the closer picture's height: how much lies above the soil, and how much of that the plant may fill.
ABOVE_SOIL, FILLED = 0.78, 0.84
# Air beside a plant, as a share of its width.
BESIDE = 1.25
# The camera starts at this share of its widest view, but never with fewer source pixels than this across.
NEAREST, LEAST_PX = 0.62, 720.0
# Around all plants, what a shape must not cut off: this share of the crop's height below the soil line and beside them.
POT, AIR = 0.12, 0.03


def whole_view(
    crop: Crop, told: Told | None, records: Sequence[FrameRecord], options: FilmOptions, share: float
) -> Crop:
    """The part of the crop that the film shows: all of it, or what suits the shape without cutting off a plant.

    Parameters
    ----------
    share
        What the bands take of the film, as a share of its width.
    """
    ratio = RATIOS.get(options.shape)
    if ratio is None or told is None or not told.tray.plants:
        return crop
    boxes = _extents(records, len(told.tray.plants))
    spans = [box for own in boxes for box in own if box is not None]
    soil = [plant.soil_y_px for plant in told.tray.plants if plant.soil_y_px is not None]
    places = np.array([plant.box_px for plant in told.tray.plants], dtype=np.float64)
    left, right = places[:, 0].min(), places[:, 2].max()
    top, bottom = (places[:, 1].min(), places[:, 3].max()) if not soil else (max(soil), max(soil))
    if spans:
        seen = np.array(spans)
        left, right = min(left, seen[:, 0].min()), max(right, seen[:, 2].max())
        top, bottom = min(top, seen[:, 1].min()), max(bottom, seen[:, 3].max())
    if soil:
        bottom += POT * crop.height
    air = AIR * crop.height
    keep = (left - air, top - air, right - left + 2 * air, bottom - top + 2 * air)
    return Crop(*crop_toward(crop, keep, ratio, share))


def close_views(
    crop: Crop,
    told: Told,
    plant: str,
    records: Sequence[FrameRecord],
    options: FilmOptions,
    *,
    height: float | None = None,
) -> list[Crop]:
    """For each photo the part of the reference that follows one plant; all of one shape, none beyond the crop.

    The camera glides: its place is smoothed over the film, and it only ever widens. With `height`, in pixels, it keeps
    that height from first to last, as beside another plant, where both have to be of one scale.
    """
    number, place = plant_named(told, plant)
    ratio = RATIOS.get(options.shape, 1.0)
    left, top, right, bottom = (float(v) for v in place.box_px)
    boxes = _extents(records, len(told.tray.plants))
    own = [boxes_of[number] for boxes_of in boxes]
    looked = _looked_at(len(records))
    soil = place.soil_y_px
    middle, tall, wide = _course(own, (left + right) / 2, soil if soil is not None else bottom)
    if soil is None:
        wide = np.maximum(wide, right - left)
        middle_y = (top + bottom) / 2
        most = max(float(wide.max()) * BESIDE / min(ratio, 1.0), (bottom - top) * BESIDE)
        heights = np.full(len(looked), most)
    else:
        middle_y = float("nan")
        need = np.maximum(tall / (ABOVE_SOIL * FILLED), wide * BESIDE / ratio)
        most = max(float(need.max()), 0.9 * (right - left) / ratio)
        nearest = min(most, max(NEAREST * most, LEAST_PX / ratio))
        heights = np.clip(np.maximum.accumulate(need), nearest, most)
    if height is not None:
        heights = np.full(len(looked), height)
    most_fits = min(crop.height, crop.width / ratio)
    at = np.arange(len(records))
    heights = np.minimum(np.interp(at, looked, _smooth(heights)), most_fits)
    xs = np.interp(at, looked, _smooth(middle))
    made = []
    for x, tall_now in zip(xs, heights, strict=True):
        y = middle_y - tall_now / 2 if soil is None else soil - ABOVE_SOIL * tall_now
        width = tall_now * ratio
        across = min(max(x - width / 2, crop.left), crop.left + crop.width - width)
        down = min(max(y, crop.top), crop.top + crop.height - tall_now)
        made.append(Crop(across, down, width, tall_now))
    return made


def _course(
    boxes: Sequence[tuple[float, float, float, float] | None], middle: float, soil: float
) -> tuple[Floats, Floats, Floats]:
    """Middle, height above the soil and width of a plant over the film; before it is up, as at its place."""
    xs = np.array([middle if box is None else (box[0] + box[2]) / 2 for box in boxes])
    tall = np.array([0.0 if box is None else max(0.0, soil - box[1]) for box in boxes])
    wide = np.array([0.0 if box is None else 2 * max(box[2] - middle, middle - box[0]) for box in boxes])
    return xs, tall, wide


def _smooth(values: Floats) -> Floats:
    """Gaussian mean over a share of the film, both ways; the ends are held."""
    reach = max(1.0, SMOOTH * len(values))
    window = np.arange(-int(3 * reach), int(3 * reach) + 1)
    weight = np.exp(-0.5 * (window / reach) ** 2)
    padded = np.pad(values, len(window) // 2, mode="edge")
    return np.asarray(np.convolve(padded, weight / weight.sum(), mode="valid"))


def _looked_at(count: int) -> NDArray[np.int64]:
    return np.unique(np.round(np.linspace(0, count - 1, min(count, LOOKED_AT))).astype(np.int64))


def _extents(records: Sequence[FrameRecord], plants: int) -> list[list[tuple[float, float, float, float] | None]]:
    """For each photo looked at, each plant's (left, top, right, bottom) in the reference's pixels."""
    found = []
    for index in _looked_at(len(records)):
        record = records[int(index)]
        size = record.size or (0, 0)
        scale = min(1.0, 800 / max(size[0], 1))
        small = (max(1, round(size[0] * scale)), max(1, round(size[1] * scale)))
        matrix = steady.IDENTITY if record.to_reference is None else np.asarray(record.to_reference, np.float64)
        drawn = lane.labels_in(record, steady.chained(steady.scaling(scale, scale), matrix), small)
        found.append([_extent(drawn, number + 1, scale) for number in range(plants)])
    return found


def _extent(drawn: lane.Picture | None, label: int, scale: float) -> tuple[float, float, float, float] | None:
    if drawn is None:
        return None
    mine = drawn == label
    if mine.sum() < 4:
        return None
    rows, columns = np.flatnonzero(mine.any(1)), np.flatnonzero(mine.any(0))
    return columns[0] / scale, rows[0] / scale, (columns[-1] + 1) / scale, (rows[-1] + 1) / scale
