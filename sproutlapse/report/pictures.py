"""Photos for the page: the latest one with each plant outlined and its height drawn, and a contact sheet.

Numbers and names are not burnt into the picture; they stand over it as text that keeps its size on a phone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import SproutlapseError
from sproutlapse.frames.decode import Damaged, decode, read_bytes
from sproutlapse.report.colours import SERIES, rgb_of
from sproutlapse.report.facts import LINES_PER_PANEL, from_above, latest, measure_of, plant_names, used_frames
from sproutlapse.results import FrameRecord, Results
from sproutlapse.tray import Plant

Rgb = NDArray[np.uint8]
Labels = NDArray[np.uint8]
Point = tuple[float, float]

PHOTO_WIDTH: Final = 1280
ROOMY_CELL = 0.16  # of the photo's width: narrower cells bear their name alone, else words cover the plants
THUMB_WIDTH: Final = 300
SHEET_PHOTOS: Final = 12
JPEG_QUALITY: Final = 80
TRIES: Final = 5  # photos tried from the latest one back, where some are gone from the folder
HALO: Final = (255, 255, 255)


@dataclass(frozen=True)
class Tag:
    """Words over the photo at shares (0 to 1) of its width and height; `below` hangs them under that point."""

    name: str
    text: str
    left: float
    top: float
    below: bool
    colour: str
    leader: float = 0.0  # share of the height from the words down to what they belong to, where they were lifted


@dataclass(frozen=True)
class Photo:
    """A JPEG for the page with its frame and what is written over it."""

    frame: FrameRecord
    jpeg: bytes
    size: tuple[int, int]
    tags: tuple[Tag, ...] = ()


def photo_of(frame: FrameRecord, width: int) -> Rgb | None:
    """A frame's photo at most `width` pixels wide; None where it cannot be read any more."""
    try:
        data = read_bytes(frame.path)
        shrink = next((s for s in (8, 4, 2) if frame.size and frame.size[0] >= width * s), 1)
        rgb = decode(data, frame.path.name, shrink=shrink)
    except (SproutlapseError, Damaged):
        return None
    scale = width / rgb.shape[1]
    if scale >= 1:
        return rgb
    size = (width, max(1, round(rgb.shape[0] * scale)))
    return np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def jpeg_of(rgb: Rgb, quality: int = JPEG_QUALITY) -> bytes:
    """A JPEG of an RGB picture; the same picture gives the same bytes."""
    done, data = cv2.imencode(".jpg", np.ascontiguousarray(rgb[..., ::-1]), [cv2.IMWRITE_JPEG_QUALITY, quality])
    if not done:
        raise SproutlapseError("a picture for the report could not be packed", remedy="run again")
    return bytes(data.tobytes())


def labels_of(frame: FrameRecord, size: tuple[int, int]) -> Labels | None:
    """The frame's label picture brought to `size` (width, height); None where there is none."""
    labels = frame.labels()
    if labels is None:
        return None
    if (labels.shape[1], labels.shape[0]) == size:
        return labels
    return np.asarray(cv2.resize(labels, size, interpolation=cv2.INTER_NEAREST), dtype=np.uint8)


def colour_of(index: int, total: int) -> str:
    """Colour of the k-th plant (from 0); one for all where they are too many to tell apart by it."""
    return SERIES[index % len(SERIES)] if total <= LINES_PER_PANEL else SERIES[0]


def latest_photo(results: Results) -> Photo | None:
    """The last measured photo that can still be read, with plants outlined and heights drawn."""
    for frame in used_frames(results)[: -TRIES - 1 : -1]:
        rgb = photo_of(frame, PHOTO_WIDTH)
        if rgb is not None:
            return _annotated(results, frame, rgb)
    return None


def _annotated(results: Results, frame: FrameRecord, rgb: Rgb) -> Photo:
    height, width = rgb.shape[:2]
    labels = labels_of(frame, (width, height))
    canvas = rgb.copy()
    tags: list[Tag] = []
    if labels is not None:
        names, measure, above = plant_names(results), measure_of(results), from_above(results)
        then = replace(results, measurements=results.measurements[results.measurements["frame"] == frame.frame])
        plants = {plant.name: plant for plant in results.tray.plants}
        for k, name in enumerate(names, start=1):
            mask = labels == k
            if not mask.any():
                continue
            colour = colour_of(k - 1, len(names))
            text = latest(then, name, measure).split(", give")[0].replace("pixels", "px")
            _outline(canvas, mask, rgb_of(colour))
            place = _in_corner if above else _with_height
            tags.append(place(canvas, mask, frame, plants.get(name), Tag(name, text, 0.0, 0.0, False, colour)))
    placed = tags if from_above(results) else _spread(tags, height / width)
    return Photo(frame, jpeg_of(canvas), (width, height), tuple(placed))


def _in_corner(canvas: Rgb, mask: NDArray[np.bool_], frame: FrameRecord, plant: Plant | None, tag: Tag) -> Tag:
    """The tag in the upper left corner of the plant's own cell, its figure only where the cell has room for it."""
    height, width = mask.shape
    if plant is None:
        rows, columns = np.nonzero(mask)
        return replace(tag, left=float(columns.min()) / width, top=float(rows.min()) / height)
    left, top, right, bottom = plant.box_px
    corners = np.array([_in_frame(frame, (x, y), width) for x in (left, right) for y in (top, bottom)])
    low, high = corners.min(axis=0), corners.max(axis=0)
    text = tag.text if (high[0] - low[0]) / width >= ROOMY_CELL else ""
    return replace(tag, text=text, left=max(0.0, low[0] / width), top=max(0.0, low[1] / height))


def _with_height(canvas: Rgb, mask: NDArray[np.bool_], frame: FrameRecord, plant: Plant | None, tag: Tag) -> Tag:
    """Draw the height from the soil line to the highest leaf beside the plant, and put the tag over that leaf."""
    height, width = mask.shape
    rows, columns = np.nonzero(mask)
    soil = float(rows.max())
    if plant is not None and plant.soil_y_px is not None:
        soil = _in_frame(frame, ((plant.box_px[0] + plant.box_px[2]) / 2, plant.soil_y_px), width)[1]
    top = float(rows.min())
    _height_line(canvas, min(float(columns.max()) + 0.012 * width, width - 4.0), top, soil, rgb_of(tag.colour))
    centre = float(columns[rows <= rows.min() + 3].mean())
    return replace(tag, left=min(max(centre / width, 0.06), 0.94), top=top / height, below=top < 0.09 * height)


def _outline(canvas: Rgb, mask: NDArray[np.bool_], colour: tuple[int, int, int]) -> None:
    # Drawn a little outside the plant, so that a thin stem is not painted over.
    wide = cv2.dilate(mask.astype(np.uint8), cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5)))
    contours, _ = cv2.findContours(wide, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    cv2.drawContours(canvas, contours, -1, HALO, 2, cv2.LINE_AA)
    cv2.drawContours(canvas, contours, -1, colour, 1, cv2.LINE_AA)


def _height_line(canvas: Rgb, x: float, top: float, soil: float, colour: tuple[int, int, int]) -> None:
    tick = 7
    x_px, top_px, soil_px = round(x), round(top), round(soil)
    for line_colour, thickness in ((HALO, 4), (colour, 2)):
        cv2.line(canvas, (x_px, top_px), (x_px, soil_px), line_colour, thickness, cv2.LINE_AA)
        for y in (top_px, soil_px):
            cv2.line(canvas, (x_px - tick, y), (x_px + tick, y), line_colour, thickness, cv2.LINE_AA)


def _in_frame(frame: FrameRecord, point: Point, width: int) -> Point:
    """A point of the reference frame as it lies in this frame's photo drawn `width` pixels wide."""
    x, y = point
    if frame.to_reference is not None:
        back = cv2.invertAffineTransform(np.asarray(frame.to_reference, dtype=np.float64))
        x, y = (float(v) for v in back @ np.array([x, y, 1.0]))
    scale = width / frame.size[0] if frame.size else 1.0
    return (x + 0.5) * scale - 0.5, (y + 0.5) * scale - 0.5


def _spread(tags: list[Tag], aspect: float) -> list[Tag]:
    """Lift tags that would cover each other on a phone, where one is about 0.15 of the photo wide and 0.085 high."""
    wide, high = 0.15, 0.085 / aspect
    if len(tags) > 3 * LINES_PER_PANEL:
        return tags
    done: list[Tag] = []
    for tag in sorted(tags, key=lambda t: (-t.top, t.left)):
        top = tag.top
        for _ in range(4):
            near = [
                t for t in done if abs(t.left - tag.left) < wide and abs(t.top - top) < high and t.below == tag.below
            ]
            if not near or min(t.top for t in near) - high < 0.09:
                break
            top = min(t.top for t in near) - high
        done.append(replace(tag, top=top, leader=tag.top - top))
    return sorted(done, key=lambda t: t.left)


def contact_sheet(results: Results) -> list[Photo]:
    """About a dozen photos spread evenly over the time, small, in time order."""
    used = used_frames(results)
    if not used:
        return []
    spread = np.linspace(used[0].elapsed_h, used[-1].elapsed_h, min(SHEET_PHOTOS, len(used)))
    elapsed = np.array([frame.elapsed_h for frame in used])
    picked = sorted({int(np.abs(elapsed - hour).argmin()) for hour in spread})
    photos = []
    for index in picked:
        rgb = photo_of(used[index], THUMB_WIDTH)
        if rgb is not None:
            photos.append(Photo(used[index], jpeg_of(rgb, 72), (rgb.shape[1], rgb.shape[0])))
    return photos
