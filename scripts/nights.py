"""Derive sequences with nights and dimmed lamps from scenes with truth, and score the tool on them.

A scene has the format that `stress.py` describes. What is made has it too, and its truth still holds:

    python scripts/nights.py SCENE ... --out OUT --score PATH/TO/score.py [--kinds infrared,bands]

infrared  photos taken at night are grey, by the camera's own lamp: leaves white before the white board, the lamp's
          bright middle. scene.json names them under `night`
purple    the same with an even purple tint and the noise of a night camera
dark      photos taken at night are black
bands     a dimmed lamp: a wave of light over the rows in every second photo, another phase in each; from light to dark
          twice BAND_SHARE of the light
exposure  the camera chose another exposure for each photo: from 0.6 to 1.3 times the light

It is night from NIGHT_FROM to NIGHT_TO, by the camera's clock, and in the very first photo, so that no reference may
be made of it; a purple one in the first photo cannot be known, so that is left out.
"""

from __future__ import annotations

import io
import json
import shutil
import sys
import zlib
from datetime import datetime
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd
from derived import each_kind
from PIL import Image
from stress import Bytes, Floats, linear_light, sensor_noise, srgb_bytes

KINDS = ("infrared", "purple", "dark", "bands", "exposure")
NIGHT_FROM, NIGHT_TO = 19, 6  # hours
LEAF, SOIL_BRIGHTER = 0.92, 2.5  # infrared light thrown back: leaves over the board; soil and pots over visible light
SPOT = 0.45  # how much darker the corners are than the middle of the infrared lamp's light
PURPLE = (1.0, 0.8, 1.08)
BAND_SHARE, BAND_ROWS = 0.05, 61.0  # half the height of the wave over the light; rows from band to band
EXPOSURES = (0.6, 1.3)


def is_night(time: str) -> bool:
    """Whether the camera's clock says night."""
    hour = datetime.fromisoformat(time).hour
    return hour >= NIGHT_FROM or hour < NIGHT_TO


def infrared(linear: Floats, leaves: Bytes, rng: np.random.Generator, *, purple: bool) -> Floats:
    """The photo by the camera's own infrared lamp; `leaves` is 0 where there are none."""
    grey = np.asarray(linear @ np.array([0.3, 0.5, 0.2], np.float32))
    board = float(np.percentile(grey, 90))
    shine = np.where(grey < 0.35 * board, np.minimum(grey * SOIL_BRIGHTER, 0.5 * board), grey)
    soft = cv2.GaussianBlur((leaves > 0).astype(np.float32), (0, 0), 0.8)
    # Leaves keep a little of their own modelling, and none of their colour.
    own = LEAF * board * np.clip(0.8 + 0.2 * grey / max(float(np.median(grey[leaves > 0])), 1e-3), 0.8, 1.05) \
        if leaves.any() else grey  # fmt: skip
    shine = shine * (1 - soft) + own * soft
    height, width = grey.shape
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    shine = (shine * (0.75 / board) * (1 - SPOT * (x**2 + y**2) / 2)).astype(np.float32)
    if not purple:
        return np.repeat(shine[..., None], 3, axis=2)
    return sensor_noise(shine[..., None] * np.array(PURPLE, np.float32), rng)


def banded(linear: Floats, phase: float) -> Floats:
    """The photo under a lamp that flickers while the sensor is read row by row."""
    rows = np.arange(linear.shape[0]) * 960 / linear.shape[0]
    wave = 1 + BAND_SHARE * np.sin(2 * np.pi * rows / BAND_ROWS + phase)
    return np.asarray(linear * wave[:, None, None], np.float32)


def changed(
    linear: Floats, mask: Bytes, kind: str, *, night: bool, index: int, rng: np.random.Generator
) -> Floats | None:
    """The photo after the change; None if it stays as it is."""
    if kind in ("infrared", "purple"):
        return infrared(linear, mask, rng, purple=kind == "purple") if night else None
    if kind == "dark":
        return sensor_noise(linear * np.float32(0.004), rng) if night else None
    if kind == "bands":
        return banded(linear, float(rng.uniform(0, 2 * np.pi))) if index % 2 else None
    return np.asarray(linear * np.float32(rng.uniform(*EXPOSURES)), np.float32)


def derive(scene: Path, kind: str, folder: Path) -> None:
    """Write one derived scene, unless it is there already."""
    if (folder / "tray.toml").exists():
        return
    shutil.rmtree(folder, ignore_errors=True)
    (folder / "frames").mkdir(parents=True)
    shutil.copytree(scene / "masks", folder / "masks")
    about: dict[str, Any] = json.loads((scene / "scene.json").read_text(encoding="utf-8"))
    frames = pd.read_csv(scene / "frames.csv", dtype=str, keep_default_na=False)
    faults, nights = about.get("faults", {}), []
    for index, (frame, time) in enumerate(zip(frames["frame"], frames["time"], strict=True)):
        source = scene / "frames" / frame
        data = source.read_bytes()
        night = is_night(time) or (index == 0 and kind != "purple")
        if faults.get(frame) in ("damaged", "duplicate", "dark"):
            (folder / "frames" / frame).write_bytes(data)
            continue
        with Image.open(io.BytesIO(data)) as image:
            exif, rgb = image.getexif(), np.asarray(image.convert("RGB"))
        with Image.open(scene / "masks" / Path(frame).with_suffix(".png")) as picture:
            mask = np.asarray(picture.convert("L"))
        rng = np.random.default_rng(zlib.crc32(data))
        made = changed(linear_light(rgb), mask, kind, night=night, index=index, rng=rng)
        if made is None:
            (folder / "frames" / frame).write_bytes(data)
            continue
        if kind in ("infrared", "purple"):
            nights.append(frame)
            faults.pop(frame, None)
        elif kind == "dark":
            faults[frame] = "dark"
        out = io.BytesIO()
        saved = Image.fromarray(srgb_bytes(made))
        saved.save(out, "JPEG", quality=92, subsampling="4:2:0", exif=exif.tobytes())
        (folder / "frames" / frame).write_bytes(out.getvalue())
    about |= {"faults": faults, "night": nights}
    (folder / "scene.json").write_text(json.dumps(about, indent=1) + "\n", encoding="utf-8", newline="\n")
    for name in ("frames.csv", "truth.csv", "tray.toml"):
        shutil.copyfile(scene / name, folder / name)


def main() -> int:
    """Derive, run, score, tell."""
    return each_kind(__doc__, KINDS, lambda scene, kind, folder, _: derive(scene, kind, folder))


if __name__ == "__main__":
    sys.exit(main())
