"""The board in one photo: bright enough, nowhere burnt out, even enough, and behind the whole row."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.first.sight import Sight
from sproutlapse.first.verdict import Line, fine, look, mend
from sproutlapse.vision.colour import Floats, encode_srgb, to_lab

# The board's median, share of full scale in the photo's own (sRGB) numbers. The aim leaves room for pale leaves and
# lamps that flicker; outside the limits shadows drown in noise or highlights burn. Common practice, no source.
AIM = (0.70, 0.85)
LIMITS = (0.62, 0.89)
# A value of 252 of 255 in any colour is burnt out; so much of the board may be. Common practice, no source.
BURNT_VALUE, BURNT_SHARE = 252, 0.02
# Brightest over darkest part of the board behind the plants, in linear light: one and a half stops. Common practice for
# plain backgrounds allows one to two stops; evenly lit rendered shelves reach 2.2.
MOST_UNEVEN = 2.8
# A step across which the board's colour changes for good (CIELAB) is its end: shades change slowly, 4 a step at most.
END_LAB = 9.0
# Steps are looked for over this share of the picture, and count from where the row begins or ends.
STEP_SHARE = 0.012
# What is behind the plants from here upwards matters, in shares of the picture's height above the soil.
LOWEST_SHARE = 0.03


def brightness(sight: Sight) -> list[Line]:
    """Whether the board is bright and nowhere burnt out."""
    if not sight.ground.any():
        return [look("Brightness", "no even board was made out", "Stand a plain white board right behind the plants.")]
    level = float(encode_srgb(np.array(np.median(sight.luminance[sight.ground]), np.float64)))
    burnt = float((sight.light[sight.ground].max(axis=-1) >= _light(BURNT_VALUE / 255)).mean())
    says = f"board at {100 * level:.0f} % of full brightness ({100 * AIM[0]:.0f} to {100 * AIM[1]:.0f} % is best)"
    # Twice the light is one stop.
    stops = float(np.log2(_light(sum(AIM) / 2) / max(_light(level), 1e-4)))
    if level < LIMITS[0]:
        return [mend("Brightness", says, f"Expose longer, about {stops:.1f} stops, or bring more light; then fix it.")]
    if level > LIMITS[1]:
        return [mend("Brightness", says, f"Expose shorter, about {-stops:.1f} stops; then fix it so.")]
    if burnt > BURNT_SHARE:
        says = f"{100 * burnt:.0f} % of the board burnt out in some colour (at most {100 * BURNT_SHARE:.0f} %)"
        fix = "Expose a third of a stop shorter; where the lamp is coloured, bring white light for the photos."
        return [mend("Brightness", says, fix)]
    return [fine("Brightness", says)]


def _light(level: float) -> float:
    """Linear light of a share of full scale."""
    return float(((level + 0.055) / 1.055) ** 2.4)


def evenness(sight: Sight) -> list[Line]:
    """Whether the board behind the plants is lit evenly enough."""
    zone = sight.ground.copy()
    if sight.row is not None:
        left, right = (round(v) for v in _kept(sight, _ends(sight)))
        zone[:, : max(left, 0)] = zone[:, max(right, 1) :] = False
    if zone.mean() < 0.005:
        return []
    calm = _blocks(sight.luminance, zone)
    ratio = float(np.percentile(calm, 98) / max(float(np.percentile(calm, 2)), 1e-4))
    says = f"the board's brightest part has {ratio:.1f} times the light of its darkest (at most {MOST_UNEVEN:g} times)"
    if ratio > MOST_UNEVEN:
        return [mend("Even light", says, "Move the lamp to the middle or farther off, or light the dark side too.")]
    return [fine("Even light", says)]


def _blocks(values: Floats, zone: NDArray[np.bool_], side: int = 12) -> NDArray[np.float32]:
    """Means over square blocks that lie wholly in the zone, so that noise has no say."""
    size = (max(1, values.shape[1] // side), max(1, values.shape[0] // side))
    weight = cv2.resize(zone.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    mean = cv2.resize(values * zone, size, interpolation=cv2.INTER_AREA)
    whole = weight > 0.9
    return np.asarray(mean[whole] / weight[whole] if whole.any() else values[zone], dtype=np.float32)


@dataclass(frozen=True)
class Ends:
    """Where the board ends in the small picture; the picture's own edges where it does not."""

    left: float
    right: float
    top: float


def _ends(sight: Sight) -> Ends:
    """The ends of the board about the row: steps in the colour of columns left and right, of rows above."""
    row = sight.row
    assert row is not None
    height, width = sight.card.shape
    low = max(4, round(row.soil_y - LOWEST_SHARE * height))
    lab = to_lab(np.asarray(cv2.GaussianBlur(sight.light, (0, 0), 1.5), dtype=np.float32))
    middle = (row.left + row.right) / 2
    # Half of a column is board even where a plant stands in it.
    columns = _profile(lab[low // 3 : low], axis=0)
    steps = _steps(columns, max(3, round(STEP_SHARE * width)))
    left = max((s for s in steps if s < middle), default=0.0)
    right = min((s for s in steps if s > middle), default=float(width - 1))
    inner = slice(max(0, int(max(left, row.left))), max(2, int(min(right, row.right))))
    rows = _profile(lab[:low, inner], axis=1)
    # Near the soil plants cover a row; a board that ends there is seen by its columns.
    top = max((s for s in _steps(rows, max(3, round(STEP_SHARE * height))) if s < 0.85 * low), default=0.0)
    return Ends(left, right, top)


def _profile(lab: Floats, axis: int) -> Floats:
    return np.asarray(np.median(lab, axis=axis), dtype=np.float32)


def _steps(profile: Floats, reach: int) -> list[float]:
    """Places where the colour changes by more than shading does and stays changed for a while."""
    if len(profile) < 6 * reach:
        return []
    cuts = np.arange(2 * reach, len(profile) - 2 * reach)
    before = np.stack([np.median(profile[c - 2 * reach : c - reach // 2], axis=0) for c in cuts])
    after = np.stack([np.median(profile[c + reach // 2 + 1 : c + 2 * reach], axis=0) for c in cuts])
    jump = np.linalg.norm(after - before, axis=1)
    places = []
    while jump.size and float(jump.max()) > END_LAB:
        best = int(jump.argmax())
        places.append(float(cuts[best]))
        jump[max(0, best - 3 * reach) : best + 3 * reach] = 0
    return places


def _kept(sight: Sight, ends: Ends) -> tuple[float, float]:
    """The columns of the row that have the board behind them."""
    row = sight.row
    assert row is not None
    return max(row.left, ends.left + 4), min(row.right, ends.right - 4)


def behind_the_row(sight: Sight, needed_px: float | None) -> list[Line]:
    """Whether the board stands behind the whole row, and as high as the plants will need.

    Parameters
    ----------
    sight
        What is seen; nothing is said from above.
    needed_px
        Height above the soil that plants will need, in pixels of the small picture, or None if not known.
    """
    row = sight.row
    if row is None:
        return []
    ends = _ends(sight)
    missing = max(ends.left - row.left, row.right - ends.right, 0.0)
    side = "left" if ends.left - row.left > row.right - ends.right else "right"
    if missing > 0.01 * row.width:
        says = f"the board ends {_length(sight, missing)} before the {side} end of the row"
        return [mend("Board", says, f"Move the board to the {side}, or take a wider one: it must reach past all pots.")]
    short = 0.0 if needed_px is None else ends.top - (row.soil_y - needed_px)
    if ends.top > 0 and short > 0:
        says = f"the board ends {_length(sight, row.soil_y - ends.top)} above the soil"
        return [mend("Board", f"{says}, the plants will need {_length(sight, needed_px or 0.0)}", "Take a higher one.")]
    return [fine("Board", "behind the whole row")]


def _length(sight: Sight, small_px: float) -> str:
    mm = sight.in_mm(small_px)
    return f"{small_px * sight.shrink:.0f} pixels" if mm is None else f"{mm:.0f} mm"
