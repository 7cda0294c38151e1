"""One good photo in, a folder of photos with one planted fault each out; with --check, which faults are named.

A fault is made in linear light where light is changed, and by moving pixels where things stand wrongly, so that the
rest of the photo stays as it was. Usage: python scripts/first_photos.py PHOTO ... --out FOLDER [--check]
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from sproutlapse.first.check import judge
from sproutlapse.first.mark import row_px
from sproutlapse.first.sight import Sight, sight
from sproutlapse.frames.decode import decode
from sproutlapse.tray import Scale, Tray
from sproutlapse.vision.colour import encode_srgb, to_light

Light = NDArray[np.float32]
Rgb = NDArray[np.uint8]
SEED = 7
QUALITY = 92
# Scale of the picture after it was made too small.
COARSE_MM_PER_PX = 0.8
# A print "fit to page" is about so much smaller than it should be.
FIT_TO_PAGE = 0.96


def dim(light: Light, _: Sight) -> Light:
    """A stop and a half too little light."""
    return light * np.float32(0.35)


def burnt(light: Light, _: Sight) -> Light:
    """A stop too much light."""
    return light * np.float32(2.0)


def lamp_on_one_side(light: Light, seen: Sight) -> Light:
    """Six times the light on the left as on the right, the board's median as before."""
    across = np.exp(np.linspace(0.9, -0.9, light.shape[1], dtype=np.float32))
    small = cv2.resize(across[None, :], (seen.ground.shape[1], 1), interpolation=cv2.INTER_AREA)
    before, after = (np.median(v[seen.ground]) for v in (seen.luminance, seen.luminance * small))
    # Nothing burns out that did not before: only the evenness is to be at fault.
    return np.minimum(light * (across[None, :, None] * np.float32(before / after)), np.maximum(light, 0.95))


def out_of_focus(light: Light, seen: Sight) -> Light:
    """A lens set too near: every point a disk of 2 mm, at least 7 pixels wide."""
    wide = max(7, round(2.0 / (seen.mm_per_px or 0.4)) | 1)
    disk = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (wide, wide)).astype(np.float32)
    return np.asarray(cv2.filter2D(light, -1, disk / disk.sum(), borderType=cv2.BORDER_REPLICATE), np.float32)


def too_coarse(light: Light, seen: Sight) -> Light:
    """A small picture: 0.8 mm a pixel."""
    share = (seen.mm_per_px or 0.4) / COARSE_MM_PER_PX
    size = (round(light.shape[1] * share), round(light.shape[0] * share))
    return np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA), np.float32)


def mark_hidden(light: Light, seen: Sight) -> Light:
    """A leaf, or a pot's label, over half of the mark."""
    out = light.copy()
    corners = seen.marks[0].corners
    half = np.array([corners[0], (corners[0] + corners[1]) / 2, (corners[3] + corners[2]) / 2, corners[3]])
    grown = half + 0.2 * (half - corners.mean(axis=0))
    cv2.fillConvexPoly(out, np.round(grown).astype(np.int32), (0.05, 0.18, 0.04))
    return out


def mark_behind(light: Light, seen: Sight) -> Light:
    """The mark stands 60 mm behind the pots: its card is 7 % smaller and higher up in the picture."""
    return _moved_card(light, seen, 0.93, up_mm=10.0)


def bands(light: Light, _: Sight) -> Light:
    """A dimmed lamp: nine bands over the picture's height, which take away up to 8 % of the light."""
    wave = 0.96 + 0.04 * np.sin(np.linspace(0, 2 * np.pi * 9, light.shape[0], dtype=np.float32))
    return light * wave[:, None, None]


def camera_rolled(light: Light, _: Sight) -> Light:
    """A camera that hangs 4 degrees over."""
    height, width = light.shape[:2]
    turn = cv2.getRotationMatrix2D((width / 2, height / 2), 4.0, 1.0)
    return np.asarray(cv2.warpAffine(light, turn, (width, height), borderMode=cv2.BORDER_REPLICATE), np.float32)


def little_headroom(light: Light, seen: Sight) -> Light:
    """Pots so high in the picture that 70 mm are left above the soil."""
    assert seen.row is not None and seen.mm_per_px
    cut = seen.row.soil_y * seen.shrink - 70.0 / seen.mm_per_px
    return light[max(0, round(cut)) :]


def board_too_narrow(light: Light, seen: Sight) -> Light:
    """The board ends before the last pot; beyond it stands a dim wall."""
    assert seen.row is not None
    start = round((seen.row.right - 0.12 * seen.row.width) * seen.shrink)
    low = round(seen.row.soil_y * seen.shrink)
    out = light.copy()
    out[:low, start:] *= np.array([0.30, 0.24, 0.18], np.float32)
    return out


def _moved_card(light: Light, seen: Sight, share: float, up_mm: float) -> Light:
    """The printed card made smaller about its foot and set higher; what it hid is filled in from around it."""
    corners = seen.marks[0].corners
    side = seen.marks[0].side_px
    left, right = corners[:, 0].min() - 0.65 * side, corners[:, 0].max() + 0.65 * side
    top, low = corners[:, 1].min() - 0.4 * side, corners[:, 1].max() + 0.95 * side
    x0, x1, y0, y1 = max(0, round(left)), round(right), round(top), round(low)
    patch = light[y0:y1, x0:x1]
    hole = np.zeros(light.shape[:2], np.uint8)
    hole[y0 - 3 : y1 + 3, max(0, x0 - 3) : x1 + 3] = 255
    picture = _picture(light)
    filled = to_light(np.asarray(cv2.inpaint(picture, hole, 5, cv2.INPAINT_TELEA), np.uint8))
    size = (round(patch.shape[1] * share), round(patch.shape[0] * share))
    small = cv2.resize(patch, size, interpolation=cv2.INTER_AREA)
    foot, middle = y1 - round(up_mm / (seen.mm_per_px or 0.4)), (x0 + x1) // 2
    start = max(0, middle - size[0] // 2)
    filled[foot - size[1] : foot, start : start + size[0]] = small
    return filled


def _picture(light: Light) -> Rgb:
    noise = np.random.default_rng(SEED).normal(0, 0.5, light.shape)
    return np.clip(np.round(encode_srgb(np.clip(light, 0, 1).astype(np.float64)) * 255 + noise), 0, 255).astype(
        np.uint8
    )


Fault = Callable[[Light, Sight], Light]
# The fault and the line that must name it; from above only the first ones make sense.
EVERYWHERE: dict[str, tuple[Fault, str]] = {
    "dim": (dim, "Brightness"),
    "burnt": (burnt, "Brightness"),
    "lamp-on-one-side": (lamp_on_one_side, "Even light"),
    "out-of-focus": (out_of_focus, "Focus"),
    "too-coarse": (too_coarse, "Fineness"),
    "mark-hidden": (mark_hidden, "Mark"),
    "bands": (bands, "Bands"),
}
FROM_THE_SIDE: dict[str, tuple[Fault, str]] = {
    "mark-behind": (mark_behind, "Mark's place"),
    "camera-rolled": (camera_rolled, "Level"),
    "little-headroom": (little_headroom, "Headroom"),
    "board-too-narrow": (board_too_narrow, "Board"),
}


def with_faults(photo: Path) -> dict[str, tuple[Rgb, str]]:
    """Each fault's picture and the line that must name it."""
    picture = decode(photo.read_bytes(), photo.name)
    seen = sight(picture, Tray())
    faults = EVERYWHERE | (FROM_THE_SIDE if seen.view == "side" else {})
    light = to_light(picture)
    return {name: (_picture(make(light, seen)), line) for name, (make, line) in faults.items()}


def named(picture: Rgb, tray: Tray | None = None, row_mm: float | None = None) -> list[str]:
    """The lines that say MEND."""
    return [line.topic for line in judge(picture, tray or Tray(), row_mm=row_mm) if line.grade == "MEND"]


def small_print(photo: Path) -> list[str]:
    """What is said of a print 4 % small when the row was measured: the same photo, the scale told wrongly."""
    picture = decode(photo.read_bytes(), photo.name)
    seen = sight(picture, Tray())
    pixels = row_px(seen)
    if pixels is None or not seen.mm_per_px:
        return []
    tray = Tray(scale=Scale(marker_mm=seen.mark_mm / FIT_TO_PAGE))
    return named(picture, tray, row_mm=pixels * seen.mm_per_px)


def main() -> None:
    """Write the pictures; with --check, print what is named for each."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("photos", nargs="+", type=Path, metavar="PHOTO")
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--check", action="store_true")
    told = ask.parse_args()
    for photo in told.photos:
        folder = told.out / f"{photo.parent.parent.name}-{photo.stem}"
        folder.mkdir(parents=True, exist_ok=True)
        if told.check:
            _say(photo, "good", [], named(decode(photo.read_bytes(), photo.name)))
            _say(photo, "small print", ["Print size"], small_print(photo))
        for name, (picture, line) in with_faults(photo).items():
            path = folder / f"{name}.jpg"
            cv2.imwrite(str(path), picture[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
            if told.check:
                _say(photo, name, [line], named(decode(path.read_bytes(), path.name)))


def _say(photo: Path, fault: str, wanted: list[str], got: list[str]) -> None:
    verdict = "as planted" if got == wanted else f"WRONG: wanted {wanted}, named {got}"
    print(f"{photo.parent.parent.name} {photo.name:14} {fault:18} {verdict}", flush=True)


if __name__ == "__main__":
    main()
