"""A first guess of where a camera stands that was put back by hand: what both pictures show goes in, a shift, turn and
scale come out. The guess is rough; `align.place` makes it exact and verifies it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

Grey = NDArray[np.uint8]
Matrix = NDArray[np.float64]

LONG_SIDE_PX = 1600  # features are sought on a picture no longer than this: finer detail guesses no better
FEATURES = 1500
LEAST_MATCHES = 10
NEAR_PX = 4.0  # of such a picture: matches that fit a guess
DISTINCT = 0.8  # of the next best match's distance (the ratio test of D. Lowe, IJCV 2004)


@dataclass(frozen=True)
class Features:
    """What can be recognised in a picture wherever it lies.

    Attributes
    ----------
    points
        (n, 2) places in pixels.
    words
        (n, 32) uint8, what each place looks like.
    marks
        Number of each printed mark to its corners (4, 2) in pixels.
    """

    points: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 2)))
    words: NDArray[np.uint8] = field(default_factory=lambda: np.zeros((0, 32), np.uint8))
    marks: Mapping[int, NDArray[np.float64]] = field(default_factory=dict)


def features(grey: Grey, still: NDArray[np.bool_] | None = None) -> Features:
    """Features of a picture's still things.

    Parameters
    ----------
    grey
        (height, width) uint8.
    still
        (height, width) where nothing grows; None for everywhere.
    """
    step = max(1.0, max(grey.shape) / LONG_SIDE_PX)
    small, where = grey, None if still is None else still.astype(np.uint8)
    if step > 1:
        size = (round(grey.shape[1] / step), round(grey.shape[0] / step))
        small = np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)
        where = None if where is None else np.asarray(cv2.resize(where, size, interpolation=cv2.INTER_NEAREST))
    # Finer steps than usual: the picture's scale changes by a few percent only, and must not fall between two.
    seeker = cv2.ORB_create(nfeatures=FEATURES, scaleFactor=1.1, fastThreshold=7)  # type: ignore[attr-defined]  # stubs lack it
    found, words = seeker.detectAndCompute(small, where)
    points = np.array([one.pt for one in found], float).reshape(-1, 2)
    own = np.zeros((0, 32), np.uint8) if words is None else np.asarray(words, dtype=np.uint8)
    return Features((points + 0.5) * step - 0.5, own, printed_marks(grey))


def printed_marks(grey: Grey) -> dict[int, NDArray[np.float64]]:
    """Corners (4, 2) of printed marks by number; a number seen twice tells nothing and is left out.

    Parameters
    ----------
    grey
        (height, width) uint8.
    """
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, settings).detectMarkers(grey)
    if len(corners) == 0:
        return {}
    all_numbers = [int(n) for n in np.ravel(numbers)]
    return {
        n: np.asarray(c, float).reshape(4, 2)
        for n, c in zip(all_numbers, corners, strict=True)
        if all_numbers.count(n) == 1
    }


def guesses(photo: Features, reference: Features) -> Iterator[Matrix]:
    """(2, 3) matrices that may take the photo's pixels to the reference's: by printed marks, then by likeness.

    Parameters
    ----------
    photo, reference
        See `features`.
    """
    shared = sorted(set(photo.marks) & set(reference.marks))
    if shared:
        here, there = (np.vstack([own.marks[n] for n in shared]) for own in (photo, reference))
        by_marks = similarity(here, there)
        if by_marks is not None:
            yield by_marks
    if min(len(photo.points), len(reference.points)) < LEAST_MATCHES:
        return
    pairs = cv2.BFMatcher(cv2.NORM_HAMMING).knnMatch(photo.words, reference.words, k=2)
    good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < DISTINCT * p[1].distance]
    if len(good) < LEAST_MATCHES:
        return
    here = photo.points[[m.queryIdx for m in good]]
    there = reference.points[[m.trainIdx for m in good]]
    near = NEAR_PX * max(1.0, float(there.max()) / LONG_SIDE_PX)
    fitted, inlier = cv2.estimateAffinePartial2D(
        here, there, method=cv2.RANSAC, ransacReprojThreshold=near, maxIters=5000, confidence=0.999
    )
    if np.ndim(fitted) == 2 and int(inlier.sum()) >= LEAST_MATCHES:
        yield np.asarray(fitted, dtype=np.float64)


def similarity(here: NDArray[np.float64], there: NDArray[np.float64]) -> Matrix | None:
    """The shift, turn and common scale that takes points to points best, by least squares; None for a single place.

    Parameters
    ----------
    here, there
        (n, 2) points.

    Notes
    -----
    As complex numbers there = a here + b (Umeyama, IEEE PAMI 1991, for two dimensions without mirroring).
    """
    z, w = here[:, 0] + 1j * here[:, 1], there[:, 0] + 1j * there[:, 1]
    dz, dw = z - z.mean(), w - w.mean()
    spread = float((np.abs(dz) ** 2).sum())
    if spread <= 0:
        return None
    a = complex((dz.conj() * dw).sum() / spread)
    b = complex(w.mean() - a * z.mean())
    return np.array([[a.real, -a.imag, b.real], [a.imag, a.real, b.imag]])
