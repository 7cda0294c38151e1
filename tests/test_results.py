"""What a frame's record tells besides its fields."""

from pathlib import Path

import numpy as np

from sproutlapse.results import FrameRecord
from sproutlapse.vision.labels import labels_png

DRAWN = np.array([[0, 1, 2, 3, 0]], np.uint8)


def _record(png: bytes | None, *, not_up: tuple[int, ...] = ()) -> FrameRecord:
    return FrameRecord("a.jpg", Path("a.jpg"), "2026-03-01T09:00:00", 0.0, True, "", labels_png=png, not_up=not_up)


def test_plants_not_yet_up_are_not_drawn():
    labels = _record(labels_png(DRAWN), not_up=(2,)).labels()
    assert labels is not None
    assert labels.tolist() == [[0, 1, 0, 3, 0]]


def test_covered_shares_kept_with_the_labels_are_no_plants():
    labels = _record(labels_png(DRAWN, np.full(DRAWN.shape, 0.5, np.float32))).labels()
    assert labels is not None
    assert labels.dtype == np.uint8
    assert labels.tolist() == DRAWN.tolist()


def test_a_photo_without_labels_has_none():
    assert _record(None).labels() is None
