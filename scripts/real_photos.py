"""Hold the tool's plant masks against real photographs in which people drew the plant by hand.

    python scripts/real_photos.py FOLDER [--overlays OUT]

FOLDER holds `images/N.jpg`, photos of leaves on plain paper, and `masks/N_mask.png`, in which everything that is not
black is leaf. Each photo is looked at by itself with the tool's own board model and tissue finder. Printed are, photo
by photo, the overlap (Dice: twice the shared area over the sum of both, 1 where they are the same), the area over the
drawn one, and the shares of the drawn area that are too much and too little; then median and worst overlap. The exit
status is 1 where the median lies below 0.97 or any photo below 0.93, and 2 where the folder holds no such pairs.
With --overlays each photo is written to OUT with both outlines: the tool's orange, the drawn one blue.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.frames import decode
from sproutlapse.vision.single import tissue_on_board

# Masks of public leaf sets, made by machine, overlap with drawn ones by a Dice of 0.97.
LEAST_MEDIAN, LEAST_ANY = 0.97, 0.93
ORANGE, BLUE = (230, 159, 0), (0, 114, 178)  # told apart by the colour-blind too: Okabe and Ito, 2008

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Overlap:
    """How a found mask lies over a drawn one; the shares are of the drawn area."""

    dice: float
    area: float
    too_much: float
    too_little: float


def overlap(found: Mask, drawn: Mask, area_px: float) -> Overlap:
    """Compare two masks of one size; `area_px` is the found area with the covered shares of edge pixels.

    Raises
    ------
    ValueError
        If the masks differ in size, or nothing is drawn.
    """
    if found.shape != drawn.shape:
        raise ValueError(f"the masks differ in size: {found.shape} found, {drawn.shape} drawn")
    truth = int(drawn.sum())
    if not truth:
        raise ValueError("the drawn mask is empty")
    return Overlap(
        dice=2 * int((found & drawn).sum()) / (int(found.sum()) + truth),
        area=area_px / truth,
        too_much=int((found & ~drawn).sum()) / truth,
        too_little=int((drawn & ~found).sum()) / truth,
    )


def good_enough(dice: Sequence[float]) -> bool:
    """Whether the overlaps reach what is asked of the tool."""
    return bool(dice) and float(np.median(dice)) >= LEAST_MEDIAN and min(dice) >= LEAST_ANY


def pairs_in(folder: Path) -> list[tuple[Path, Path]]:
    """Photos and their drawn masks, in the order of their numbers."""
    masks = sorted((folder / "masks").glob("*_mask.png"), key=lambda path: (len(path.stem), path.stem))
    return [(folder / "images" / (mask.stem.removesuffix("_mask") + ".jpg"), mask) for mask in masks]


def _drawn(path: Path) -> Mask:
    return np.asarray(decode.decode(decode.read_bytes(path), path.name).max(axis=2) > 0)


def _overlay(picture: NDArray[np.uint8], found: Mask, drawn: Mask) -> bytes:
    sheet = picture.copy()
    for mask, colour, thick in ((found, ORANGE, 3), (drawn, BLUE, 1)):
        outlines, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
        cv2.drawContours(sheet, outlines, -1, colour, thick)
    return bytes(cv2.imencode(".jpg", cv2.cvtColor(sheet, cv2.COLOR_RGB2BGR))[1])


def main(words: Sequence[str] | None = None) -> int:
    """Print the figures of every photo; the exit status says whether they reach what is asked."""
    about, _, more = (__doc__ or "").partition("\n")
    parser = argparse.ArgumentParser(
        description=about, epilog=more, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path, help="holds images/N.jpg and masks/N_mask.png")
    parser.add_argument("--overlays", type=Path, help="folder for the photos with both outlines")
    said = parser.parse_args(words)
    pairs = pairs_in(said.folder)
    if not pairs:
        print(f"{said.folder}: no masks/N_mask.png here.", file=sys.stderr)
        return 2
    if said.overlays:
        said.overlays.mkdir(parents=True, exist_ok=True)
    print("photo        Dice    area  too much  too little")
    dice = []
    for photo, mask in pairs:
        picture, drawn = decode.decode(decode.read_bytes(photo), photo.name), _drawn(mask)
        tissue = tissue_on_board(picture)
        figures = overlap(tissue.mask, drawn, float(tissue.coverage.sum()))
        dice.append(figures.dice)
        print(
            f"{photo.name:10} {figures.dice:6.4f}  {figures.area:6.4f}    {figures.too_much:6.4f}      "
            f"{figures.too_little:6.4f}",
            flush=True,
        )
        if said.overlays:
            (said.overlays / photo.name).write_bytes(_overlay(picture, tissue.mask, drawn))
    good = good_enough(dice)
    print(f"{len(dice)} photos: median {np.median(dice):.4f} (asked {LEAST_MEDIAN}), worst {min(dice):.4f} ", end="")
    print(f"(asked {LEAST_ANY}): {'good' if good else 'NOT good enough'}")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
