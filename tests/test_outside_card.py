"""The card against paper standards and the published marker dictionary."""

from pathlib import Path

import numpy as np
import pypdfium2
import pytest

from sproutlapse.card import Paper, marker_bits, write_card

# ISO 216: A4 is 210 x 297 mm. ANSI/ASME Y14.1: letter is 8.5 x 11 inches.
PAPER_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (8.5 * 25.4, 11 * 25.4)}

# ArUco DICT_4X4_50 as shipped with OpenCV (objdetect, predefined_dictionaries.hpp): the first two bytes of a marker,
# 4 x 4 bits row by row, 1 = white.
DICT_4X4_50_BYTES = {0: (181, 50), 1: (15, 154), 7: (196, 242)}


@pytest.mark.parametrize("paper", list(PAPER_MM))
def test_page_has_the_size_of_the_standard(tmp_path: Path, paper: Paper) -> None:
    document = pypdfium2.PdfDocument(write_card(tmp_path / "card.pdf", paper=paper))
    size = np.array(document[0].get_size()) * 25.4 / 72
    document.close()
    assert np.allclose(size, PAPER_MM[paper], atol=0.05)


@pytest.mark.parametrize("marker_id", list(DICT_4X4_50_BYTES))
def test_bits_are_those_of_the_published_dictionary(marker_id: int) -> None:
    bits = marker_bits(marker_id)
    assert not bits[[0, -1]].any()
    assert not bits[:, [0, -1]].any()
    assert tuple(np.packbits(bits[1:-1, 1:-1].ravel())) == DICT_4X4_50_BYTES[marker_id]
