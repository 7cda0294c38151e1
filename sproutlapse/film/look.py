"""How everything drawn into a film looks: colours, letters, and putting them on a picture without hard edges."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import cv2
import matplotlib
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

Colour = tuple[int, int, int]
Mask = NDArray[np.uint8]
Even = NDArray[np.float32]

GROUND: Colour = (27, 38, 33)
STRONG: Colour = (244, 241, 231)
QUIET: Colour = (178, 190, 180)
GROWN: Colour = (139, 190, 104)
TO_COME: Colour = (55, 69, 61)
# Okabe and Ito, "Color Universal Design", 2008, lightened for dark ground: told apart with any kind of colour sight.
SERIES: tuple[Colour, ...] = (
    (240, 184, 64), (92, 179, 234), (63, 200, 156), (242, 138, 69), (227, 163, 198), (154, 212, 247),
)  # fmt: skip
# As shares of the film's width: at 360 pixels (a phone in the hand) the letters are still 14 and 12 pixels high.
LETTERS, SMALL = 0.040, 0.034
MARGIN = 0.022


@cache
def font(size: int, weight: str = "") -> ImageFont.FreeTypeFont:
    """The sans serif letters that come with matplotlib, `weight` "" or "-Bold"."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return ImageFont.truetype(str(folder / f"DejaVuSans{weight}.ttf"), size)


def colour_of(number: int) -> Colour:
    """The colour of the n-th plant."""
    return SERIES[number % len(SERIES)]


def fitted(text: str, letters: int, width: float, weight: str = "") -> str:
    """The text, cut at a word with three dots where it is wider than `width` pixels."""
    if font(letters, weight).getlength(text) <= width:
        return text
    words = text.split(" ")
    while len(words) > 1:
        words.pop()
        shorter = " ".join(words).rstrip(" ,;·") + " …"
        if font(letters, weight).getlength(shorter) <= width:
            return shorter
    while text and font(letters, weight).getlength(text + "…") > width:
        text = text[:-1]
    return text + "…"


def word_mask(text: str, letters: int, weight: str = "") -> Mask:
    """(h, w) coverage 0 to 255 of a word, cut out closely."""
    left, top, right, bottom = font(letters, weight).getbbox(text)
    picture = Image.new("L", (max(1, int(right - left) + 2), max(1, int(bottom - top) + 2)), 0)
    ImageDraw.Draw(picture).text((1 - left, 1 - top), text, font=font(letters, weight), fill=255)
    return np.asarray(picture, dtype=np.uint8)


def stamp(picture: Even, mask: Mask, x: float, y: float, colour: Colour, *, halo: int = 0) -> None:
    """Put a colour on a picture where the mask says, its upper left corner at (x, y); changes the picture.

    Parameters
    ----------
    picture
        (h, w, 3) float32, sRGB values of 0 to 255.
    mask
        (h, w) uint8, 0 to 255.
    halo
        Width in pixels of a dark rim, which keeps pale letters legible on a pale board.
    """
    if halo > 0:
        rim_px = 3 * halo  # room for the rim to fade out: cut off, it showed as a box in large films
        wide = cv2.copyMakeBorder(mask, rim_px, rim_px, rim_px, rim_px, cv2.BORDER_CONSTANT, value=0)
        kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * halo + 1, 2 * halo + 1))
        rim = cv2.GaussianBlur(cv2.dilate(wide, kernel), (0, 0), max(0.6, halo / 2.5))
        stamp(picture, np.asarray((rim * 0.8).astype(np.uint8)), x - rim_px, y - rim_px, GROUND)
    h, w = picture.shape[:2]
    left, top = round(x), round(y)
    x0, y0 = max(0, left), max(0, top)
    x1, y1 = min(w, left + mask.shape[1]), min(h, top + mask.shape[0])
    if x1 <= x0 or y1 <= y0:
        return
    share = mask[y0 - top : y1 - top, x0 - left : x1 - left].astype(np.float32)[:, :, None] / 255.0
    part = picture[y0:y1, x0:x1]
    part += share * (np.array(colour, dtype=np.float32) - part)
