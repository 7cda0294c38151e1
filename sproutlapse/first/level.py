"""Whether the camera stands level in one photo: by the mark's edges, the line of rims, and how far it looks down."""

from __future__ import annotations

from math import asin, degrees

import numpy as np
from scipy.stats import theilslopes

from sproutlapse.first.sight import Sight
from sproutlapse.first.verdict import Line, fine, mend
from sproutlapse.vision.scale import Mark

# A picture turned by less is undone without loss. Common practice, no source.
MOST_ROLL_DEG = 2.0
# Looking down 15 degrees shortens heights by 3.4 % (handbook 7.1).
MOST_DOWN_DEG = 15.0
# From above: sides of the mark that differ so much are seen at a slant of about 15 degrees.
MOST_SLANT_SHARE = 0.035


def level(sight: Sight) -> list[Line]:
    """Whether the camera is held straight, and not looking down too much."""
    if sight.view == "above":
        return _from_above(sight)
    mark = mark_turn(sight.marks[0]) if sight.marks else None
    rims = rims_turn(sight)
    if mark is None and rims is None:
        return []
    lines = [_roll(mark, rims)]
    down = _down(sight)
    if down is not None and down > MOST_DOWN_DEG:
        says = f"the camera looks down {down:.0f} degrees on the rims (at most {MOST_DOWN_DEG:.0f})"
        lines.append(mend("Looking down", says, "Lower it to the height of the leaves to come, and farther off."))
    return lines


def _roll(mark: float | None, rims: float | None) -> Line:
    said = " and ".join(
        f"{name} {abs(turn):.1f}" for name, turn in (("the rims", rims), ("the mark", mark)) if turn is not None
    )
    says = f"{said} degrees off level (at most {MOST_ROLL_DEG:g})"
    if rims is not None and abs(rims) > MOST_ROLL_DEG and (mark is None or abs(mark) > MOST_ROLL_DEG / 2):
        return mend("Level", says, "Turn the camera until pots and board stand straight.")
    if mark is not None and abs(mark) > MOST_ROLL_DEG:
        if rims is None:
            return mend("Level", says, "Turn the camera, or the mark if it leans, until both stand straight.")
        return mend("Level", says, "The mark leans: stand it straight on its foot.")
    return fine("Level", says)


def mark_turn(mark: Mark) -> float:
    """Degrees that a mark's edges are turned against the picture's sides, to the nearest quarter turn.

    A camera that is rolled turns both pairs of edges; one that looks down or aside makes only one pair run aslant, so
    the pair that is turned less counts.
    """
    sides = np.roll(mark.corners, -1, axis=0) - mark.corners
    turns = np.degrees(np.arctan2(sides[:, 1], sides[:, 0]))
    off = (turns + 45.0) % 90.0 - 45.0
    return float(min(off[::2].mean(), off[1::2].mean(), key=abs))


def rims_turn(sight: Sight) -> float | None:
    """Degrees that the line through the rims slopes; None for fewer than three pots, of which one may stand aside."""
    pots = [pot for pot in sight.pots if not pot.doubtful]
    if len(pots) < 3:
        return None
    slope = theilslopes([pot.rim_y for pot in pots], [(pot.left + pot.right) / 2 for pot in pots]).slope
    return float(np.degrees(np.arctan(slope)))


def _down(sight: Sight) -> float | None:
    """How steeply the camera looks on the rims, degrees: a circle seen so is flattened to the sine of that angle."""
    pots = [pot for pot in sight.pots if not pot.doubtful]
    if not pots:
        return None
    return degrees(asin(min(1.0, float(np.median([2 * pot.rim_half_height / pot.width for pot in pots])))))


def _from_above(sight: Sight) -> list[Line]:
    if not sight.marks:
        return []
    corners = sight.marks[0].corners
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    slant = 1.0 - float(min(sides[0] + sides[2], sides[1] + sides[3]) / max(sides[0] + sides[2], sides[1] + sides[3]))
    says = f"the mark looks {slant:.1%} shorter one way than the other (at most {MOST_SLANT_SHARE:.1%})"
    says = says.replace("%", " %")
    if slant > MOST_SLANT_SHARE:
        return [mend("Level", says, "Let the camera look straight down on the tray.")]
    return [fine("Level", says)]
