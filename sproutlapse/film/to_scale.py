"""Side by side on one scale: a millimetre is as long in one picture as in the other, so that sizes can be compared."""

from __future__ import annotations

from collections.abc import Sequence

from sproutlapse.film import told
from sproutlapse.film.told import Told
from sproutlapse.film.words import joined

# A picture lower than this share of its neighbour shows nothing any more; each then keeps its own scale.
LOWEST = 0.33


def common_scales(trays: Sequence[tuple[Told | None, str | None]]) -> list[float] | None:
    """Millimetres per source pixel of each tray, or of the plant that is followed in it.

    Parameters
    ----------
    trays
        Tables and the plant's name (None: the whole tray) of each picture.

    Returns
    -------
    list of float or None
        1 for each where all are of one tray without a scale, since its pixels are alike; None where they cannot be
        compared.
    """
    found = [None if known is None else told.mm_per_px(known, plant) for known, plant in trays]
    scales = [scale for scale in found if scale is not None]
    if len(scales) == len(found):
        return scales
    if not scales and len({id(known) for known, _plant in trays}) == 1:
        return [1.0] * len(found)
    return None


def to_scale(shapes: Sequence[tuple[float, float]], scales: Sequence[float]) -> list[tuple[float, float]] | None:
    """Sizes (width, height) in pixels at which the pictures are of one scale and none is enlarged.

    Parameters
    ----------
    shapes
        (width, height) of each picture in source pixels.
    scales
        Millimetres per source pixel of each, above 0.

    Returns
    -------
    list of (width, height) or None
        None where one of them would become too low to show anything.
    """
    coarsest = max(scales)
    made = [(w * mm / coarsest, h * mm / coarsest) for (w, h), mm in zip(shapes, scales, strict=True)]
    heights = [h for _w, h in made]
    return made if min(heights) >= LOWEST * max(heights) else None


def not_to_scale(trays: Sequence[tuple[Told | None, str | None]], scales: Sequence[float] | None) -> str:
    """What is said where pictures side by side are not of one scale."""
    if scales is not None:
        return "The pictures are of very different scales, so each keeps its own: their sizes cannot be compared."
    names = [known.name for known, plant in trays if known is not None and told.mm_per_px(known, plant) is None]
    who = joined(list(dict.fromkeys(names))) or "one of them"
    return f"No scale is known of {who}, so the pictures side by side cannot be brought to one."
