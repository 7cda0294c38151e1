"""Which patches of the very first photos are plants that stood there already, seen from the side before the board."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision.backdrop import boardless
from sproutlapse.vision.colour import Floats, Mask, to_lab

# CIELAB units where nothing else is said; found on rendered trays of several kinds and light, no published values.
TINTED = 5.0  # chroma apart from the board: a leaf or a stem, not a label or a shadow
KNOWN_TINTED = 3.0  # the same in the strip of a plant of which another view of the camera told that it stands there
PLAINLY_TINTED = 14.0  # so far apart that it need not move to be a plant
BLUE_HUES = (200.0, 315.0)  # hue angle, degrees: ink, and a white label before a cream board; never a leaf
DARKER = 7.0  # L below the board's: tissue, if it hangs together with some that is tinted
TINTED_SHARE = 0.12  # of a patch: a label's writing makes up less
PLAIN_SHARE = 0.15  # of a patch: plainly tinted
MOVED_PX, MOVED_L = (
    0.6,
    5.0,
)  # an edge that moved by more than the photos are laid over one another, and by more than noise
MOVED_SHARE = 0.025  # of a patch and its rim: what lives moves
SEVERAL = 4  # photos, to see what moves
NOT_BOARD = 12.0  # distance from the board: a pot or its soil
MOSTLY = 0.4  # of a row of the strip that is dark over its whole width, as at the soil line
WIDE_MM = 6.0  # a still blob of this width that is hardly darker than the board is a label
LABEL_APART = 4.0  # distance from the board
LABEL_L = 22.0  # L below the board's at most
JOIN_PX = 5
ROOT_PX = 8  # a patch that comes this near to the rim stands in the pot
RIM_FLAT = 5.0  # times as wide as high: the upper edge of a pot
LEAST_PX = 12  # smaller patches are specks of perlite or ink


@dataclass(frozen=True)
class Standing:
    """What the first photo shows before the board.

    Attributes
    ----------
    stands
        (height, width) bool: plants.
    sure
        (rows, width) bool: the part of them that is tinted by itself.
    rims
        First row of the pot of each plant, by its number in tray order.
    labels
        (height, width) bool: still white things.
    boardless
        (rows, width) bool: where no board is seen behind the plants, see `backdrop.boardless`.
    """

    stands: Mask
    sure: Mask
    rims: dict[int, int]
    labels: Mask
    boardless: Mask


def standing(lights: Sequence[Floats], board: Floats, tray: Tray, known: Sequence[bool] = ()) -> Standing:
    """Where plants stand in the first photo.

    A plant is told from a label, its writing and the pot by three things together: it is rooted at the rim of a pot, it
    has a leaf's tint before the board, and it moves from photo to photo unless that tint is plain.

    Parameters
    ----------
    lights
        The first photos (height, width, 3), same light and geometry, in order.
    board
        (rows, width, 3) the plain board above the lowest soil line, see `bare.smooth_board`.
    tray
        What stands in view.
    known
        For each plant whether it is known to stand there; empty if nothing is.
    """
    floor = len(board)
    board_lab = to_lab(board)
    first = to_lab(lights[0][:floor])
    tinted, seen = tints(first, board_lab, least_tint(board_lab, tray, known))
    moving = moved(lights, floor)
    if len(lights) >= SEVERAL:
        seen |= moving & (first[..., 0] < board_lab[..., 0] - DARKER)  # a nearly black leaf, or one of a label's blue
    seen = cv2.morphologyEx(seen.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((3, 3), np.uint8)).astype(bool)
    plain = tinted & (np.linalg.norm(_away(first, board_lab), axis=-1) > PLAINLY_TINTED)
    covered = np.linalg.norm(first - board_lab, axis=-1) > NOT_BOARD
    sticks = labels(first, board_lab, plain | moving, tray)
    room = boardless(first, board_lab, moving if len(lights) >= SEVERAL else None, tray)
    seen &= ~sticks & ~room
    height, width = lights[0].shape[:2]
    out = np.zeros((height, width), bool)
    rims: dict[int, int] = {}
    for k, plant in enumerate(tray.plants):
        if plant.soil_y_px is None:
            continue
        strip = max(0, int(plant.box_px[0])), min(width, int(plant.box_px[2]) + 1)
        rims[k] = pot_top(covered, plant)
        above = seen[: max(0, rims[k] - 1)]
        if not above.any():
            continue
        # Leaves seen on edge are broken up: parts this near to one another hang together.
        joined = cv2.dilate(above.astype(np.uint8), np.ones((JOIN_PX, JOIN_PX), np.uint8))
        _, label = cv2.connectedComponents(joined, connectivity=8)
        foot = np.where(above, label, 0)[max(0, rims[k] - 1 - ROOT_PX) : rims[k] - 1, strip[0] : strip[1]]
        for number in set(np.unique(foot).tolist()) - {0}:
            patch = above & (label == number)
            if int(patch.sum()) >= LEAST_PX and _lives(
                patch, tinted[: len(above)], plain[: len(above)], moving[: len(above)]
            ):
                out[: len(above)] |= patch
    whole = np.zeros_like(out)
    whole[:floor] = sticks
    return Standing(out, tinted & out[:floor], rims, whole, room)


def _lives(patch: Mask, tinted: Mask, plain: Mask, moving: Mask) -> bool:
    """Whether a rooted patch is a plant."""
    area = int(patch.sum())
    rows, columns = np.flatnonzero(patch.any(axis=1)), np.flatnonzero(patch.any(axis=0))
    if np.ptp(columns) + 1 > RIM_FLAT * (np.ptp(rows) + 1):
        return False
    if int(tinted[patch].sum()) < TINTED_SHARE * area:
        return False
    if int(plain[patch].sum()) >= PLAIN_SHARE * area:
        return True
    round_it = cv2.dilate(patch.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool)
    return int(moving[round_it].sum()) >= max(4, MOVED_SHARE * area)


def least_tint(board: Floats, tray: Tray, known: Sequence[bool]) -> Floats | float:
    """Chroma apart from the board from which on something is taken for a plant, by place where some are known."""
    if not any(known):
        return TINTED
    out = np.full(board.shape[:2], TINTED, np.float32)
    for plant, there in zip(tray.plants, known, strict=True):
        if there:
            out[:, max(0, int(plant.box_px[0])) : int(plant.box_px[2]) + 1] = KNOWN_TINTED
    return out


def tints(lab: Floats, board: Floats, least: Floats | float = TINTED) -> tuple[Mask, Mask]:
    """Where a picture plainly shows tissue before the board, and where it may: tinted or, close by, darker.

    A label or a shadow has the board's tint; a leaf has not, though its darkest parts may come near it.
    """
    away = _away(lab, board)
    hue = np.degrees(np.arctan2(away[..., 1], away[..., 0])) % 360
    leafy = (hue < BLUE_HUES[0]) | (hue > BLUE_HUES[1])
    tinted = (np.linalg.norm(away, axis=-1) > least) & leafy & (lab[..., 0] < board[..., 0] + 4)
    near = cv2.dilate(tinted.astype(np.uint8), np.ones((9, 9), np.uint8)).astype(bool)
    return np.asarray(tinted), np.asarray(tinted | (near & (lab[..., 0] < board[..., 0] - DARKER)))


def _away(lab: Floats, board: Floats) -> Floats:
    """(height, width, 2) a* and b* apart from those of the board in the same shade."""
    shade = np.clip((lab[..., :1] + 16) / (board[..., :1] + 16), 0, 1.2)
    return np.asarray(lab[..., 1:] - board[..., 1:] * shade, dtype=np.float32)


def moved(lights: Sequence[Floats], floor: int) -> Mask:
    """Where an edge moved among the first photos; everywhere, if there are too few photos to tell.

    Parameters
    ----------
    lights
        (height, width, 3) linear light, in order.
    floor
        Rows to look at.
    """
    if len(lights) < SEVERAL:
        return np.ones((floor, lights[0].shape[1]), bool)
    grey = [np.sqrt(np.clip(x[:floor].mean(axis=-1), 0, 1)) * 100 for x in lights]
    first = cv2.GaussianBlur(grey[0], (0, 0), 1.0)
    steep = cv2.dilate(
        np.hypot(cv2.Sobel(first, cv2.CV_32F, 1, 0), cv2.Sobel(first, cv2.CV_32F, 0, 1)) / 8, np.ones((3, 3))
    )
    apart = np.max([np.abs(cv2.GaussianBlur(x, (0, 0), 1.0) - first) for x in grey[len(grey) // 2 :]], axis=0)
    return np.asarray(apart > MOVED_L + MOVED_PX * steep)


def labels(lab: Floats, board: Floats, lively: Mask, tray: Tray) -> Mask:
    """(rows, width) bool: wide still blobs hardly darker than the board, with the writing on them."""
    apart = np.linalg.norm(cv2.blur(lab - board, (3, 3)), axis=-1)
    pale = (apart > LABEL_APART) & (lab[..., 0] > board[..., 0] - LABEL_L) & ~lively
    # Without a scale yet, a strip of a plant is about 70 mm wide.
    widths = [plant.box_px[2] - plant.box_px[0] for plant in tray.plants]
    side = max(3, round(WIDE_MM / 70 * float(np.median(widths)))) if widths else 9
    stroke, square = (np.ones((n, n), np.uint8) for n in (max(3, side // 2), side))
    filled = cv2.morphologyEx(pale.astype(np.uint8), cv2.MORPH_CLOSE, stroke)
    return np.asarray((cv2.morphologyEx(filled, cv2.MORPH_OPEN, square) > 0) & ~lively)


def pot_top(covered: Mask, plant: Plant) -> int:
    """First row of the pot in a plant's strip: from there to the soil line it is dark over most of its width.

    A pot's white rim before a white board is not seen, but its soil is; a label hides no more than a part of it.
    """
    soil = min(int(plant.soil_y_px or 0), covered.shape[0] - 1)
    left, right = int(max(0, plant.box_px[0])), int(plant.box_px[2]) + 1
    sixth = max(2, (right - left) // 6)
    full = covered[: soil + 1, left + sixth : right - sixth].mean(axis=1) > MOSTLY
    open_rows = np.flatnonzero(~full)
    return int(open_rows[-1]) + 1 if len(open_rows) else 0
