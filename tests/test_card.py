"""The printed mark on paper: its size, its check line, its limits."""

from pathlib import Path

import cv2
import numpy as np
import pypdfium2
import pytest

from sproutlapse.card import Paper, card_sizes, write_card
from sproutlapse.errors import SproutlapseError

MM_PER_INCH = 25.4


def page_at(pdf: Path, dpi: float) -> np.ndarray:
    document = pypdfium2.PdfDocument(pdf)
    assert len(document) == 1
    picture = np.array(document[0].render(scale=dpi / 72).to_pil().convert("L"))
    document.close()
    return picture


def marker_corners(picture: np.ndarray) -> tuple[np.ndarray, list[int]]:
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    corners, ids, _ = cv2.aruco.ArucoDetector(dictionary, parameters).detectMarkers(picture)
    assert ids is not None
    return corners[0].reshape(4, 2), [int(i) for i in np.ravel(ids)]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(("mm", "dpi"), [(30.0, 300), (42.5, 600)])
def test_printed_square_has_its_size(tmp_path: Path, paper: Paper, mm: float, dpi: int) -> None:
    corners, ids = marker_corners(page_at(write_card(tmp_path / "card.pdf", marker_mm=mm, paper=paper), dpi))
    sides = np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1) * MM_PER_INCH / dpi
    assert ids == [7]
    assert np.allclose(sides, mm, atol=0.05), sides


def test_check_line_is_100_mm(tmp_path: Path) -> None:
    dpi = 300
    picture = page_at(write_card(tmp_path / "card.pdf"), dpi)
    # The check line is the first long dark run from the top of the page.
    dark = picture < 128
    row = next(y for y in range(len(dark)) if dark[y].sum() > 90 / MM_PER_INCH * dpi)
    ticks = (255.0 - picture[row - 20]) / 255
    columns = np.arange(ticks.size)
    spots = np.split(columns, np.flatnonzero(ticks < 0.02))
    centres = [float((columns[s] * ticks[s]).sum() / ticks[s].sum()) for s in spots if ticks[s].sum() > 0.3]
    assert len(centres) == 11
    assert (centres[-1] - centres[0]) * MM_PER_INCH / dpi == pytest.approx(100.0, abs=0.05)


@pytest.mark.parametrize("mm", [10.0, 30.0, 150.0])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_all_that_is_drawn_fits_both_papers(tmp_path: Path, mm: float, paper: Paper) -> None:
    dpi = 100
    picture = page_at(write_card(tmp_path / "card.pdf", marker_mm=mm, paper=paper), dpi)
    rows, columns = np.nonzero(picture < 200)
    centre_x, centre_y = picture.shape[1] / 2, picture.shape[0] / 2
    half_width, half_height = 210 / 2 / MM_PER_INCH * dpi, 279 / 2 / MM_PER_INCH * dpi
    assert np.abs(columns - centre_x).max() < half_width - 3 / MM_PER_INCH * dpi
    assert np.abs(rows - centre_y).max() < half_height - 3 / MM_PER_INCH * dpi


@pytest.mark.parametrize("dpi", [97, 150, 211, 300])
def test_no_hairlines_inside_the_square(tmp_path: Path, dpi: int) -> None:
    picture = page_at(write_card(tmp_path / "card.pdf", marker_mm=60, marker_id=3), dpi)
    corners, _ = marker_corners(picture)
    n = 600
    square = np.array([[0, 0], [n, 0], [n, n], [0, n]], np.float32)
    flat = cv2.warpPerspective(picture, cv2.getPerspectiveTransform(corners.astype(np.float32), square), (n, n))
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    true = cv2.aruco.generateImageMarker(dictionary, 3, n)
    edges = cv2.morphologyEx(true, cv2.MORPH_GRADIENT, np.ones((31, 31), np.uint8)) > 0
    inside = np.zeros_like(edges)
    inside[20:-20, 20:-20] = True
    assert np.abs(flat.astype(int) - true)[inside & ~edges].max() < 8


@pytest.mark.parametrize("mm", [10.0, 30.0, 80.0, 150.0])
def test_white_margin_is_at_least_one_cell_and_the_card_has_a_foot(mm: float) -> None:
    margin, foot = card_sizes(mm)
    assert margin >= mm / 6 - 1e-9
    assert foot >= 19


@pytest.mark.parametrize("mm", [0.0, 9.9, 151.0, float("nan"), float("inf"), -30.0])
def test_sizes_that_do_not_fit_are_refused_in_plain_words(tmp_path: Path, mm: float) -> None:
    with pytest.raises(SproutlapseError, match="10 to 150 mm"):
        write_card(tmp_path / "card.pdf", marker_mm=mm)
    assert not list(tmp_path.iterdir())


def test_marker_number_and_paper_are_checked(tmp_path: Path) -> None:
    with pytest.raises(SproutlapseError, match="0 to 49"):
        write_card(tmp_path / "card.pdf", marker_id=50)
    with pytest.raises(SproutlapseError, match="a4 or letter"):
        write_card(tmp_path / "card.pdf", paper="a5")  # type: ignore[arg-type]


def test_a_file_that_cannot_be_written_ends_in_a_message(tmp_path: Path) -> None:
    (tmp_path / "card.pdf").mkdir()
    with pytest.raises(SproutlapseError, match="could not be written"):
        write_card(tmp_path / "card.pdf")


def test_same_card_same_bytes(tmp_path: Path) -> None:
    assert write_card(tmp_path / "a.pdf").read_bytes() == write_card(tmp_path / "b.pdf").read_bytes()


def test_card_is_vectors_without_pictures(tmp_path: Path) -> None:
    assert b"/Subtype /Image" not in write_card(tmp_path / "card.pdf").read_bytes()


def test_words_on_the_card(tmp_path: Path) -> None:
    document = pypdfium2.PdfDocument(write_card(tmp_path / "card.pdf", marker_mm=25))
    words = document[0].get_textpage().get_text_range()
    document.close()
    assert "100 %" in words
    assert "marker_mm" in words
    assert "plants’ row" in words
    assert "25 mm" in words
    assert "right angle" in words
