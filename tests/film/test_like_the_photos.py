"""The film's pictures are the photos: moved and lit alike, and otherwise as they were taken."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
from film_photos import pictures_of
from numpy.typing import NDArray
from PIL import Image
from shelf_photos import FEW, halve
from skimage.metrics import structural_similarity

from sproutlapse.film.make import make_film
from sproutlapse.film.options import FilmOptions
from sproutlapse.results import FrameRecord

# What the film owes the photos; 1 is the same picture. Wang et al., "Image quality assessment: from error visibility
# to structural similarity", 2004, with the window of that paper.
LEAST_ALIKE = 0.95


def alike(film: NDArray[np.uint8], photo: NDArray[np.uint8]) -> float:
    """How alike they are where the photo shows something: an empty board is like any other."""
    grey = cv2.cvtColor(photo, cv2.COLOR_RGB2GRAY)
    shows = cv2.dilate(cv2.Canny(grey, 60, 120), np.ones((11, 11), np.uint8)) > 0
    how = {"gaussian_weights": True, "sigma": 1.5, "use_sample_covariance": False}
    _mean, everywhere = structural_similarity(film, photo, channel_axis=2, full=True, **how)
    return float(everywhere[shows].mean())


def test_a_film_picture_is_like_its_photo(tmp_path: Path):
    records, photos = [], []
    for number, name in enumerate((FEW[0], FEW[-1])):
        path = tmp_path / f"{number}.jpg"
        halve(name, path)
        with Image.open(path) as image:
            photos.append(np.asarray(image.convert("RGB")))
        time = f"2026-03-01T{9 + number:02d}:00:00"
        size = (photos[-1].shape[1], photos[-1].shape[0])
        records.append(FrameRecord(path.name, path, time, float(number), True, "", np.eye(2, 3), (1.0,) * 3, size=size))
    options = FilmOptions(seconds=2 / 24, caption=False)
    film = pictures_of(make_film(records, tmp_path / "film.mp4", options=options).path)
    assert len(film) == len(photos)
    for picture, photo in zip(film, photos, strict=True):
        assert picture.shape == photo.shape  # no smaller, which would hide what differs
        assert alike(picture, photo) >= LEAST_ALIKE
        # It would be seen if pictures were softened, or moved by a pixel.
        assert alike(np.asarray(cv2.GaussianBlur(picture, (0, 0), 1.5)), photo) < LEAST_ALIKE
        assert alike(np.roll(picture, 1, axis=1), photo) < LEAST_ALIKE
