"""Which pixels are plant, and how much of each: one photo against what the bare stage looked like at that place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from sproutlapse.vision.colour import Bytes, Floats, Mask, colour_distance, dot, thrice, to_lab
from sproutlapse.vision.shade import cast_shade
from sproutlapse.vision.windows import Window, windows

# All distances in CIELAB units. Found on rendered trays of several kinds and light; no published values.
# A green film on soil: a* below (reddish leaves are above), and L less than so much above the ground's.
FILM_A, FILM_L = 2.0, 11.0
SPECK_PX, SPECK_SHARE = 15, 0.5  # widest white speck in soil; of a patch that lies on such specks
FAINT_ON_BOARD = 6.0  # the same before the smooth bright board
FAINT = 8.0  # nearer to the bare stage than this is not tissue by itself
MAYBE, MAYBE_ON_BOARD = 6.5, 3.5  # beyond the noise of a lit photo
CLEAR = 14.0  # a patch must hold one pixel as far as this
ABOUT_CLEAR = 10.0  # the same before shadows are taken out, which may move a little
HALF = 0.5  # a pixel belongs to the plant when half of it is covered
PATCH_PX = 6.0  # smaller patches are specks
BRIDGE_PX = 5  # parts of a leaf this near to one another before the board hang together
PART, PART_PX, PART_L = 6.0, 5, 3.0  # what such a part must have of distance, size and change of lightness
PINHOLE_PX = 30  # smaller holes in a leaf are specks behind it
# Of the local contrast: pixels that show the tissue's own colour, unmixed. Before a bright board contrast hardly
# depends on how brightly a leaf is lit; before dark soil it does, and a stricter share would take its lit spots alone.
CORE_BEFORE_BOARD, CORE_BEFORE_SOIL = 0.85, 0.6
# The same for areas: the blurred edge of a stem three pixels wide leaves hardly one pixel unmixed.
AREA_BEFORE_BOARD = 0.96
# So far off that line, in shares of its length and of the bare stage's light, a colour is no mixture with that stage.
OTHER_COLOUR, OTHER_STRONG = 0.18, 0.12
OTHER_NEAR_PX = 9  # window
MARGIN_PX = 14  # windows in which tissue is sought reach as far at least beyond what differs from the bare stage
REACH_PX = 5  # window in which tissue is taken to have one colour; thin stems allow no more

# Limits of the cube root of shading that is harmless: soil darkens when watered, a board under a soft shadow.
SOIL_SHADE = (0.66, 1.15)
BOARD_SHADE = (0.88, 1.06)

_CROSS = np.ones((3, 3), np.uint8)


@dataclass(frozen=True)
class Tissue:
    """Plant tissue in one picture.

    Attributes
    ----------
    mask
        (height, width) bool: pixels of which at least half is covered.
    coverage
        (height, width) float32: the covered share of each pixel, 0..1, nought away from the mask.
    distance
        (height, width) float32: CIELAB distance to the bare stage.
    maybe
        (height, width) bool: pixels that differ from the bare stage by more than noise, tissue or not.
    dark
        (height, width) bool: soil, rims and other dark places of the bare stage; None where not told.
    """

    mask: Mask
    coverage: Floats
    distance: Floats
    maybe: Mask
    dark: Mask | None = None


def find_tissue(
    light: Floats,
    bare_light: Floats,
    bare_lab: Floats,
    *,
    dark: Mask,
    ground: Mask,
    tolerance: Floats,
    labels: Mask | None = None,
    shadow_px: float = 9.0,
    cast: float = 1.0,
    coded: bool = False,
) -> Tissue:
    """Tissue in a picture that was brought to the bare stage's light.

    The covered share of a pixel is found in linear light, in which a lens mixes colours: the picture's colour is
    projected on the line from the bare colour at that very pixel to the colour of the unmixed tissue next to it.

    Parameters
    ----------
    light, bare_light
        (height, width, 3) float32 linear light, same exposure and white balance.
    bare_lab
        (height, width, 3) CIELAB of `bare_light`.
    dark
        (height, width) bool: soil and other dark places, where water may change the shade.
    ground
        (height, width) bool: dark ground seen from above, where a green film may grow.
    tolerance
        (height, width) CIELAB distance to allow beyond the usual, where the bare stage is known less well.
    labels
        (height, width) bool: labels, on which leaves cast shadows; None if there are none.
    shadow_px
        Narrower things are never taken for a cast shadow, see `shade.WIDE_MM`.
    cast
        The strongest over the weakest colour of the light, as white balance undid it.
    coded
        Whether edge pixels mix the values of a picture and not light, as they do where a JPEG was decoded smaller.
    """
    bounds = tuple(
        np.where(dark, np.float32(soil), np.float32(board)) for soil, board in zip(SOIL_SHADE, BOARD_SHADE, strict=True)
    )
    lab = to_lab(light)
    stage = _Stage(light, lab, bare_light, bare_lab, dark, ground, tolerance, bounds, labels)
    differs = _with_clear(colour_distance(lab, bare_lab, *bounds) - tolerance, dark)
    out = Tissue(
        np.zeros(dark.shape, bool), np.zeros(dark.shape, np.float32), np.zeros(dark.shape, np.float32),
        np.zeros(dark.shape, bool), dark,
    )  # fmt: skip
    # What lies further off has no say in what a pixel is: shadows are as wide, colours are looked for less far.
    for here in windows(differs, MARGIN_PX + shadow_px):
        part = _found(stage.cut(here), shadow_px=shadow_px, cast=cast, coded=coded)
        out.mask[here], out.coverage[here], out.distance[here] = part.mask, part.coverage, part.distance
        out.maybe[here] = part.maybe
    return out


@dataclass(frozen=True)
class _Stage:
    """A picture before its bare stage, in parameters of `find_tissue`; `bounds` are the limits of harmless shading."""

    light: Floats
    lab: Floats
    bare_light: Floats
    bare_lab: Floats
    dark: Mask
    ground: Mask
    tolerance: Floats
    bounds: tuple[Floats, ...]
    labels: Mask | None

    def cut(self, here: Window) -> _Stage:
        """A part of it."""
        return _Stage(
            self.light[here],
            self.lab[here],
            self.bare_light[here],
            self.bare_lab[here],
            self.dark[here],
            self.ground[here],
            self.tolerance[here],
            tuple(bound[here] for bound in self.bounds),
            None if self.labels is None else self.labels[here],
        )


def _with_clear(distance: Floats, dark: Mask) -> Mask:
    """What differs from the bare stage in patches of which a pixel does so about clearly: others are no tissue."""
    faint = cv2.dilate((distance > faint_from(dark)).astype(np.uint8), _CROSS)
    count, label = cv2.connectedComponents(faint, connectivity=8)
    clear = np.zeros(count, bool)
    clear[label[distance > ABOUT_CLEAR]] = True
    clear[0] = False
    return np.asarray(clear[label])


def faint_from(dark: Mask) -> Floats:
    """CIELAB distance from the bare stage from which on a pixel may be tissue."""
    return np.asarray(np.where(dark, np.float32(FAINT), np.float32(FAINT_ON_BOARD)))


def _found(stage: _Stage, *, shadow_px: float, cast: float, coded: bool) -> Tissue:
    """Tissue in a part of the picture."""
    light, lab, bare_light, bare_lab, dark = stage.light, stage.lab, stage.bare_light, stage.bare_lab, stage.dark
    sticks = np.zeros_like(dark) if stage.labels is None else stage.labels
    shade = cast_shade((light, lab), (bare_light, bare_lab), ~dark, sticks, wide_px=shadow_px, cast=cast)
    if shade is not None:
        bare_light = bare_light * shade
        # Where nothing is shaded the colours stay as they are.
        changed = cv2.transform((shade < 1).astype(np.uint8), np.ones((1, 3), np.float32))
        bare_lab = np.asarray(cv2.copyTo(to_lab(bare_light), changed, bare_lab.copy()), dtype=np.float32)
    distance = np.maximum(colour_distance(lab, bare_lab, *stage.bounds) - stage.tolerance, np.float32(0.0))
    if stage.ground.any():
        distance[stage.ground & green_film(lab, bare_lab)] = 0.0
    faint = distance > faint_from(dark)
    cores = [
        np.where(dark, np.float32(CORE_BEFORE_SOIL), np.float32(core))
        for core in (CORE_BEFORE_BOARD, AREA_BEFORE_BOARD)
    ]
    # A JPEG that is decoded smaller mixes its own values, nearly the roots of light, where a lens mixes light.
    own, bare = (np.sqrt(np.maximum(light, 0)), np.sqrt(bare_light)) if coded else (light, bare_light)
    share, area = covered_shares(own, bare, faint, cores, ~dark)
    # Well inside tissue nothing of the stage shows, whatever other colours (veins, cream patches) stand there.
    inside = cv2.erode((distance > CLEAR).astype(np.uint8), np.ones((REACH_PX, REACH_PX), np.uint8)).astype(bool)
    share[inside] = np.maximum(share[inside], 1.0)
    near = cv2.dilate(faint.astype(np.uint8), _CROSS).astype(bool)
    mask = fill_pinholes(near & (share > HALF), PINHOLE_PX)
    mask = clear_patches(mask, distance, ~dark, lab[..., 0] - bare_lab[..., 0])
    if stage.ground.any():
        mask &= ~overgrown_specks(mask, stage.ground, lab, bare_lab)
    rim = cv2.dilate(mask.astype(np.uint8), _CROSS).astype(bool)
    coverage = np.where(rim, np.clip(area, 0.0, 1.0), 0.0).astype(np.float32)
    inside = cv2.erode(mask.astype(np.uint8), _CROSS).astype(bool)
    coverage[inside] = 1.0
    maybe = distance > np.where(dark, np.float32(MAYBE), np.float32(MAYBE_ON_BOARD))
    return Tissue(mask, coverage, distance, np.asarray(maybe), dark)


def green_film(lab: Floats, bare_lab: Floats) -> Mask:
    """Where ground may have turned green without anything standing on it, seen from above.

    Algae and moss are hardly lighter than the soil they lie on, while a leaf stands in the light.

    Parameters
    ----------
    lab, bare_lab
        (height, width, 3) CIELAB of the picture and of the bare stage.
    """
    ground = cv2.blur(np.ascontiguousarray(bare_lab[..., 0]), (21, 21))
    return np.asarray((lab[..., 1] < FILM_A) & (lab[..., 0] < ground + FILM_L))


def overgrown_specks(mask: Mask, ground: Mask, lab: Floats, bare_lab: Floats) -> Mask:
    """Patches that are nothing but white specks of the soil (perlite) that turned green and darker under a film.

    Parameters
    ----------
    mask
        (height, width) tissue.
    ground
        (height, width) bool: dark ground seen from above.
    lab, bare_lab
        (height, width, 3) CIELAB of the picture and of the bare stage.
    """
    around = cv2.morphologyEx(ground.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((SPECK_PX, SPECK_PX), np.uint8)) > 0
    speck = cv2.dilate((around & ~ground).astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    film = speck & (lab[..., 1] < FILM_A) & (lab[..., 0] < bare_lab[..., 0] + FILM_L)
    count, label = cv2.connectedComponents(mask.astype(np.uint8), connectivity=8)
    size = np.bincount(label.ravel(), minlength=count)
    filmed = np.bincount(label[film & mask], minlength=count)
    gone = filmed >= SPECK_SHARE * size
    gone[0] = False
    return np.asarray(gone[label])


def covered_shares(
    light: Floats, bare: Floats, faint: Mask, core_shares: Sequence[Floats], board: Mask
) -> list[Floats]:
    """Share of each pixel that tissue covers, about 0..1, not clipped; nought where no tissue is near.

    Parameters
    ----------
    light, bare
        (height, width, 3) linear light of the picture and of the bare stage.
    faint
        (height, width) pixels that differ from the bare stage.
    core_shares
        For each picture of shares wanted (height, width) the share of the local contrast from which on a pixel counts
        as unmixed.
    board
        (height, width) where the bare stage is smooth and bright, so that parts of a leaf in other colours are told.
    """
    step = light - bare
    contrast = np.sqrt(dot(step, step))
    contrast = cv2.GaussianBlur(contrast, (0, 0), 0.5)
    window = np.ones((REACH_PX, REACH_PX), np.uint8)
    peak = cv2.dilate(np.where(faint, contrast, 0.0), window)
    shares = [_share(light, bare, step, faint, faint & (contrast >= core * peak)) for core in core_shares]
    off, length = shares[0][1], np.sqrt(dot(bare, bare))
    other = board & faint & (off > OTHER_COLOUR * shares[0][2]) & (off > OTHER_STRONG * length)
    # A JPEG's colours bleed a pixel or two over edges: parts of a leaf are wider somewhere near.
    wide = cv2.morphologyEx(other.astype(np.uint8), cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
    other &= cv2.dilate(wide, np.ones((OTHER_NEAR_PX, OTHER_NEAR_PX), np.uint8)) > 0
    if not other.any():
        return [one[0] for one in shares]
    # Cream beside green is no mixture of green with the board: it is covered by a tissue of its own colour.
    # Where it meets the green both mix, in stronger contrast to the board than it has itself.
    sums = [cv2.boxFilter(part.astype(np.float32), -1, window.shape) for part in (np.where(other, contrast, 0), other)]
    usual = sums[0] / np.maximum(sums[1], 1e-6)
    own = [
        _share(light, bare, step, other, other & (contrast >= core * usual) & (contrast <= usual / core))
        for core in (0.9 * core_shares[0], core_shares[0])
    ]
    return [np.where(other, np.maximum(a[0], b[0]), a[0]) for a, b in zip(shares, own, strict=True)]


def _share(light: Floats, bare: Floats, step: Floats, faint: Mask, unmixed: Mask) -> tuple[Floats, Floats, Floats]:
    """The covered share, how far off the line from the bare colour to the tissue's a colour lies, and that line's
    length, in linear light."""
    core = unmixed.astype(np.uint8)
    own = np.asarray(cv2.copyTo(light, core), dtype=np.float32)  # nought elsewhere
    line, known = _mean_colour(own, core, REACH_PX)
    # Where stronger contrasts on both sides keep all near pixels from the core, the colour comes from further off.
    far, known_far = _mean_colour(own, core, 3 * REACH_PX)
    line = cv2.copyTo(line, known.astype(np.uint8), far) - bare
    length = np.maximum(dot(line, line), 1e-9, dtype=np.float32)
    share = np.asarray(dot(step, line) / length, dtype=np.float32)
    share[~(known | (known_far & faint))] = 0.0
    off = step - thrice(share) * line
    return share, np.sqrt(dot(off, off)), np.sqrt(length)


def _mean_colour(own: Floats, core: Bytes, side: int) -> tuple[Floats, Mask]:
    """Mean colour of the core pixels in a square window round each pixel, and where there are any.

    `own` is the light there and nought elsewhere, `core` 1 there.
    """
    count = cv2.boxFilter(core, cv2.CV_32F, (side, side), normalize=False)
    total = cv2.boxFilter(own, -1, (side, side), normalize=False)
    return np.asarray(total / thrice(np.maximum(count, np.float32(0.5))), dtype=np.float32), np.asarray(count > 0.5)


def fill_pinholes(mask: Mask, most_px: int) -> Mask:
    """The mask with its small holes closed."""
    _, label, stats, _ = cv2.connectedComponentsWithStats((~mask).astype(np.uint8), connectivity=4)
    small = stats[:, cv2.CC_STAT_AREA] <= most_px
    small[0] = False
    return np.asarray(mask | small[label])


def clear_patches(mask: Mask, distance: Floats, board: Mask, lighter: Floats) -> Mask:
    """The mask without specks: patches that are too small or nowhere clearly different from the bare stage.

    Before the smooth board the parts of a leaf seen on edge, with gaps of a few pixels or with something fainter
    between them, count as one.

    Parameters
    ----------
    mask, distance
        (height, width) tissue and its CIELAB distance to the bare stage.
    board
        (height, width) bool: where the bare stage is smooth and bright.
    lighter
        (height, width) L above the bare stage's. The colours of a JPEG bleed over edges, its lightness does not.
    """
    own, found = cv2.connectedComponents(mask.astype(np.uint8), connectivity=8)
    label = np.asarray(found, dtype=np.int64)
    clearest, size = np.zeros(own, np.float32), np.bincount(label[mask], minlength=own)
    np.maximum.at(clearest, label[mask], distance[mask])
    keep = (clearest >= CLEAR) & (size >= PATCH_PX)
    keep[0] = False
    sure = mask & keep[label]
    apart = np.abs(np.bincount(label[mask], weights=lighter[mask], minlength=own)) / np.maximum(size, 1)
    part = (clearest >= PART) & (size >= PART_PX) & (apart >= PART_L)
    part[0] = False
    parts = mask & part[label] & (board | sure)
    near = cv2.dilate((parts & board).astype(np.uint8), np.ones((BRIDGE_PX, BRIDGE_PX), np.uint8)).astype(bool)
    near |= distance > MAYBE_ON_BOARD
    count, joined = cv2.connectedComponents((parts | (near & board)).astype(np.uint8), connectivity=8)
    good = np.bincount(joined[sure], minlength=count) > 0
    good[0] = False
    return np.asarray(sure | (parts & good[joined]))
