"""Photos of a pot before a board, drawn with a known light and a known bump, and the film read back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import av
import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sproutlapse.film.light import srgb_decoded, srgb_encoded
from sproutlapse.results import FrameRecord

SIZE = (640, 480)
START = datetime(2026, 3, 1, 9, 0)
POT = (250, 300, 390, 440)  # left, top, right, bottom in the reference, pixels


@dataclass(frozen=True)
class Photo:
    """Light over the reference's (red, green, blue), bump in pixels, and the height of the plant in pixels."""

    gains: tuple[float, float, float] = (1.0, 1.0, 1.0)
    bump: tuple[float, float] = (0.0, 0.0)
    turn_deg: float = 0.0
    plant_px: int = 0
    used: bool = True


def matrix_of(photo: Photo) -> NDArray[np.float64]:
    """(2, 3) from the photo's pixels to the reference's."""
    middle = ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2)
    turned = cv2.getRotationMatrix2D(middle, photo.turn_deg, 1.0)
    turned[:, 2] -= photo.bump
    return np.asarray(turned, dtype=np.float64)


def scene(plant_px: int, factor: int = 1) -> tuple[NDArray[np.float64], NDArray[np.uint8]]:
    """The reference in linear light and its label picture."""
    w, h = SIZE
    x, y = np.meshgrid(np.linspace(0, 1, w * factor), np.linspace(0, 1, h * factor))
    board = (0.52 + 0.1 * (1 - y) - 0.06 * (x - 0.5) ** 2)[:, :, None] * np.array([1.0, 0.98, 0.93])
    left, top, right, bottom = (v * factor for v in POT)
    board[top:bottom, left:right] = 0.02
    labels = np.zeros(board.shape[:2], np.uint8)
    if plant_px:
        middle, up = (left + right) // 2, top - plant_px * factor
        labels[up:top, middle - 4 * factor : middle + 4 * factor] = 1
        labels[up : up + 30 * factor, middle - 40 * factor : middle + 40 * factor] = 1
        board[labels > 0] = (0.05, 0.2, 0.03)
    return board, labels


def take(folder: Path, photos: Sequence[Photo], *, hours: float = 1.0, noise: float = 1.5) -> list[FrameRecord]:
    """Save the photos as JPEG files and return their records, as the measuring would have found them."""
    folder.mkdir(parents=True, exist_ok=True)
    records = []
    for number, photo in enumerate(photos, start=1):
        drawn, labels = scene(photo.plant_px)
        matrix = matrix_of(photo)
        back = cv2.WARP_INVERSE_MAP
        single = drawn.astype(np.float32)  # OpenCV 5.0 rounds the border of float64 pictures to whole numbers
        light = cv2.warpAffine(single, matrix, SIZE, flags=cv2.INTER_CUBIC | back, borderMode=cv2.BORDER_REPLICATE)
        labels = cv2.warpAffine(labels, matrix, SIZE, flags=cv2.INTER_NEAREST | back)
        values = 255 * srgb_encoded(np.clip(light * photo.gains, 0, 1))
        values += np.random.default_rng(number).normal(0, noise, values.shape)
        path = folder / f"IMG_{number:04d}.JPG"
        Image.fromarray(np.clip(np.round(values), 0, 255).astype(np.uint8)).save(path, quality=93, subsampling=2)
        elapsed = (number - 1) * hours
        records.append(
            FrameRecord(
                frame=path.name,
                path=path,
                time=(START + timedelta(hours=elapsed)).isoformat(),
                elapsed_h=elapsed,
                used=photo.used,
                reason="" if photo.used else "dark",
                to_reference=matrix if photo.used else None,
                gains=photo.gains if photo.used else None,
                labels_png=cv2.imencode(".png", labels)[1].tobytes(),
                size=SIZE,
            )
        )
    return records


def pictures_of(film: Path) -> list[NDArray[np.uint8]]:
    """The film decoded again, (height, width, 3) each."""
    with av.open(str(film)) as container:
        return [np.asarray(frame.to_ndarray(format="rgb24"), np.uint8) for frame in container.decode(video=0)]


def steps_percent(pictures: Sequence[NDArray[np.uint8]], box: tuple[int, int, int, int]) -> NDArray[np.float64]:
    """Steps of a region's mean light from picture to picture, percent, (n - 1, 3); box: left, top, right, bottom."""
    left, top, right, bottom = box
    mean = np.array([srgb_decoded(picture[top:bottom, left:right] / 255.0).mean((0, 1)) for picture in pictures])
    return np.asarray(100 * np.abs(np.diff(mean, axis=0)) / mean[:-1])


def edge_along(profile: NDArray[np.float64]) -> float:
    """Where a profile from the bright board to the dark pot crosses the middle of the two, to a part of a pixel."""
    middle = (profile.min() + profile.max()) / 2
    after = int(np.argmax(profile < middle))
    above, below = profile[after - 1], profile[after]
    return float(after - 1 + (above - middle) / (above - below))
