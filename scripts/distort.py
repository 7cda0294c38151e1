"""A scene with truth as a lens with radial distortion would have shown it.

A scene is a folder with `frames/`, `masks/`, `truth.csv`, `frames.csv`, `scene.json` and `tray.toml`: photos without
distortion and what is truly in them. OUT gets the same format, and its truth holds:

    python scripts/distort.py SCENE OUT --k1 -0.06

k1 is that of OpenCV's camera model, about the picture's centre: a point at radius r (in focal lengths) is shown at
r (1 + k1 r^2); negative is a barrel. The picture is enlarged just enough that nothing beyond its edge is needed.
Heights and areas in mm stay; places and numbers of pixels are made anew. `mm_per_px` is that of the picture's centre.
"""

from __future__ import annotations

import argparse
import json
import shutil
from io import BytesIO
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
import pandas as pd
import tomlkit
from PIL import Image

Floats = npt.NDArray[np.float64]

JPEG_QUALITY = 92
FILM_WIDTH_MM = 36.0
FILM_FOCAL_TAG = 0xA405  # FocalLengthIn35mmFilm (CIPA DC-008)
EXIF_IFD = 0x8769
LABELS = 256


class Bender:
    """Takes places of a picture without distortion to the bent one, and pictures with them."""

    def __init__(self, size: tuple[int, int], focal_px: float, k1: float) -> None:
        self.size, self.k1 = size, k1
        self.centre = (np.array(size, float) - 1) / 2
        corner = float(np.hypot(*self.centre)) / focal_px
        self.zoom = max(1.0, 1 / (1 + k1 * corner**2))
        self.flat = np.array([[focal_px, 0, self.centre[0]], [0, focal_px, self.centre[1]], [0, 0, 1.0]])
        self.bent = self.flat.copy()
        self.bent[:2, :2] *= self.zoom
        self.lens = np.array([k1, 0, 0, 0, 0])
        columns, rows = np.meshgrid(np.arange(size[0]), np.arange(size[1]))
        pixels = np.column_stack([columns.ravel(), rows.ravel()]).astype(np.float64)
        stop = (cv2.TERM_CRITERIA_COUNT | cv2.TERM_CRITERIA_EPS, 60, 1e-10)
        there = cv2.undistortPoints(pixels[:, None], self.bent, self.lens, None, None, self.flat, stop)
        self.maps = cv2.split(np.asarray(there, np.float32).reshape(size[1], size[0], 2))

    def places(self, points: Floats) -> Floats:
        """(n, 2) pixels of the picture without distortion -> of the bent one."""
        rays = np.column_stack([(points - self.centre) / self.flat[0, 0], np.ones(len(points))])
        seen, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), self.bent, self.lens)
        return np.asarray(seen, np.float64).reshape(-1, 2)

    def picture(self, rgb: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
        """A photo, bent."""
        out = cv2.remap(rgb, *self.maps, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
        return np.asarray(out, np.uint8)

    def mask(self, labels: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
        """A label picture, bent: each pixel gets the label that covers most of it."""
        best, out = np.full(labels.shape, 0.5, np.float32), np.zeros(labels.shape, np.uint8)
        for label in np.unique(labels[labels > 0]):
            own = (labels == label).astype(np.float32)
            share = cv2.remap(own, *self.maps, cv2.INTER_LINEAR)
            out[share > best] = label
            best = np.maximum(best, share)
        return out


def distort(scene: Path, out: Path, k1: float) -> None:
    """Write the bent scene."""
    about = json.loads((scene / "scene.json").read_text(encoding="utf-8"))
    bender = Bender(tuple(about["image_size_px"]), about["camera"]["focal_px"], k1)
    film = round(about["camera"]["focal_mm"] / about["camera"]["sensor_width_mm"] * FILM_WIDTH_MM * bender.zoom)
    for name in ("frames", "masks"):
        (out / name).mkdir(parents=True, exist_ok=True)
    for path in sorted((scene / "frames").iterdir()):
        _photo(path, out / "frames" / path.name, bender, film)
    masks = {}
    for path in sorted((scene / "masks").iterdir()):
        masks[path.stem] = bender.mask(np.asarray(Image.open(path)))
        Image.fromarray(masks[path.stem]).save(out / "masks" / path.name)
    _truth(scene, out, bender, masks)
    shutil.copyfile(scene / "frames.csv", out / "frames.csv")
    about["camera"] |= {"model": f"pinhole with k1 = {k1}", "focal_px": about["camera"]["focal_px"] * bender.zoom}
    about["camera"]["lens_k1"] = k1
    (out / "scene.json").write_text(json.dumps(about, indent=1) + "\n", encoding="utf-8", newline="\n")
    (out / "tray.toml").write_text(_tray(scene / "tray.toml", bender), encoding="utf-8", newline="\n")


def _photo(path: Path, out: Path, bender: Bender, film: int) -> None:
    try:
        with Image.open(path) as photo:
            exif, rgb = photo.getexif(), np.asarray(photo.convert("RGB"))
    except OSError:  # a planted fault: cut short
        shutil.copyfile(path, out)
        return
    details = exif.get_ifd(EXIF_IFD)
    details[FILM_FOCAL_TAG] = film
    exif[EXIF_IFD] = details
    data = BytesIO()
    Image.fromarray(bender.picture(rgb)).save(data, "JPEG", quality=JPEG_QUALITY, subsampling=0, exif=exif.tobytes())
    out.write_bytes(data.getvalue())


def _truth(scene: Path, out: Path, bender: Bender, masks: dict[str, npt.NDArray[np.uint8]]) -> None:
    truth = pd.read_csv(scene / "truth.csv")
    for head in ("base", "top3d"):
        x, y = f"{head}_x_px", f"{head}_y_px"
        known = truth[x].notna()
        if known.any():
            truth.loc[known, [x, y]] = np.round(bender.places(truth.loc[known, [x, y]].to_numpy(float)), 2)
    for name in ("mm_per_px", "base_mm_per_px"):
        truth[name] = (truth[name] / bender.zoom).round(6)
    number = {plant: k + 1 for k, plant in enumerate(dict.fromkeys(truth["plant"].astype(str)))}
    for index, row in truth.iterrows():
        rows = np.flatnonzero((masks[Path(str(row["frame"])).stem] == number[str(row["plant"])]).any(axis=1))
        here = masks[Path(str(row["frame"])).stem] == number[str(row["plant"])]
        truth.loc[index, "mask_px"] = int(here.sum())
        truth.loc[index, "top_y_px"] = float(rows[0]) if len(rows) else float("nan")
    truth.to_csv(out / "truth.csv", index=False, lineterminator="\n")


def _tray(path: Path, bender: Bender) -> str:
    """The tray with its boxes where they are seen now; a box keeps the picture's upper edge."""
    tray: Any = tomlkit.parse(path.read_text(encoding="utf-8"))
    width, height = bender.size
    for plant in tray.get("plant", []):
        left, top, right, bottom = plant["box_px"]
        soil = float(plant.get("soil_y_px", (top + bottom) / 2))
        places = [(left, soil), (right, soil), ((left + right) / 2, bottom), ((left + right) / 2, soil)]
        if "soil_y_px" not in plant:
            places.append(((left + right) / 2, top))
        moved = bender.places(np.array(places, float))
        upper = top if "soil_y_px" in plant else moved[4, 1]
        box = [max(0, moved[0, 0]), max(0, upper), min(width - 1, moved[1, 0]), min(height - 1, moved[2, 1])]
        plant["box_px"] = [round(float(v)) for v in box]
        if "soil_y_px" in plant:
            plant["soil_y_px"] = round(float(moved[3, 1]))
    return tomlkit.dumps(tray)


def main() -> None:
    """Read the command line and write the scene."""
    ask = argparse.ArgumentParser(
        description="A scene with truth as a lens with radial distortion would have shown it."
    )
    ask.add_argument("scene", type=Path)
    ask.add_argument("out", type=Path)
    ask.add_argument("--k1", type=float, required=True, help="OpenCV's k1; negative is a barrel")
    said = ask.parse_args()
    distort(said.scene, said.out, said.k1)


if __name__ == "__main__":
    main()
