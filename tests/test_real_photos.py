"""The figures by which masks are held against drawn ones: plain arithmetic on small squares."""

import importlib.util
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

_FILE = Path(__file__).resolve().parents[1] / "scripts" / "real_photos.py"
_SPEC = importlib.util.spec_from_file_location("real_photos", _FILE)
assert _SPEC is not None and _SPEC.loader is not None
real_photos = importlib.util.module_from_spec(_SPEC)
sys.modules["real_photos"] = real_photos
_SPEC.loader.exec_module(real_photos)


def _square(left: int, side: int = 10) -> np.ndarray:
    mask = np.zeros((40, 40), bool)
    mask[10 : 10 + side, left : left + side] = True
    return mask


def test_two_equal_masks_overlap_by_one():
    same = real_photos.overlap(_square(5), _square(5), 100.0)
    assert (same.dice, same.area, same.too_much, same.too_little) == (1.0, 1.0, 0.0, 0.0)


def test_a_square_moved_by_two_of_ten_pixels_shares_eight_tenths():
    moved = real_photos.overlap(_square(7), _square(5), 110.0)
    assert moved.dice == pytest.approx(2 * 80 / 200)
    assert (moved.area, moved.too_much, moved.too_little) == pytest.approx((1.1, 0.2, 0.2))


def test_masks_of_other_size_and_empty_drawings_are_refused():
    with pytest.raises(ValueError, match="differ in size"):
        real_photos.overlap(_square(5), np.ones((3, 3), bool), 1.0)
    with pytest.raises(ValueError, match="empty"):
        real_photos.overlap(_square(5), np.zeros((40, 40), bool), 1.0)


def test_the_median_and_the_worst_must_both_reach_what_is_asked():
    assert real_photos.good_enough([0.93, 0.97, 0.99])
    assert not real_photos.good_enough([0.92, 0.97, 0.99])
    assert not real_photos.good_enough([0.95, 0.969, 0.99])
    assert not real_photos.good_enough([])


def _leaf_folder(folder: Path, *, drawn_too_large: int = 0) -> Path:
    (folder / "images").mkdir(parents=True)
    (folder / "masks").mkdir()
    mask = np.zeros((160, 240), np.uint8)
    cv2.ellipse(mask, (120, 80), (70, 35), 0, 0, 360, 255, -1)
    photo = np.full((160, 240, 3), 205, np.uint8)
    photo[mask > 0] = (30, 120, 40)
    large = cv2.dilate(mask, np.ones((3, 3), np.uint8), iterations=drawn_too_large)
    for place, picture in ((folder / "images" / "7.jpg", photo), (folder / "masks" / "7_mask.png", large)):
        place.write_bytes(cv2.imencode(place.suffix, picture)[1].tobytes())
    return folder


def test_a_leaf_drawn_truly_passes_and_its_overlay_is_written(tmp_path, capsys):
    folder = _leaf_folder(tmp_path / "leaves")
    assert real_photos.main([str(folder), "--overlays", str(tmp_path / "over")]) == 0
    assert "1 photos: median 1.0000" in capsys.readouterr().out
    assert (tmp_path / "over" / "7.jpg").stat().st_size > 0


def test_a_leaf_drawn_far_too_large_fails(tmp_path):
    assert real_photos.main([str(_leaf_folder(tmp_path / "leaves", drawn_too_large=8))]) == 1


def test_a_folder_without_drawn_masks_is_told(tmp_path, capsys):
    assert real_photos.main([str(tmp_path)]) == 2
    assert "no masks" in capsys.readouterr().err
