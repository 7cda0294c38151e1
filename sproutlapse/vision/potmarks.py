"""Printed marks on pots: whose pot stands where, whatever was turned, shuffled or swapped between two photos."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sproutlapse.tray import Tray
from sproutlapse.vision import align
from sproutlapse.vision.colour import Floats
from sproutlapse.vision.lifted import STILL_PX, Pair, PotPicture, Stood, refined
from sproutlapse.vision.stands import printed_marks

Corners = NDArray[np.float64]

FROM_MARK_PX = 4.0  # a pot's own picture may be so far from where its mark says: it was turned a little
AGREES = 0.6  # of its edge pixels: then its picture, which is exact, tells the place, and else the mark


def pot_marks(light: Floats, tray: Tray) -> dict[int, Corners]:
    """Corners (4, 2) of the mark on each pot that has one and shows it, by the plant's number in tray order.

    Parameters
    ----------
    light
        (height, width, 3) linear light.
    tray
        What stands in view.
    """
    wanted = {plant.mark: k for k, plant in enumerate(tray.plants) if plant.mark is not None}
    if not wanted:
        return {}
    found = printed_marks(align.tracking_grey(light))
    return {wanted[number]: corners for number, corners in found.items() if number in wanted}


def settled_by_marks(
    stood: Sequence[Stood],
    here: Mapping[int, Corners],
    first: Mapping[int, Corners],
    tray: Tray,
    placed: align.Placement,
) -> tuple[Stood, ...]:
    """Where pots stand, settled by their marks.

    A name follows its mark, and a pot whose mark is not seen is not taken to stand where another's is found.

    Parameters
    ----------
    stood
        As `lifted.pot_shifts` gives it.
    here, first
        As `pot_marks` gives them for the photo and for the reference.
    tray
        The tray as on the reference.
    placed
        The photo's place on the reference.
    """
    out = list(stood)
    ways: dict[int, Pair] = {}
    for k in sorted(set(here) & set(first)):
        way = align.move(placed.matrix, here[k]).mean(axis=0) - first[k].mean(axis=0)
        ways[k] = (float(way[0]), float(way[1]))
        own = out[k].shift
        if own is None or float(np.hypot(own[0] - way[0], own[1] - way[1])) > FROM_MARK_PX:
            out[k] = Stood(ways[k] if np.hypot(*way) >= STILL_PX else (0.0, 0.0), sure=True)
    for k, plant in enumerate(tray.plants):
        if k in ways:
            continue
        left, _, right, _ = plant.box_px
        for other, (dx, _) in ways.items():
            box = tray.plants[other].box_px
            if abs((box[0] + box[2]) / 2 + dx - (left + right) / 2) < (right - left) / 4:
                out[k] = Stood(None, sure=True)
    return tuple(out)


def with_pictures(stood: Sequence[Stood], even: Floats, pots: Sequence[PotPicture | None]) -> tuple[Stood, ...]:
    """The same places to a part of a pixel, where a pot's own picture agrees with its mark.

    Parameters
    ----------
    stood
        See `settled_by_marks`.
    even
        (height, width) evened brightness in the geometry of the reference.
    pots
        See `lifted.pot_pictures`.
    """
    out = []
    for one, pot in zip(stood, pots, strict=True):
        if one.shift is None or one.shift == (0.0, 0.0) or pot is None:
            out.append(one)
            continue
        shift, share = refined(even, pot, one.shift)
        near = float(np.hypot(shift[0] - one.shift[0], shift[1] - one.shift[1])) <= FROM_MARK_PX
        out.append(replace(one, shift=shift) if share >= AGREES and near else one)
    return tuple(out)
