"""What is wrong with one photo as a picture: its numbers go in, one plain reason comes out.

Growth must never be a fault, so sharpness and haze are judged by how edges look and not by what is there, and an
obstruction (`sudden.py`) by what is large, new at once and comes in from the picture's edge.
"""

from __future__ import annotations

from sproutlapse.frames.looks import Look, Usual, look, pixel_hash, usual
from sproutlapse.frames.night import NIGHT, is_night
from sproutlapse.frames.sudden import sudden

__all__ = [
    "Look",
    "Usual",
    "damaged_reason",
    "duplicate_reason",
    "fault",
    "look",
    "pixel_hash",
    "sudden",
    "usual",
]

# The thresholds stand far between what good and faulty frames of rendered shelves and trays show (exposure x 0.6 to
# 1.35, pink and orange light, noise, bumps: edges 0.83 and more of the usual; blur of 2 px: 0.64 and less; a third of
# fog: contrast 0.67 and less, and darkest parts lighter by 0.13, where good frames move by 0.01).
DARK_WHITE, DARK_SHARE = 0.03, 0.12  # white in linear light; and over the usual white
BURNT_ALONE, BURNT_LEAST, BURNT_MORE = 0.85, 0.5, 0.3  # share; least share, and share above the usual one
EDGE_ALONE = 1.25  # blurred by 3.5 px or more, whatever is usual
EDGE_SHARP = 2.2  # blurred by 1.25 px or less, whatever is usual
EDGE_SHARE = 0.74
HAZE_DARK, HAZE_CONTRAST = 0.05, 0.78  # darkest parts lighter by, in shares of white; and contrast over the usual


def fault(look: Look, usual: Usual | None) -> str:  # noqa: PLR0911 - one return a fault, in order of precedence
    """Why a photo cannot be measured, judged by itself and by what is usual; empty if it can.

    Parameters
    ----------
    look
        The photo's numbers.
    usual
        The norm of its stand from usable frames before it; None while there are none, then only faults that need no
        comparison are found.
    """
    if look.white >= DARK_WHITE and _infrared(look, usual):
        return f"{NIGHT}: without colour leaves look as white as the board"
    if look.white < DARK_WHITE or (usual is not None and look.white < DARK_SHARE * usual.white):
        return "dark: the lamps seem to be off"
    burnt_from = BURNT_ALONE if usual is None else max(BURNT_LEAST, min(usual.burnt + BURNT_MORE, 0.98))
    if look.burnt > burnt_from:
        return f"burnt: {100 * look.burnt:.0f} % of the picture is pure white"
    if 0 < max(look.edge_x, look.edge_y) < EDGE_ALONE:
        return BLURRED
    if usual is None:
        return ""
    if (look.width, look.height) != (usual.width, usual.height):
        turned = " and lies on its side" if (look.height, look.width) == (usual.width, usual.height) else ""
        first = f"the first photos have {usual.width} x {usual.height}"
        return f"{OTHER_SIZE}: {look.width} x {look.height} pixels{turned}, {first}"
    if _hazy(look, usual):
        return "hazy: everything looks washed out, as with a fogged lens"
    if _softer(look.edge_x, usual.edge_x) or _softer(look.edge_y, usual.edge_y):
        return BLURRED
    return ""


OTHER_SIZE = "other size"
BLURRED = "blurred: no edge is sharp, as when the camera shook or focused on something else"


def _infrared(look: Look, usual: Usual | None) -> bool:
    # Fog takes colour away as well, but never all of it.
    return is_night(look.colour, None if usual is None or _hazy(look, usual) else usual.colour)


def _hazy(look: Look, usual: Usual) -> bool:
    lighter = look.dark / max(look.white, 1e-6) > usual.dark_share + HAZE_DARK
    return lighter and look.contrast < HAZE_CONTRAST * usual.contrast


def _softer(edge: float, usual_edge: float) -> bool:
    return 0 < edge < min(EDGE_SHARP, EDGE_SHARE * usual_edge)


def duplicate_reason(first: str) -> str:
    """The reason for a photo that shows the same as an earlier one."""
    return f"duplicate: same picture as {first}"


def damaged_reason(why: str) -> str:
    """The reason for a photo that cannot be decoded in full."""
    return f"damaged: {why}"
