"""Pictures decoded smaller: each pixel stands for a square counted from the upright picture's top left."""

from __future__ import annotations

import io

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from sproutlapse.frames import decode as decoder
from sproutlapse.frames.decode import Damaged, decode


def _spotted(size: tuple[int, int]) -> NDArray[np.uint8]:
    """A dark picture with a white square about (301, 205)."""
    picture = np.full((size[1], size[0], 3), 40, np.uint8)
    picture[205 - 24 : 205 + 25, 301 - 24 : 301 + 25] = 250
    return picture


def _centre(small: NDArray[np.uint8], shrink: int) -> NDArray[np.float64]:
    """Where the square's middle is, in the photo's own pixels, to a part of one."""
    weight = small.astype(float).mean(axis=-1) - 40
    rows, columns = np.mgrid[: small.shape[0], : small.shape[1]]
    place = np.array([(weight * columns).sum(), (weight * rows).sum()]) / weight.sum()
    return place * shrink + (shrink - 1) / 2


@pytest.mark.parametrize("shrink", [2, 4, 8])
@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_a_smaller_picture_counts_its_squares_from_the_upright_ones_top_left(kind: str, orientation: int, shrink: int):
    """Sides that are no multiple of the step, turned as a camera stores them."""
    upright = Image.fromarray(_spotted((805, 603)))
    stored = {1: upright, 3: upright.transpose(Image.Transpose.ROTATE_180)}.get(orientation)
    if stored is None:
        back = Image.Transpose.ROTATE_90 if orientation == 6 else Image.Transpose.ROTATE_270
        stored = upright.transpose(back)
    exif = Image.Exif()
    exif[0x0112] = orientation
    data = io.BytesIO()
    stored.save(data, kind, exif=exif, **({"quality": 98, "subsampling": 0} if kind == "JPEG" else {}))
    small = decode(data.getvalue(), "a.jpg", shrink=shrink)
    assert small.shape[:2] == (-(-603 // shrink), -(-805 // shrink))
    assert _centre(small, shrink) == pytest.approx([301, 205], abs=0.15)


def test_a_plain_picture_beyond_the_limit_is_not_decoded(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(decoder, "MOST_MEGAPIXELS", 0.01)
    data = b"P6\n160 150\n255\n" + bytes(160 * 150 * 3)
    with pytest.raises(Damaged, match="megapixels"):
        decode(data, "a.ppm", shrink=8)
