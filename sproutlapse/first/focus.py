"""Focus in one photo: how wide the edges of mark and pots are drawn, against what a pixel and a thin stem allow."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import curve_fit
from scipy.special import ndtr

from sproutlapse.first.sight import Sight
from sproutlapse.first.verdict import Line, fine, look, mend
from sproutlapse.vision.colour import Floats, to_light

# An edge is drawn by a lens as a smooth step; its width is that between 10 and 90 % of the way, 2.56 times the spread.
TEN_TO_NINETY = 2.563
# A sharp photo keeps this below 2 to 3 pixels (ISO 12233 measures the same width). Common practice for good lenses.
MOST_PX = 4.0
# A fine photo may be softer in pixels so long as a stem of 1 mm stays a line of its own. Own proposal, no source.
MOST_MM = 0.65
# A profile is looked at so far to both sides of an edge.
REACH_PX = 14.0
FEWEST_PROFILES = 12
# An edge that differs so little in light (linear, of full scale) is none to judge by.
FAINT = 0.05


def focus(sight: Sight) -> list[Line]:
    """Whether mark and pots are drawn sharply."""
    found = {"mark": _of_mark(sight), "pots": _of_pots(sight)}
    known = {name: width for name, width in found.items() if width is not None}
    if not known:
        return [look("Focus", "no edge of a mark or pot to judge by", "Look at the photo at full size: is it sharp?")]
    mm = sight.mm_per_px
    soft = {name: width for name, width in known.items() if width > MOST_PX and (mm is None or width * mm > MOST_MM)}
    said = ", ".join(f"{name} {width:.1f}" for name, width in known.items())
    says = f"width of edges in pixels: {said} (at most {_limit(mm):.1f})"
    if not soft:
        return [fine("Focus", says)]
    where = "the pots" if "pots" in soft or len(known) == 1 else "the mark"
    if len(soft) == len(known):
        return [mend("Focus", says, "Set the focus on the pots by hand and lock it; hold the camera by a stand.")]
    return [mend("Focus", says, f"Sharp elsewhere, but not on {where}: set the focus on the pots by hand and lock it.")]


def _limit(mm: float | None) -> float:
    return MOST_PX if mm is None else max(MOST_PX, MOST_MM / mm)


def _of_mark(sight: Sight) -> float | None:
    """Width of the largest mark's edges, pixels of the photo; that of the softer pair, since shake blurs one way."""
    if not sight.marks:
        return None
    mark = sight.marks[0]
    reach = min(REACH_PX, mark.side_px / 6 * 0.9)
    middle = mark.corners.mean(axis=0)
    widths = []
    for k in range(4):
        start, end = mark.corners[k], mark.corners[(k + 1) % 4]
        along = (end - start) / np.linalg.norm(end - start)
        out = np.array([along[1], -along[0]])
        out = out if float(out @ ((start + end) / 2 - middle)) > 0 else -out
        feet = start + np.linspace(0.12, 0.88, 60)[:, None] * (end - start)
        widths.append(edge_width(_profiles(sight, feet, out, reach)))
    pairs = [[w for w in widths[k::2] if w is not None] for k in (0, 1)]
    return max((sum(pair) / len(pair) for pair in pairs if pair), default=None)


def _of_pots(sight: Sight) -> float | None:
    """Median width of the pots' left and right outlines, pixels of the photo."""
    widths = []
    for pot in sight.pots:
        # Below the rim and above the foot the outline is straight, though it leans with the pot's taper.
        high = pot.rim_y + pot.rim_half_height + 0.12 * (pot.bottom - pot.rim_y)
        rows = np.linspace(high, pot.rim_y + 0.8 * (pot.bottom - pot.rim_y), 60)
        for x, out in ((pot.left, -1.0), (pot.right, 1.0)):
            feet = (np.column_stack([np.full_like(rows, x), rows]) + 0.5) * sight.shrink - 0.5
            reach = max(REACH_PX, 0.12 * pot.width * sight.shrink)
            widths.append(edge_width(_profiles(sight, feet, np.array([out, 0.0]), reach)))
    known = [w for w in widths if w is not None]
    return float(np.median(known)) if known else None


def _profiles(sight: Sight, feet: NDArray[np.float64], out: NDArray[np.float64], reach: float) -> Floats:
    """(feet, steps of a quarter pixel) linear light from inside to outside across an edge."""
    steps = np.arange(-reach, reach + 1e-9, 0.25)
    places = feet[:, None, :] + out * steps[None, :, None]
    low = np.floor(places.min(axis=(0, 1))).astype(int) - 3
    high = np.ceil(places.max(axis=(0, 1))).astype(int) + 4
    size = sight.picture.shape
    x0, y0, x1, y1 = max(low[0], 0), max(low[1], 0), min(high[0], size[1]), min(high[1], size[0])
    if x1 - x0 < 4 or y1 - y0 < 4:
        return np.empty((0, len(steps)), np.float32)
    light = to_light(np.ascontiguousarray(sight.picture[y0:y1, x0:x1])).mean(axis=-1)
    local = (places - np.array([x0, y0])).astype(np.float32)
    return np.asarray(
        cv2.remap(light, local[..., 0], local[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32
    )


def edge_width(profiles: Floats) -> float | None:
    """Width of an edge between 10 and 90 % of its step.

    Parameters
    ----------
    profiles
        (n, m) linear light across the edge at n places along it, a quarter of a pixel apart; each is shifted so that
        the edges lie on one another, then their mean is fitted: noise falls out, a lean of the edge has no say.

    Returns
    -------
    float or None
        Pixels; None where no clear edge is seen.
    """
    if len(profiles) < FEWEST_PROFILES:
        return None
    calm = cv2.GaussianBlur(profiles, (0, 0), sigmaX=4.0, sigmaY=1.0)
    steep = np.diff(calm, axis=1)
    sign = np.sign(np.median(profiles[:, -8:]) - np.median(profiles[:, :8]))
    place = (sign * steep).argmax(axis=1)
    # A straight edge: places that stray from its line are another thing.
    index = np.arange(len(place))
    line = np.polynomial.Polynomial.fit(index, place, 1, w=_weights(place))(index)
    good = (np.abs(place - line) < 8) & (line > 20) & (line < profiles.shape[1] - 20)
    if good.sum() < FEWEST_PROFILES:
        return None
    half = min(int(min(line[good].min(), profiles.shape[1] - 1 - line[good].max())), 48)
    columns = np.round(line[good]).astype(int)[:, None] + np.arange(-half, half + 1)
    mean = np.median(np.take_along_axis(profiles[good], columns, axis=1), axis=0)
    return _fitted_width(np.arange(-half, half + 1) / 4.0, mean.astype(np.float64))


def _weights(place: NDArray[np.intp]) -> NDArray[np.float64]:
    return np.where(np.abs(place - np.median(place)) < 16, 1.0, 0.02)


def _fitted_width(x: NDArray[np.float64], light: NDArray[np.float64]) -> float | None:
    """The spread of a smooth step on two slopes (a pot is round, shade lies beside it), fitted to the mean profile."""
    rise = float(light[-8:].mean() - light[:8].mean())
    if abs(rise) < FAINT:
        return None
    try:
        fit, _ = curve_fit(
            _step,
            x,
            light,
            p0=(float(light[:8].mean()), rise, 0.0, 1.0, 0.0, 0.0),
            bounds=((-1, -2, -4, 0.1, -0.1, -0.1), (2, 2, 4, 12, 0.1, 0.1)),
        )
    except RuntimeError:
        return None
    return float(TEN_TO_NINETY * fit[3]) if abs(fit[1]) > FAINT else None


def _step(x: NDArray[np.float64], *parts: float) -> NDArray[np.float64]:
    low, rise, at, spread, inner, outer = parts
    share = np.asarray(ndtr((x - at) / spread), dtype=np.float64)
    return low + rise * share + inner * (x - at) * (1 - share) + outer * (x - at) * share
