"""Marks for pots: as large as said, each readable and each another."""

import cv2
import numpy as np
import pypdfium2
import pytest

from sproutlapse.card_pots import NUMBERS, STANDING, write_pot_marks
from sproutlapse.errors import SproutlapseError

DPI = 200.0


def read(path):
    """Number of each mark on the page, and the mean side of its black square in mm."""
    page = pypdfium2.PdfDocument(path)[0].render(scale=DPI / 72).to_numpy()
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    own = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50), settings)
    corners, numbers, _ = own.detectMarkers(np.ascontiguousarray(page[..., :3].mean(axis=-1).astype(np.uint8)))
    sides = [np.linalg.norm(np.roll(c[0], -1, axis=0) - c[0], axis=1).mean() / DPI * 25.4 for c in corners]
    return dict(zip(np.ravel(numbers).tolist(), sides, strict=True))


@pytest.mark.parametrize(("pots", "mm", "paper"), [(5, 12.0, "a4"), (49, 12.0, "letter"), (12, 25.0, "letter")])
def test_each_pot_gets_a_mark_of_its_own_of_the_size_that_was_asked_for(tmp_path, pots, mm, paper):
    found = read(write_pot_marks(tmp_path / "pots.pdf", pots, marker_mm=mm, paper=paper))
    assert sorted(found) == sorted(NUMBERS[:pots])
    assert STANDING not in found
    assert list(found.values()) == pytest.approx([mm] * pots, abs=0.15)


@pytest.mark.parametrize(("pots", "mm"), [(0, 12.0), (50, 12.0), (40, 40.0), (4, 3.0)])
def test_marks_that_do_not_exist_or_fit_are_refused_with_what_to_do(tmp_path, pots, mm):
    with pytest.raises(SproutlapseError):
        write_pot_marks(tmp_path / "pots.pdf", pots, marker_mm=mm)
    assert not (tmp_path / "pots.pdf").exists()
