"""The unit of work: one photo, the reference and the tray go in, the photo's findings come out."""

from __future__ import annotations

import cv2
import numpy as np

from sproutlapse.tray import Tray
from sproutlapse.vision import align
from sproutlapse.vision.cells import above_labels
from sproutlapse.vision.colour import Bytes, Floats, to_lab, to_light
from sproutlapse.vision.findings import Findings
from sproutlapse.vision.light import NoLightError, read_lighting
from sproutlapse.vision.plants import Setting, above_finding, side_finding, side_labels
from sproutlapse.vision.reference import Reference
from sproutlapse.vision.shade import WIDE_MM
from sproutlapse.vision.share import Labels
from sproutlapse.vision.tissue import Tissue, find_tissue


def measure(picture: Bytes, reference: Reference, tray: Tray) -> Findings:
    """Measure one photo.

    Parameters
    ----------
    picture
        (height, width, 3) 8-bit sRGB, of the reference's size.
    reference
        See `reference.make_reference`.
    tray
        The complete tray that the reference was made for.

    Returns
    -------
    Findings
        With `fault` set, in plain words, where the photo cannot be measured.
    """
    light = to_light(picture, reference.balance)
    placed = align.place(light, reference.marks)
    if placed is None:
        return Findings("camera moved: what stands still was not found again in this photo")
    shift, turn = align.shift_and_turn(placed.matrix, light.shape)
    try:
        tissue, gains = _tissue(light, reference, placed, above=tray.view.from_ == "above")
    except NoLightError:
        return Findings("obstructed: nothing of the board is seen to read the light from")
    setting = Setting(placed.matrix, reference.mm_per_px)
    if tray.view.from_ == "above":
        labels = above_labels(tissue.mask, tray, placed.matrix)
        plants = tuple(above_finding(k, labels, tissue.coverage, setting) for k in range(len(tray.plants)))
    else:
        labels = side_labels(tissue, tray, setting)
        plants = tuple(side_finding(k, p, labels, tissue.coverage, setting) for k, p in enumerate(tray.plants))
    return Findings(
        "", tuple(float(v) for v in placed.matrix.ravel()), gains, shift, turn, placed.moved, plants, labels_png(labels)
    )


def _tissue(
    light: Floats, reference: Reference, placed: align.Placement, *, above: bool
) -> tuple[Tissue, tuple[float, float, float]]:
    """Tissue in the photo's own pixels, and the photo's gains.

    The reference is brought to the photo, not the photo to it, so that every pixel stays as the camera gave it.
    """
    height, width = light.shape[:2]
    bare, surfaces, dark, tolerance = reference.light, reference.surfaces, reference.dark, reference.tolerance
    labels = reference.labels
    bare_lab = reference.lab
    if placed.moved:
        back = align.inverse(placed.matrix)
        bare = np.maximum(align.warped(bare, back), np.float32(0.0))
        bare_lab = to_lab(bare)
        surfaces, dark, labels = (
            align.warped(m.astype(np.float32), back, smooth=False) > 0.5 for m in (surfaces, dark, labels)
        )
        tolerance = align.warped(tolerance, back, smooth=False) + _edge_doubt(bare_lab)
    lighting = read_lighting(light, bare, surfaces)
    rows, columns = _room(reference, placed.matrix)
    even = light[rows, columns] / lighting.field(height, width)[rows, columns]
    ground = dark if above else np.zeros_like(dark)
    found = find_tissue(
        even,
        bare[rows, columns],
        bare_lab[rows, columns],
        dark=dark[rows, columns],
        ground=ground[rows, columns],
        tolerance=tolerance[rows, columns],
        labels=labels[rows, columns],
        shadow_px=WIDE_MM / Setting(placed.matrix, reference.mm_per_px).mm(0),
    )
    return _whole(found, (height, width), rows, columns), lighting.gains


def _room(reference: Reference, matrix: align.Matrix) -> tuple[slice, slice]:
    """Rows and columns of the photo in which plants may be seen."""
    width, height = reference.size
    left, top, right, bottom = reference.room
    corners = align.move(
        align.inverse(matrix), np.array([[left, top], [right, top], [right, bottom], [left, bottom]], float)
    )
    low, high = np.floor(corners.min(axis=0)).astype(int), np.ceil(corners.max(axis=0)).astype(int)
    return slice(max(0, low[1]), min(height, high[1] + 1)), slice(max(0, low[0]), min(width, high[0] + 1))


def _whole(part: Tissue, shape: tuple[int, int], rows: slice, columns: slice) -> Tissue:
    """Tissue of a part of the picture set into the whole."""
    mask = np.zeros(shape, bool)
    coverage, distance = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    mask[rows, columns], coverage[rows, columns], distance[rows, columns] = part.mask, part.coverage, part.distance
    return Tissue(mask, coverage, distance)


def _edge_doubt(lab: Floats) -> Floats:
    """CIELAB distance that a fifth of a pixel of misplacement may make at the stage's edges."""
    steep = np.zeros(lab.shape[:2], np.float32)
    for k in range(3):
        plane = np.ascontiguousarray(lab[..., k])
        steep = np.maximum(
            steep, np.hypot(cv2.Scharr(plane, cv2.CV_32F, 1, 0), cv2.Scharr(plane, cv2.CV_32F, 0, 1)) / 32
        )
    return 0.2 * steep


def labels_png(labels: Labels) -> bytes:
    """The label picture as PNG bytes."""
    ok, data = cv2.imencode(".png", labels, [cv2.IMWRITE_PNG_COMPRESSION, 6])
    if not ok:
        raise RuntimeError("the label picture could not be packed as PNG")
    return bytes(data)


def read_labels(data: bytes) -> Labels:
    """The label picture of `labels_png`."""
    return np.asarray(cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_UNCHANGED), dtype=np.uint8)
