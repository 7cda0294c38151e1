"""Tissue to each plant's figures, seen from the side: height, canopy, width, bare stem and lean."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.tray import Plant, Tray
from sproutlapse.vision import align
from sproutlapse.vision.colour import Floats, Mask
from sproutlapse.vision.findings import PlantFinding
from sproutlapse.vision.lens import Lens
from sproutlapse.vision.lookdown import Lookdown
from sproutlapse.vision.share import Labels, share_out
from sproutlapse.vision.stem import bare_stem, stems_at
from sproutlapse.vision.tips import SHARE, tips_of
from sproutlapse.vision.tissue import Tissue

FOOT_MM, FOOT_PX = 5.0, 5.0  # tissue this near above the soil line is rooted there: about the depth of a rim
BELOW_PX = 1.5  # a foot may lie this much below the soil line, which is set to half a pixel at best
RIM_SHARE, RIM_NEAR_PX = 0.12, 3  # of a pot's strip: its far rim lies no higher; a foot is as near to it
ROW_PX = 12.0  # pots whose soil lines lie further apart stand in different rows
# A leaf whose stalk is too thin to be seen all along lies no further from its plant than this.
REACH_MM, REACH_PX = 12.0, 8.0
POINT_PX = 0.5  # of a leaf's point is narrower than half a pixel, and not seen
DOUBT_PX, DOUBT_WIDTH_PX, HALO_PX = 24, 2, 2.0  # how far and how wide doubtful tissue is looked for above a top
COUNT_AT_MM = 4.0  # seedlings are counted by their stems at this height


@dataclass(frozen=True)
class Setting:
    """What a photo's pixels mean: its place on the reference, millimetres per reference pixel of each plant, the camera
    before upright things, where it is known, and the lens whose distortion lengths are freed from."""

    matrix: align.Matrix
    mm_per_px: tuple[float | None, ...]
    camera: Lookdown | None = None
    lens: Lens | None = None

    def straight(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) points of the reference as a lens without distortion would show them."""
        return points if self.lens is None else self.lens.straight(points)

    def upright_px(self, k: int, foot_y: float, tip_y: float) -> float:
        """Pixels of plant k's scale from a row up to another, both freed from distortion; slant of the view undone."""
        mm = self.mm_per_px[k]
        return foot_y - tip_y if self.camera is None or mm is None else self.camera.levelled_px(foot_y, tip_y, mm)

    def stretch(self, points: NDArray[np.float64]) -> float:
        """What an area at (n, 2) points of the reference is to be multiplied by, for the lens's sake."""
        return 1.0 if self.lens is None else float(self.lens.area(points).mean())

    def mm(self, k: int, otherwise: float = 0.35) -> float:
        """Millimetres per pixel of plant k; a usual value where none is known, for reach and windows only."""
        return self.mm_per_px[k] or otherwise


def side_labels(tissue: Tissue, tray: Tray, setting: Setting) -> Labels:
    """Which plant each tissue pixel belongs to, side view.

    A patch belongs to the plant at whose foot it is rooted; one rooted at several feet is shared out along the tissue;
    one that is rooted nowhere goes to the nearest plant, or is none.

    Returns
    -------
    ndarray
        (height, width) uint8; 0 = not plant, k = k-th plant in tray order.
    """
    back = align.inverse(setting.matrix)
    mask = tissue.mask & ~_below_soil(tissue.mask.shape, tray, back)
    feet = np.zeros(mask.shape, np.uint8)
    for k, plant in _rear_first(tray):
        if plant.soil_y_px is None:
            continue
        high = max(FOOT_PX, FOOT_MM / setting.mm(k))
        zone = _zone(
            mask.shape, back, (plant.box_px[0], plant.soil_y_px - high, plant.box_px[2], plant.soil_y_px + BELOW_PX)
        )
        for nearer in tray.plants:
            if nearer.soil_y_px is not None and nearer.soil_y_px > plant.soil_y_px + ROW_PX:
                zone &= ~_zone(mask.shape, back, (nearer.box_px[0], 0.0, nearer.box_px[2], nearer.soil_y_px))
        feet[zone & mask] = k + 1
    if tissue.dark is not None:
        feet = np.maximum(feet, _feet_at_rims(mask, feet, tissue.dark, tray, back))
    reach = max(REACH_PX, REACH_MM / setting.mm(0)) if tray.plants else REACH_PX
    return share_out(mask, feet, reach)


def _feet_at_rims(mask: Mask, feet: Labels, dark: Mask, tray: Tray, back: align.Matrix) -> Labels:
    """Feet of patches that stand on the far rim of a pot's soil: a stem as dark as the soil is not seen before it."""
    count, label = cv2.connectedComponents(mask.astype(np.uint8), connectivity=8)
    rootless = np.bincount(label[feet > 0], minlength=count) == 0
    rootless[0] = False
    out = np.zeros_like(feet)
    if not rootless.any():
        return out
    side = 2 * RIM_NEAR_PX + 1
    stands = rootless[label] & (cv2.dilate(dark.astype(np.uint8), np.ones((side, side), np.uint8)) > 0)
    for k, plant in _rear_first(tray):
        if plant.soil_y_px is not None:
            left, _, right, _ = plant.box_px
            high = RIM_SHARE * (right - left)
            out[stands & _zone(mask.shape, back, (left, plant.soil_y_px - high, right, plant.soil_y_px))] = k + 1
    return out


def _zone(shape: tuple[int, ...], back: align.Matrix, box: tuple[float, float, float, float]) -> Mask:
    """A rectangle of the reference (left, top, right, bottom), as pixels of the photo."""
    left, top, right, bottom = box
    corners = align.move(back, np.array([[left, top], [right, top], [right, bottom], [left, bottom]], float))
    out = np.zeros(shape[:2], np.uint8)
    cv2.fillConvexPoly(out, np.round(corners * 16).astype(np.int32), 1, shift=4)
    return out.astype(bool)


def _below_soil(shape: tuple[int, ...], tray: Tray, back: align.Matrix) -> Mask:
    """Pixels of the photo that lie below the soil line of the pot at that place."""
    height, width = shape[:2]
    out = np.zeros((height, width), bool)
    far = 4.0 * max(height, width)
    lowest = max((p.soil_y_px for p in tray.plants if p.soil_y_px is not None), default=far)
    out |= _zone(shape, back, (-far, lowest + BELOW_PX, far, far))
    for _, plant in _rear_first(tray):
        if plant.soil_y_px is not None:
            left, right, soil = plant.box_px[0], plant.box_px[2], plant.soil_y_px + BELOW_PX
            out &= ~_zone(shape, back, (left, -far, right, soil))  # a nearer plant stands before the rear pots
            out |= _zone(shape, back, (left, soil, right, far))
    return out


def _rear_first(tray: Tray) -> list[tuple[int, Plant]]:
    """Plants with their numbers in tray order, the rear rows (whose soil lines lie higher in the picture) first."""
    return sorted(enumerate(tray.plants), key=lambda item: (item[1].soil_y_px or 0.0, item[0]))


def side_finding(k: int, plant: Plant, labels: Labels, tissue: Tissue, setting: Setting) -> PlantFinding:
    """One plant's figures from the side, in pixels of the reference.

    Parameters
    ----------
    k
        The plant's number in tray order, from 0.
    labels
        (height, width) label picture of the photo.
    tissue
        Its tissue.
    """
    own = labels == k + 1
    box = _bounds(own)
    if box is None or plant.soil_y_px is None:
        return PlantFinding(0.0)
    own, cover, (x0, y0) = _cut(own, tissue.coverage, labels, k, box)
    zoom = float(np.sqrt(abs(np.linalg.det(setting.matrix[:, :2]))))
    rows, columns = np.nonzero(own)
    spots = align.move(setting.matrix, np.column_stack([columns + x0, rows + y0]).astype(float))
    true = setting.straight(spots)
    area = float(cover.sum()) * zoom**2 * setting.stretch(spots)
    top_at = int(np.argmin(true[:, 1]))
    rise = (_tip(cover, rows[top_at], columns[top_at]) + POINT_PX) * zoom
    top_y = float(spots[top_at, 1]) - rise
    foot_x = _foot_x(spots, plant.soil_y_px, max(FOOT_PX, FOOT_MM / setting.mm(k)))
    foot, tip = setting.straight(np.array([[foot_x, plant.soil_y_px], [spots[top_at, 0], top_y]]))
    height = setting.upright_px(k, float(foot[1]), float(tip[1]))
    if height <= 0:
        return PlantFinding(0.0)
    base = align.move(align.inverse(setting.matrix), np.array([[foot_x, plant.soil_y_px]]))[0] - (x0, y0)
    stem = bare_stem(own, cover, float(base[0]), float(base[1]), mm_per_px=setting.mm(k) * zoom)
    # A level top has many topmost pixels: its middle counts, not the first of them.
    level = true[:, 1] < true[top_at, 1] + zoom / 2
    top_x, true_x = float(spots[level, 0].mean()), float(true[level, 0].mean())
    near = float(np.sqrt(setting.stretch(foot[None])))
    seedlings = max(1, stems_at(own, float(base[1]), COUNT_AT_MM / (setting.mm(k) * zoom)))
    joint_y = foot[1] - (0.0 if stem is None else stem.height_px * zoom * near)
    return PlantFinding(
        tissue_px=area,
        height_px=height,
        stem_px=None if stem is None else min(setting.upright_px(k, float(foot[1]), float(joint_y)), height),
        stem_width_px=None if stem is None else stem.width_px * zoom * near,
        width_px=float(np.ptp(true[:, 0])) + zoom,
        lean_deg=float(np.degrees(np.arctan2(true_x - foot[0], height))),
        seedlings=seedlings,
        cut_off=_leaves_picture(box, labels.shape),
        foot_x_px=foot_x,
        top_x_px=top_x,
        top_y_px=top_y,
        top_doubt_px=_top_doubt(tissue.maybe & (labels == 0), int(rows[top_at]) + y0, int(columns[top_at]) + x0) * zoom,
        top_slope=None if setting.camera is None else setting.camera.slope(float(tip[1])),
        tips_px=None if seedlings < 2 else _tips_px((own, (x0, y0)), k, (float(foot[1]), height), setting),
    )


def _tips_px(window: tuple[Mask, tuple[int, int]], k: int, tallest: tuple[float, float], setting: Setting) -> float:
    """The height that nine of ten tips of a clump do not exceed, no more than that of the tallest.

    `window` is its mask and the corner of that in the photo, `tallest` the row of the foot and the height.
    """
    (own, corner), (foot_y, height) = window, tallest
    zoom = float(np.sqrt(abs(np.linalg.det(setting.matrix[:, :2]))))
    spots = setting.straight(align.move(setting.matrix, tips_of(own, setting.mm(k) * zoom) + corner))
    tall = [min(height, setting.upright_px(k, foot_y, float(y) - POINT_PX * zoom)) for _, y in spots]
    return float(np.percentile(tall, SHARE)) if tall else height


def above_finding(k: int, labels: Labels, coverage: Floats, setting: Setting) -> PlantFinding:
    """One plant's figures from above, in pixels of the reference: cover, width and seedlings."""
    own = labels == k + 1
    box = _bounds(own)
    if box is None:
        return PlantFinding(0.0)
    own, cover, (x0, y0) = _cut(own, coverage, labels, k, box)
    zoom = float(np.sqrt(abs(np.linalg.det(setting.matrix[:, :2]))))
    rows, columns = np.nonzero(own)
    spots = align.move(setting.matrix, np.column_stack([columns + x0, rows + y0]).astype(float))
    middle, true = spots.mean(axis=0), setting.straight(spots)
    count, _, stats, _ = cv2.connectedComponentsWithStats(own.astype(np.uint8), connectivity=8)
    return PlantFinding(
        tissue_px=float(cover.sum()) * zoom**2 * setting.stretch(spots),
        width_px=float(max(np.ptp(true[:, 0]), np.ptp(true[:, 1]))) + zoom,
        seedlings=_clumps(own, 2.0 / (setting.mm(k) * zoom)),
        cut_off=_leaves_picture(box, labels.shape, above=True),
        foot_x_px=float(middle[0]),
        top_x_px=float(middle[0]),
        top_y_px=float(middle[1]),
        patches=count - 1,
        patch_share=round(float(stats[1:, cv2.CC_STAT_AREA].max()) / max(int(own.sum()), 1), 4),
    )


def _clumps(own: Mask, gap_px: float) -> int:
    """Seedlings seen from above: groups of tissue further apart than the leaves of one seedling."""
    side = 2 * max(1, round(gap_px)) + 1
    closed = cv2.dilate(np.pad(own.astype(np.uint8), side), np.ones((side, side), np.uint8))
    count, label = cv2.connectedComponents(closed, connectivity=8)
    sizes = np.bincount(label[side:-side, side:-side][own], minlength=count)[1:]
    return max(1, int((sizes >= 0.25 * sizes.max(initial=0)).sum()))


def _bounds(own: Mask) -> tuple[int, int, int, int] | None:
    rows = np.flatnonzero(own.any(axis=1))
    if not len(rows):
        return None
    columns = np.flatnonzero(own[rows[0] : rows[-1] + 1].any(axis=0))
    return int(columns[0]), int(rows[0]), int(columns[-1]), int(rows[-1])


def _cut(
    own: Mask, coverage: Floats, labels: Labels, k: int, box: tuple[int, int, int, int]
) -> tuple[Mask, Floats, tuple[int, int]]:
    """The plant's own window: its mask, and the covered shares of its pixels and of the rim just outside."""
    x0, y0 = max(0, box[0] - 2), max(0, box[1] - 2)
    window = (slice(y0, box[3] + 3), slice(x0, box[2] + 3))
    mine = own[window]
    rim = cv2.dilate(mine.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    other = (labels[window] > 0) & ~mine
    return mine, np.where(rim & ~other, coverage[window], 0.0).astype(np.float32), (x0, y0)


def _tip(cover: Floats, row: int, column: int) -> float:
    """How far the tissue reaches above the centre of its topmost pixel, in pixels: where coverage falls to a half."""
    high = float(cover[row - 1, max(0, column - 1) : column + 2].max()) if row > 0 else 0.0
    low = float(cover[row, column])
    return float(np.clip((low - 0.5) / max(low - high, 0.05), 0.0, 1.0)) if low > high else 0.5


def _top_doubt(maybe: Mask, row: int, column: int) -> float:
    """How much further up, in pixels, something hangs together with the top that may be tissue too.

    The blur of the lens, and what the camera does to sharpen it, reach a little beyond every edge and are no doubt.
    """
    left, high = max(0, column - DOUBT_PX), max(0, row - DOUBT_PX)
    window = maybe[high : row + 1, left : column + DOUBT_PX + 1].copy()
    window[-1, column - left] = True
    near = cv2.dilate(window.astype(np.uint8), np.ones((3, 3), np.uint8))
    _, label = cv2.connectedComponents(near, connectivity=8)
    same = window & (label == label[-1, column - left])
    counts = same.sum(axis=1)
    above = np.flatnonzero(counts >= DOUBT_WIDTH_PX)
    return max(0.0, float(row - high - above[0]) - HALO_PX) if len(above) else 0.0


def _foot_x(spots: NDArray[np.float64], soil_y: float, high: float) -> float:
    near = spots[:, 1] >= soil_y - high
    if not near.any():
        near = spots[:, 1] >= spots[:, 1].max() - 2
    return float(np.median(spots[near, 0]))


def _leaves_picture(box: tuple[int, int, int, int], shape: tuple[int, ...], *, above: bool = False) -> bool:
    """Whether tissue touches the picture's edge; from the side the lower edge cuts no plant off."""
    return box[0] <= 1 or box[1] <= 1 or box[2] >= shape[1] - 2 or (above and box[3] >= shape[0] - 2)
