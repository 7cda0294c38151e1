"""Title and end card, and pictures beside the film: the poster, and then and now with a millimetre rule."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from sproutlapse.film.look import GROUND, GROWN, QUIET, STRONG, Colour, fitted, font, stamp, word_mask

Even = NDArray[np.float32]

TITLE_S, END_S = 2.0, 3.0
# The picture behind a card keeps this share of its light.
BEHIND = 0.22
# Lengths that a rule may have, mm.
RULES_MM = (5, 10, 20, 50, 100, 200, 500)
RULE_SHARE = 0.30  # of the picture's width, at most


def card(behind: Even, head: str, lines: Sequence[str]) -> Even:
    """A card over a darkened picture: a headline, a line that has grown, and smaller lines below.

    Parameters
    ----------
    behind
        (h, w, 3) float32, sRGB values of 0 to 255.
    """
    picture = (behind * BEHIND + np.array(GROUND, np.float32) * (1 - BEHIND)).astype(np.float32)
    h, w = picture.shape[:2]
    short = min(w, int(1.4 * h))
    big, small = max(12, round(0.075 * short)), max(9, round(0.042 * short))
    rows: list[tuple[str, int, str, Colour]] = [(head, big, "-Bold", STRONG)]
    rows += [(line, small, "", QUIET) for line in lines]
    heights = [1.35 * size for _t, size, _w, _c in rows]
    y = (h - sum(heights) - small) / 2
    for number, (text, size, weight, colour) in enumerate(rows):
        word = word_mask(fitted(text, size, 0.9 * w, weight), size, weight)
        base = font(size, weight).getbbox(fitted(text, size, 0.9 * w, weight))[1]
        stamp(picture, word, (w - word.shape[1]) / 2, y + base, colour)
        y += heights[number]
        if number == 0:
            line = max(2, round(0.006 * w))
            mask = np.full((line, round(0.3 * w)), 255, np.uint8)
            stamp(picture, mask, 0.35 * w, y + small / 3, GROWN)
            y += small
    return picture


def then_and_now(pictures: Sequence[Even], words: Sequence[str], mm_per_px: float | None) -> Even:
    """Two pictures side by side with their dates below, and a rule in mm where the scale is known.

    Parameters
    ----------
    pictures
        Two pictures (h, w, 3) of one size.
    mm_per_px
        Millimetres per pixel of these pictures, at the plants' depth.
    """
    h, w = pictures[0].shape[:2]
    gap = max(4, round(0.012 * w))
    letters = max(9, round(0.062 * w))
    foot = round(2.2 * letters)
    whole = np.empty((h + foot, 2 * w + gap, 3), np.float32)
    whole[:] = GROUND
    for number, (picture, text) in enumerate(zip(pictures, words, strict=True)):
        left = number * (w + gap)
        whole[:h, left : left + w] = picture
        word = word_mask(fitted(text, letters, w - 2 * gap), letters)
        stamp(whole, word, left + 2 * gap, h + (foot - word.shape[0]) / 2, STRONG)
    if mm_per_px is not None:
        _rule(whole, (w, h), mm_per_px, letters)
    return whole


def _rule(whole: Even, size: tuple[int, int], mm_per_px: float, letters: int) -> None:
    w, h = size
    fit = [length for length in RULES_MM if length / mm_per_px <= RULE_SHARE * w]
    if not fit:
        return
    long = round(fit[-1] / mm_per_px)
    thick = max(3, round(0.007 * w))
    mask = np.zeros((4 * thick, long), np.uint8)
    mask[-thick:] = 255
    for part in range(11):
        x = min(long - thick, round(part * long / 10))
        mask[(0 if part % 5 == 0 else 2 * thick) :, x : x + max(1, thick // 2)] = 255
    x, y = whole.shape[1] - long - 0.03 * w, h - 0.03 * w - 4 * thick
    stamp(whole, mask, x, y, STRONG, halo=max(2, thick // 2))
    word = word_mask(f"{fit[-1]} mm", round(0.8 * letters), "-Bold")
    stamp(whole, word, x + (long - word.shape[1]) / 2, y - word.shape[0] - thick, STRONG, halo=max(2, letters // 8))
