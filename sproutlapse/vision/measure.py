"""The unit of work: one photo, the reference and the tray go in, the photo's findings come out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from sproutlapse.spent import part
from sproutlapse.tray import Tray
from sproutlapse.vision import align, lifted, potmarks, regrained, tray_lies
from sproutlapse.vision.cells import above_labels
from sproutlapse.vision.colour import Bytes, Floats, Mask, to_lab, to_light
from sproutlapse.vision.cover import covered_plants, soil_strip, something_clear
from sproutlapse.vision.findings import Findings, PlantFinding
from sproutlapse.vision.labels import labels_png
from sproutlapse.vision.leaf_colour import leaf_colours
from sproutlapse.vision.light import Lighting, NoLightError, read_lighting
from sproutlapse.vision.plants import Setting, above_finding, side_finding, side_labels
from sproutlapse.vision.reference import DARK_L, Reference
from sproutlapse.vision.shade import WIDE_MM
from sproutlapse.vision.share import Labels
from sproutlapse.vision.soil import soil_look
from sproutlapse.vision.stands import printed_marks, similarity
from sproutlapse.vision.tissue import Tissue, find_tissue

# Where pots were moved, the bare stage that did not move is taken for right only where it is so many times nearer to
# the photo than the one moved along, and that one is more unlike it than noise (linear light, squared).
MUCH_NEARER, ALIKE = 4.0, 2e-3

# A camera that seems to have moved by less, at the picture's corners, by a single mark beside a cover stood still.
BESIDE_COVER_PX = 6.0


def measure(picture: Bytes, reference: Reference, tray: Tray, *, reduced: bool = False) -> Findings:
    """Measure one photo.

    Parameters
    ----------
    picture
        (height, width, 3) 8-bit sRGB, of the reference's size.
    reference
        See `reference.make_reference`.
    tray
        The complete tray that the reference was made for.
    reduced
        Whether the picture is smaller than the photo, so that covered shares of pixels are kept with the labels.

    Returns
    -------
    Findings
        With `fault` set, in plain words, where the photo cannot be measured.
    """
    light = to_light(picture, reference.balance)
    with part("camera and pots"):
        where = _where(picture, light, reference, tray)
    if where is None:
        return Findings("camera moved: what stands still was not found again in this photo")
    try:
        tissue, lighting, patterns = _tissue(light, reference, tray, where, reduced=reduced)
    except NoLightError:
        return Findings("obstructed: nothing of the board is seen to read the light from")
    with part("plants"):
        labels, plants = _plants(tissue, reference, tray, where, patterns)
    with part("soil and colours"):
        plants = _coloured(plants, (light, lighting), (tissue.mask, labels), reference, tray, where=where)
        plants = tuple(replace(one, soil_same=same) for one, same in zip(plants, patterns, strict=True))
    if any(where.covered):
        labels[np.isin(labels, [k + 1 for k, under in enumerate(where.covered) if under])] = 0
        plants = tuple(PlantFinding(0.0) if under else one for one, under in zip(plants, where.covered, strict=True))
    shift, turn = align.shift_and_turn(where.placed.matrix, light.shape)
    with part("packing"):
        packed = labels_png(labels, tissue.coverage if reduced else None)
    above = tray.view.from_ == "above"
    return Findings(
        "",
        tuple(float(v) for v in where.lies.matrix.ravel()),
        lighting.gains,
        shift,
        turn,
        where.placed.moved,
        plants,
        packed,
        lifted.cell_shifts(tray, where.placed, where.lies) if above else lifted.as_pairs(where.stood),
        where.covered if any(where.covered) else (),
    )


@dataclass(frozen=True)
class _Where:
    """Where things are in the photo: the camera's place on the reference, that of the tray seen from above, which
    plants a cover hides, and where each pot stands, from the side."""

    placed: align.Placement
    lies: align.Placement
    covered: tuple[bool, ...]
    stood: tuple[lifted.Stood, ...]


def _where(picture: Bytes, light: Floats, reference: Reference, tray: Tray) -> _Where | None:
    """Where camera, tray and pots are; None where the camera's place cannot be told."""
    grey = align.tracking_grey(light)
    placed = align.place(light, reference.marks, grey) or _beside_cover(picture, light, reference, tray)
    if placed is None:
        return None
    above, lies = tray.view.from_ == "above", placed
    if above and reference.tray_marks is not None:
        lies = tray_lies.tray_place(light, placed, reference.tray_marks, grey)
    covered = covered_plants(picture, tray, lies.matrix)
    stood = () if above else _uncovered(_stood((light, grey), reference, tray, placed), covered)
    return _Where(placed, lies, covered, stood)


def _plants(
    tissue: Tissue, reference: Reference, tray: Tray, where: _Where, patterns: Sequence[float | None]
) -> tuple[Labels, tuple[PlantFinding, ...]]:
    """The label picture, and what it tells of each plant."""
    setting = Setting(where.lies.matrix, reference.mm_per_px, reference.scale.camera, reference.scale.lens)
    if tray.view.from_ == "above":
        labels = above_labels(tissue.mask, tray, where.lies.matrix)
        return labels, tuple(above_finding(k, labels, tissue.coverage, setting) for k in range(len(tray.plants)))
    now = lifted.tray_with(tray, where.stood)
    labels = _without_crumbs(side_labels(tissue, now, setting), patterns, now, where.placed)
    labels[np.isin(labels, [k + 1 for k, one in enumerate(where.stood) if one.shift is None])] = 0
    return labels, tuple(side_finding(k, p, labels, tissue, setting) for k, p in enumerate(now.plants))


def _coloured(
    plants: Sequence[PlantFinding],
    seen: tuple[Floats, Lighting],
    own: tuple[Mask, Labels],
    reference: Reference,
    tray: Tray,
    *,
    where: _Where,
) -> tuple[PlantFinding, ...]:
    """The findings with the looks of the soil and the colours of the leaves; `own` is tissue and labels."""
    (light, lighting), (mask, labels) = seen, own
    looks = soil_look(
        light,
        reference.light,
        mask,
        lighting,
        labels=reference.labels,
        tray=tray,
        matrix=where.lies.matrix,
        shifts=lifted.as_pairs(where.stood),
    )
    leaves = leaf_colours(light, labels, lighting, reference.balance, len(plants))
    out = []
    for plant, look, leaf in zip(plants, looks, leaves, strict=True):
        told = plant if look is None else replace(plant, soil_light=look[0], soil_rough=look[1])
        out.append(told if leaf is None else replace(told, leaf_l=leaf[0], leaf_a=leaf[1], leaf_b=leaf[2]))
    return tuple(out)


def _beside_cover(picture: Bytes, light: Floats, reference: Reference, tray: Tray) -> align.Placement | None:
    """The camera's place where a cover hides every plant, by the printed mark beside it.

    Without a mark on the reference the camera is taken to have stood still: nothing is measured from its place.
    """
    still = reference.marks.still
    if not all(covered_plants(picture, tray, still.matrix if still.moved else None)) or not something_clear(picture):
        return None
    marks = reference.marks.features.marks
    if marks:
        here = printed_marks(align.tracking_grey(light))
        shared = sorted(set(here) & set(marks))
        if not shared:
            return None
        matrix = similarity(np.vstack([here[n] for n in shared]), np.vstack([marks[n] for n in shared]))
        # One mark tells a small turn badly; the film is steadier without it.
        if matrix is not None and align.corner_shift_px(matrix, light.shape) >= BESIDE_COVER_PX:
            return align.Placement(matrix, moved=True, residual_px=float("nan"))
    return still


def _uncovered(stood: tuple[lifted.Stood, ...], covered: Sequence[bool]) -> tuple[lifted.Stood, ...]:
    """Where pots stand; a pot behind a cover is taken to stand in its place."""
    still = lifted.Stood((0.0, 0.0), sure=False)
    return tuple(still if under else one for one, under in zip(stood, covered, strict=True))


def _stood(
    seen: tuple[Floats, Bytes], reference: Reference, tray: Tray, placed: align.Placement
) -> tuple[lifted.Stood, ...]:
    """Where each pot stands, by its own picture and, if it has one, its mark; `seen` is light and tracking grey."""
    light, grey = seen
    stood = lifted.pot_shifts(light, placed, reference.pots, reference.mm_per_px, grey)
    here = potmarks.pot_marks(light, tray)
    if not here:
        return stood
    settled = potmarks.settled_by_marks(stood, here, reference.pot_marks, tray, placed)
    if settled == stood:
        return stood
    return potmarks.with_pictures(settled, lifted.evened_on_reference(light, placed), reference.pots)


@dataclass(frozen=True)
class _Stage:
    """The bare stage as it lies in the photo; attributes as of `Reference`."""

    light: Floats
    lab: Floats
    dark: Mask
    labels: Mask
    tolerance: Floats

    def cut(self, rows: slice, columns: slice) -> _Stage:
        """A part of it."""
        here = (rows, columns)
        return _Stage(self.light[here], self.lab[here], self.dark[here], self.labels[here], self.tolerance[here])


def _stage(
    reference: Reference, tray: Tray, placed: align.Placement, stood: Sequence[lifted.Stood], *, moved: bool
) -> _Stage:
    """The bare stage brought to the photo, not the photo to it, so that every pixel stays as the camera gave it.

    With `moved` each pot is moved to where it stands in the photo, and the board behind it along.
    """
    light, lab, tolerance = reference.light, reference.lab, reference.tolerance
    dark, labels = reference.dark, reference.labels
    if not moved and not placed.moved:
        return _Stage(light, lab, dark, labels, tolerance)
    back = align.inverse(placed.matrix) if placed.moved else None

    def brought(plane: Floats, *, smooth: bool) -> Floats:
        if moved:
            plane = lifted.with_pots_moved(plane, tray, stood, smooth=smooth)
        return plane if back is None else align.warped(plane, back, smooth=smooth)

    light = np.maximum(brought(light, smooth=True), np.float32(0.0))
    lab = to_lab(light)
    dark, labels = (brought(m.astype(np.float32), smooth=False) > 0.5 for m in (dark, labels))
    return _Stage(light, lab, dark, labels, brought(tolerance, smooth=False) + _edge_doubt(lab))


def _nearer(light: Floats, still: _Stage, moved: _Stage) -> _Stage:
    """Of two bare stages the one that looks more like the photo, pixel by pixel.

    A pot that was put back elsewhere took its label along, but not the board behind it.
    """
    apart_moved, apart_still = (
        cv2.blur(np.asarray(((light - one.light) ** 2).sum(axis=-1), dtype=np.float32), (5, 5))
        for one in (moved, still)
    )
    near = apart_moved <= MUCH_NEARER * apart_still + ALIKE
    wide = near[..., None]
    return _Stage(
        np.where(wide, moved.light, still.light),
        np.where(wide, moved.lab, still.lab),
        np.where(near, moved.dark, still.dark),
        still.labels | moved.labels,
        np.maximum(moved.tolerance, still.tolerance),
    )


def _tissue(
    light: Floats, reference: Reference, tray: Tray, where: _Where, *, reduced: bool
) -> tuple[Tissue, Lighting, tuple[float | None, ...]]:
    """Tissue in the photo's own pixels, the photo's light over the reference's, and how far soil shows its pattern."""
    placed, stood = where.lies, where.stood
    height, width = light.shape[:2]
    surfaces = reference.surfaces
    if placed.moved:
        surfaces = align.warped(surfaces.astype(np.float32), align.inverse(placed.matrix), smooth=False) > 0.5
    with part("light"):
        stage = _stage(reference, tray, placed, stood, moved=False)
        lighting = read_lighting(light, stage.light, surfaces, None if placed.moved else reference.blocks)
    shifts = [one.shift for one in stood if one.shift is not None]
    rows, columns = _room(reference, placed.matrix, lower=max((dy for _, dy in shifts), default=0.0))
    even = light[rows, columns] / lighting.field(height, width, (rows, columns))
    stage = stage.cut(rows, columns)
    along = stage
    if any(shift != (0.0, 0.0) for shift in shifts):
        along = _stage(reference, tray, placed, stood, moved=True).cut(rows, columns)
        stage = _nearer(even, stage, along)
    patterns: tuple[float | None, ...] = (None,) * len(tray.plants)
    if stood:
        now = lifted.tray_with(tray, stood)
        stage, patterns = _turned(even, (stage, along), now, placed, (columns.start, rows.start))
    with part("tissue"):
        found = find_tissue(
            even,
            stage.light,
            stage.lab,
            dark=stage.dark,
            ground=stage.dark if tray.view.from_ == "above" else np.zeros_like(stage.dark),
            tolerance=stage.tolerance,
            labels=stage.labels,
            shadow_px=WIDE_MM / Setting(placed.matrix, reference.mm_per_px).mm(0),
            cast=max(reference.balance) / min(reference.balance),
            # Before the bright board it makes little, and what a sharper picture makes goes the other way.
            coded=reduced and tray.view.from_ == "above",
        )
    return _whole(found, (height, width), rows, columns), lighting, patterns


def _turned(
    light: Floats, stages: tuple[_Stage, _Stage], tray: Tray, placed: align.Placement, corner: tuple[int, int]
) -> tuple[_Stage, tuple[float | None, ...]]:
    """The bare stage where a pot's soil shows another pattern, and how well each soil's pattern is its own.

    Parameters
    ----------
    light
        The part of the photo that holds plants, in the stage's light.
    stages
        The bare stage, and the one on which each pot was moved along to where it stands.
    tray
        As its pots stand in the photo.
    corner
        Column and row of the whole photo at which that part begins.
    """
    stage, along = stages
    lab: Floats | None = None
    patterns: list[float | None] = []
    for plant in tray.plants:
        if plant.soil_y_px is None:
            patterns.append(None)
            continue
        strip, pot, above = (
            _in_part(box, placed.matrix, corner)
            for box in (soil_strip(plant, above=False), regrained.soil_and_rim(plant), regrained.above_soil(plant))
        )
        same = regrained.soil_pattern(light, (stage.light, stage.lab), stage.labels, strip)
        patterns.append(same)
        if same is None or same >= regrained.OWN_PATTERN:
            continue
        lab = to_lab(light) if lab is None else lab
        moved = regrained.with_label_moved((light, lab), stage.light, (along.lab, along.labels), stage.labels, above)
        if moved is not None:
            own, labels = moved
            other = np.any(own != stage.light, axis=-1)
            tolerance = stage.tolerance + np.where(other, np.float32(regrained.UNSURE), np.float32(0.0))
            stage = _Stage(own, to_lab(own), stage.dark, labels, tolerance)
        part, soil, changed = regrained.with_soil_colours(lab, stage.light, stage.lab, stage.labels, pot)
        own, tolerance, dark = stage.light.copy(), stage.tolerance.copy(), stage.dark.copy()
        own[part] = soil
        tolerance[part] += np.where(changed, np.float32(regrained.UNSURE), np.float32(0.0))
        own_lab = to_lab(own)
        dark[part] = np.where(changed, own_lab[part][..., 0] < DARK_L, dark[part])
        stage = _Stage(own, own_lab, dark, stage.labels, tolerance)
    return stage, tuple(patterns)


def _without_crumbs(labels: Labels, patterns: Sequence[float | None], tray: Tray, placed: align.Placement) -> Labels:
    """The label picture without soil that was taken for plant in pots whose soil shows another pattern."""
    for k, (same, plant) in enumerate(zip(patterns, tray.plants, strict=True)):
        if same is not None and same < regrained.OWN_PATTERN:
            own = labels == k + 1
            box = _in_part(regrained.soil_and_rim(plant), placed.matrix, (0, 0))
            labels[own & ~regrained.without_crumbs(own, box)] = 0
    return labels


def _in_part(box: tuple[float, float, float, float], matrix: align.Matrix, corner: tuple[int, int]) -> regrained.Box:
    """Left, top, right, bottom in a part of the photo of a box of the tray's pixels."""
    corners = np.array([[box[0], box[1]], [box[2], box[1]], [box[0], box[3]], [box[2], box[3]]], float)
    spots = align.move(align.inverse(matrix), corners) - corner
    (left, top), (right, bottom) = spots.min(axis=0), spots.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def _room(reference: Reference, matrix: align.Matrix, *, lower: float = 0.0) -> tuple[slice, slice]:
    """Rows and columns of the photo in which plants may be seen; so many rows more below if a pot stands lower."""
    width, height = reference.size
    left, top, right, bottom = reference.room
    bottom += max(0, int(np.ceil(lower)))
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
    maybe, dark = np.zeros(shape, bool), np.zeros(shape, bool)
    maybe[rows, columns] = part.maybe
    if part.dark is not None:
        dark[rows, columns] = part.dark
    return Tissue(mask, coverage, distance, maybe, dark)


def _edge_doubt(lab: Floats) -> Floats:
    """CIELAB distance that a fifth of a pixel of misplacement may make at the stage's edges."""
    steep = np.zeros(lab.shape[:2], np.float32)
    for k in range(3):
        plane = np.ascontiguousarray(lab[..., k])
        steep = np.maximum(
            steep, np.hypot(cv2.Scharr(plane, cv2.CV_32F, 1, 0), cv2.Scharr(plane, cv2.CV_32F, 0, 1)) / 32
        )
    return 0.2 * steep
