"""Undo a bumped camera, or one put back by hand: where a photo's pixels lie in the reference picture, from what stands
still."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.vision.colour import Floats, Mask
from sproutlapse.vision.stands import Features, features, guesses

Matrix = NDArray[np.float64]

POINTS = 240  # corners followed
LEAST_POINTS = 12  # fewer found again: the view cannot be told
TRACK_PX = 21  # window of a corner
LEVELS, FEW_LEVELS = 5, 2  # halvings of the pictures: few suffice for a bump, and take half the time
STILL_PX = 0.12  # a smaller movement of every picture corner is no movement
FOUND_SHARE = 0.4  # of the corners that ought to be in view: fewer fit when a pot is taken for its equal neighbour
MISS_PX = 0.6  # corners that do not fit the common movement to this are not still
FIRM_LEAST = (
    8  # corners on things that nobody lifts (mark, table): fewer do not say whether the camera or the pots moved
)
MOST_SHARE = 0.6  # of all corners share a movement that is the camera's; mark and one pot by chance are fewer
FIRM_PX, FIRM_SHARE = 1.0, 0.5  # so near must so many of them lie, or it was the pots that moved
STOOD_PX = 0.35  # corners on them that lie so near to their place: the camera stood, only pots moved
EDGE_PX = 4  # of a picture that was turned: what lies nearer to its edge was made up
MOST_TURN_DEG, MOST_SHIFT, MOST_SCALE = 6.0, 0.25, 0.08  # beyond this the camera was set up anew


@dataclass(frozen=True)
class Landmarks:
    """Corners of still things in the reference picture.

    Attributes
    ----------
    grey
        (height, width) uint8, the reference picture, evened for brightness.
    points
        (n, 1, 2) float32 corner places (x, y).
    group
        (n,) int: 0 on things that nobody lifts for watering; other numbers for each pot or tray that may be.
    features
        What is recognised where a corner cannot be followed, because the camera was put back by hand.
    upright
        (2, 3) takes the pixels of a camera that stood still to the reference's, where these were turned upright.
    """

    grey: NDArray[np.uint8]
    points: NDArray[np.float32]
    group: NDArray[np.int64]
    features: Features = field(default_factory=Features)
    upright: Matrix = field(default_factory=lambda: np.eye(2, 3))

    @property
    def still(self) -> Placement:
        """The place of a camera that stood still."""
        return Placement(self.upright, moved=not np.array_equal(self.upright, np.eye(2, 3)), residual_px=float("nan"))


@dataclass(frozen=True)
class Placement:
    """Where a photo lies on the reference: `matrix` (2, 3) takes its pixels to the reference's."""

    matrix: Matrix
    moved: bool
    residual_px: float


def tracking_grey(light: Floats) -> NDArray[np.uint8]:
    """Grey picture for following corners: brightness evened so that dark pots show their edges too."""
    grey = np.sqrt(np.clip(cv2.cvtColor(light, cv2.COLOR_RGB2GRAY), 0.0, 1.0))
    return np.asarray(np.clip(grey * 255.0 / max(1e-3, float(np.percentile(grey, 90))) * 0.75, 0, 255), dtype=np.uint8)


def landmarks(light: Floats, still: Mask | None = None, lifted: NDArray[np.uint8] | None = None) -> Landmarks:
    """Corners to follow on the reference.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the reference picture.
    still
        (height, width) places where nothing grows, or None for everywhere.
    lifted
        (height, width) number of the pot or tray that is taken up and put back at a place, 0 for none; None if nothing
        is.
    """
    grey = tracking_grey(light)
    where = None if still is None else still.astype(np.uint8)
    found = cv2.goodFeaturesToTrack(grey, POINTS, 0.01, 12, mask=where, blockSize=7)
    points = np.asarray(found if np.ndim(found) else [], dtype=np.float32).reshape(-1, 1, 2)  # none come as None
    group = np.zeros(len(points), np.int64)
    if lifted is not None and len(points):
        columns, rows = points.reshape(-1, 2).round().astype(int).T
        group = lifted[rows, columns].astype(np.int64)
    known = features(grey, still)
    if lifted is not None:  # marks on pots go where the pots go
        places = {n: np.clip(c.mean(axis=0).round().astype(int), 0, None) for n, c in known.marks.items()}
        firm = {n: c for n, c in known.marks.items() if lifted[places[n][1], places[n][0]] == 0}
        known = replace(known, marks=firm)
    return Landmarks(grey, points, group, known)


def place(light: Floats, marks: Landmarks, grey: NDArray[np.uint8] | None = None) -> Placement | None:
    """The photo's place on the reference, or None if it cannot be told.

    Corners are followed from the reference into the photo and back; those that do not return are dropped. A shift, a
    turn and a common scale are fitted to the rest, robustly. Where that fails, or the way was long, they are followed
    into the photo as a first guess brings it to the reference.

    Parameters
    ----------
    light
        (height, width, 3) linear light of the photo, same size as the reference.
    marks
        See `landmarks`.
    grey
        The photo's `tracking_grey`, where it is known.
    """
    if len(marks.points) < LEAST_POINTS:
        return marks.still
    grey = tracking_grey(light) if grey is None else grey
    near = _placed(marks, grey, marks.upright, levels=FEW_LEVELS) or _placed(marks, grey, marks.upright)
    if near is not None:
        # Windows that were turned or grew are followed less exactly than upright ones.
        return (_placed(marks, grey, near.matrix) or near) if near.moved else near
    for guess in guesses(features(grey), marks.features):
        rough = _placed(marks, grey, guess) if _plausible(_since(marks, guess), grey.shape) else None
        if rough is not None:
            return _placed(marks, grey, rough.matrix) or rough
    return None


def placed_near(
    grey: NDArray[np.uint8], marks: Landmarks, guess: Matrix, *, least_share: float = FOUND_SHARE
) -> Placement | None:
    """As `place`, but sought near a first guess only.

    Parameters
    ----------
    grey
        (height, width) picture of the photo, made as that of the landmarks was.
    marks
        See `place`.
    guess
        (2, 3) matrix that takes the photo's pixels near to the reference's.
    least_share
        Share of the corners in view that must be found.
    """
    few = _placed(marks, grey, guess, least_share, levels=FEW_LEVELS)
    return few or _placed(marks, grey, guess, least_share)


def _placed(
    marks: Landmarks,
    grey: NDArray[np.uint8],
    guess: Matrix,
    least_share: float = FOUND_SHARE,
    *,
    levels: int = LEVELS,
) -> Placement | None:
    """The place of a photo that a first guess brings near to the reference."""
    here, there, group = _follow(marks, grey, guess, levels)
    if len(here) < LEAST_POINTS:
        return None
    fitted = _fitted(here, there, group, marks.upright)
    if fitted is None:
        return None
    matrix, good = fitted
    residual = float(np.sqrt((_misses(matrix, here, there)[good] ** 2).mean()))
    ours = np.ones(len(marks.group), bool) if good[group > 0].any() else marks.group == 0
    since = _since(marks, matrix)
    if not _plausible(since, grey.shape) or int(good.sum()) < least_share * _in_view(marks, matrix, ours):
        return None
    if corner_shift_px(since, grey.shape) < STILL_PX:
        return replace(marks.still, residual_px=residual)
    return Placement(matrix, moved=True, residual_px=residual)


def _since(marks: Landmarks, matrix: Matrix) -> Matrix:
    """How the camera moved since the reference, from where its photo lies on it."""
    return chained(matrix, inverse(marks.upright))


def _fitted(
    here: NDArray[np.float64], there: NDArray[np.float64], group: NDArray[np.int64], upright: Matrix
) -> tuple[Matrix, NDArray[np.bool_]] | None:
    """The camera's movement, and which corners it explains.

    Pots that were lifted and put back together are many corners that agree; if what nobody lifts contradicts them,
    it is asked alone.
    """
    common, firm = _common(here, there, max(LEAST_POINTS, 0.3 * len(here))), group == 0
    if firm.sum() < FIRM_LEAST:
        return common
    if common is not None and common[1].mean() >= MOST_SHARE and _firm_agrees(common[0], here[firm], there[firm]):
        return common
    stood = firm & (_misses(upright, here, there) < STOOD_PX)
    if stood.sum() >= max(FIRM_LEAST, FIRM_SHARE * firm.sum()):
        return upright, stood
    alone = _common(here[firm], there[firm], max(FIRM_LEAST, FIRM_SHARE * firm.sum()))
    if alone is None:
        return common
    good = np.zeros(len(here), bool)
    good[np.flatnonzero(firm)[alone[1]]] = True
    return alone[0], good


def _firm_agrees(matrix: Matrix, here: NDArray[np.float64], there: NDArray[np.float64]) -> bool:
    return bool(np.mean(_misses(matrix, here, there) < FIRM_PX) >= FIRM_SHARE)


def _common(
    here: NDArray[np.float64], there: NDArray[np.float64], least: float
) -> tuple[Matrix, NDArray[np.bool_]] | None:
    """The movement that most of the corners share, if at least so many do."""
    fitted, inlier = cv2.estimateAffinePartial2D(
        here, there, method=cv2.RANSAC, ransacReprojThreshold=MISS_PX, maxIters=2000, confidence=0.999
    )
    if np.ndim(fitted) != 2 or int(inlier.sum()) < least:
        return None
    return np.asarray(fitted, dtype=np.float64), inlier.ravel().astype(bool)


def _misses(matrix: Matrix, here: NDArray[np.float64], there: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far each corner ends from its place, in pixels."""
    return np.asarray(np.linalg.norm(move(matrix, here) - there, axis=1))


def _follow(
    marks: Landmarks, grey: NDArray[np.uint8], guess: Matrix, levels: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
    """Corner places in the photo and on the reference, those only that were followed there and back, and their
    groups."""
    near = not np.array_equal(guess, np.eye(2, 3))
    if near:
        size = (grey.shape[1], grey.shape[0])
        brought = cv2.warpAffine(grey, guess, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        grey = np.asarray(brought, dtype=np.uint8)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 40, 0.005)
    side = (TRACK_PX, TRACK_PX)
    points = marks.points
    there = np.empty_like(points)
    found, ok, _ = cv2.calcOpticalFlowPyrLK(
        marks.grey, grey, points, there, winSize=side, maxLevel=levels, criteria=stop
    )
    again = np.empty_like(points)
    back, ok_back, _ = cv2.calcOpticalFlowPyrLK(
        grey, marks.grey, found, again, winSize=side, maxLevel=levels, criteria=stop
    )
    returned = np.linalg.norm((np.asarray(back) - points).reshape(-1, 2), axis=1) < 0.25
    keep = (np.ravel(ok) == 1) & (np.ravel(ok_back) == 1) & returned
    here = np.asarray(found, dtype=np.float64).reshape(-1, 2)
    if near:
        here = move(inverse(guess), here)
        keep &= ((here >= 0) & (here <= np.array([grey.shape[1] - 1, grey.shape[0] - 1]))).all(axis=1)
    return here[keep], points.reshape(-1, 2).astype(np.float64)[keep], marks.group[keep]


def _in_view(marks: Landmarks, matrix: Matrix, ours: NDArray[np.bool_]) -> int:
    """How many of these corners lie within a photo that a matrix takes to the reference."""
    height, width = marks.grey.shape
    here = move(inverse(matrix), marks.points.reshape(-1, 2)[ours].astype(np.float64))
    return int(((here >= 0) & (here < (width, height))).all(axis=1).sum())


def corner_shift_px(matrix: Matrix, shape: tuple[int, ...]) -> float:
    """The longest way that a corner of the picture moves, in pixels."""
    height, width = shape[:2]
    corners = np.array([[0, 0], [width, 0], [0, height], [width, height]], float)
    return float(np.linalg.norm(corners @ matrix[:, :2].T + matrix[:, 2] - corners, axis=1).max())


def shift_and_turn(matrix: Matrix, shape: tuple[int, ...]) -> tuple[float, float]:
    """Shift of the picture's centre in pixels, and turn in degrees anticlockwise as seen, of the photo's contents."""
    height, width = shape[:2]
    centre = np.array([(width - 1) / 2, (height - 1) / 2])
    moved = matrix[:, :2] @ centre + matrix[:, 2] - centre
    return float(np.hypot(*moved)), float(np.degrees(np.arctan2(matrix[1, 0], matrix[0, 0])))


def _plausible(matrix: Matrix, shape: tuple[int, ...]) -> bool:
    shift, turn = shift_and_turn(matrix, shape)
    scale = float(np.hypot(matrix[0, 0], matrix[1, 0]))
    return abs(turn) <= MOST_TURN_DEG and shift <= MOST_SHIFT * shape[1] and abs(scale - 1.0) <= MOST_SCALE


def warped(picture: Floats, matrix: Matrix, *, smooth: bool = True) -> Floats:
    """A picture taken through a (2, 3) matrix, same size; what comes in from beyond the edge repeats the edge."""
    height, width = picture.shape[:2]
    how = cv2.INTER_CUBIC if smooth else cv2.INTER_NEAREST
    out = cv2.warpAffine(picture, matrix, (width, height), flags=how, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(out, dtype=np.float32)


def seen(matrix: Matrix, shape: tuple[int, ...]) -> Mask:
    """(height, width) bool: what a picture of this shape covers of the pixels that a (2, 3) matrix takes it to, but for
    a margin at its edges."""
    inner = np.zeros(shape[:2], np.float32)
    inner[EDGE_PX:-EDGE_PX, EDGE_PX:-EDGE_PX] = 1.0
    out = cv2.warpAffine(inner, matrix, (shape[1], shape[0]), flags=cv2.INTER_NEAREST, borderValue=0)
    return np.asarray(out) > 0.5


def inverse(matrix: Matrix) -> Matrix:
    """The (2, 3) matrix that undoes another one."""
    return np.asarray(cv2.invertAffineTransform(matrix), dtype=np.float64)


def chained(after: Matrix, first: Matrix) -> Matrix:
    """The (2, 3) matrix that does `first` and then `after`."""
    return np.asarray(np.vstack([after, [0, 0, 1]])[:2] @ np.vstack([first, [0, 0, 1]]), dtype=np.float64)


def move(matrix: Matrix, points: NDArray[np.float64]) -> NDArray[np.float64]:
    """(n, 2) points taken through a (2, 3) matrix."""
    return np.asarray(points @ matrix[:, :2].T + matrix[:, 2], dtype=np.float64)
