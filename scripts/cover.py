"""Derive sequences under a clear cover with fog and glare from scenes with truth, and score the tool on them.

A scene has the format that `stress.py` describes. What is made has it too, and its truth still holds; `scene.json` gets
`covers`: the plants that came up under the cover, and the first frame without it.

    python scripts/cover.py SCENE ... --out OUT --score PATH/TO/score.py [--kinds dome,pot,always]

dome    one hood over the whole row down to the floor, or a film over the tray, until a share `--until` of the frames
pot     a small hood on the rim of the second pot alone, for as long; side
later   no cover at first; the hood stands over the row from a third of the frames to two thirds
always  the hood stays in every frame

A cover is a veil in linear light: what lies behind is blurred and mixed with the grey-white of fog, mottled, with
drops, glare along its sides and a rim; the fog drifts from frame to frame.
"""

from __future__ import annotations

import argparse
import io
import json
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd
import tomlkit
from derived import each_kind
from PIL import Image
from stress import Bytes, Floats, linear_light, srgb_bytes

KINDS = ("dome", "pot", "later", "always")
UNTIL = 0.3  # share of the frames under the cover
VEIL = (0.36, 0.52)  # share of fog in the light, at its thinnest and thickest hour
MOTTLED = 0.10
BLUR = 2.2 / 1280  # of the picture's width
FOG_LIGHT = 0.72  # of the board's light
GLARE_LIGHT = 0.5


@dataclass(frozen=True)
class Hood:
    """One cover: left, top, right, bottom in pixels, and how round its upper corners are."""

    box: tuple[float, float, float, float]
    round_px: float


def hoods(tray: dict[str, Any], kind: str) -> list[Hood]:
    """The covers of a tray, in its pixels."""
    boxes = np.array([plant["box_px"] for plant in tray["plant"]], float)
    wide = float(np.median(boxes[:, 2] - boxes[:, 0]))
    if tray["view"]["from"] == "above":
        low, high = boxes[:, :2].min(0) - 0.1 * wide, boxes[:, 2:].max(0) + 0.1 * wide
        return [Hood((low[0], low[1], high[0], high[1]), 0.1 * wide)]
    soil = np.array([plant["soil_y_px"] for plant in tray["plant"]], float)
    if kind == "pot":
        left, right = boxes[1, 0] + 0.03 * wide, boxes[1, 2] - 0.03 * wide
        return [Hood((left, soil[1] - 0.5 * wide, right, soil[1] + 0.09 * wide), 0.3 * wide)]
    left, right = boxes[:, 0].min() - 0.03 * wide, boxes[:, 2].max() + 0.03 * wide
    return [Hood((left, soil.min() - 0.6 * wide, right, soil.max() + 0.95 * wide), 0.2 * wide)]


def outline(size: tuple[int, int], hood: Hood) -> Floats:
    """(height, width) 1 inside, 0 outside, soft over a pixel."""
    xx, yy = np.meshgrid(np.arange(size[0], dtype=np.float32), np.arange(size[1], dtype=np.float32))
    left, top, right, bottom = hood.box
    r = hood.round_px
    dx = np.maximum(np.maximum(left + r - xx, xx - right + r), 0)
    dy = np.maximum(top + r - yy, 0)
    inside = np.minimum(r - np.hypot(dx, dy), bottom - yy)
    return np.asarray(np.clip(inside + 0.5, 0, 1), np.float32)


def mottles(size: tuple[int, int], rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Smooth clouds of fog (about -1 to 1), and drops (0 to 1)."""
    coarse = rng.standard_normal((9, 12)).astype(np.float32)
    clouds = np.asarray(cv2.resize(coarse, size, interpolation=cv2.INTER_CUBIC), np.float32)
    drops = np.zeros((size[1], size[0]), np.float32)
    scale = size[0] / 1280
    for _ in range(900):
        at = (int(rng.integers(size[0])), int(rng.integers(size[1])))
        cv2.circle(drops, at, max(1, round(float(rng.uniform(0.8, 2.6)) * scale)), float(rng.uniform(0.2, 0.9)), -1)
    return np.clip(clouds / 1.6, -1, 1), np.asarray(cv2.GaussianBlur(drops, (0, 0), 0.8 * scale), np.float32)


def covered(rgb: Bytes, hood: Hood, fog: float, seed: int) -> Bytes:
    """A photo with a cover over part of it; `fog` is the share of fog in the light behind it."""
    size = (rgb.shape[1], rgb.shape[0])
    rng = np.random.default_rng(seed)
    light = linear_light(rgb)
    white = np.percentile(light[::4, ::4].reshape(-1, 3), 90, axis=0).astype(np.float32)
    clouds, drops = mottles(size, rng)
    inside = outline(size, hood)
    veil = np.clip(fog + MOTTLED * clouds, 0.05, 0.9)
    behind = cv2.GaussianBlur(light, (0, 0), BLUR * size[0])
    seen = (1 - veil[..., None]) * behind + veil[..., None] * FOG_LIGHT * white
    seen *= (1 + 0.25 * drops * np.sign(clouds))[..., None]
    glare = np.zeros(size[::-1], np.float32)
    left, top, right, bottom = hood.box
    for _ in range(5):
        x = float(rng.uniform(left + 0.04 * (right - left), right - 0.04 * (right - left)))
        ends = np.array([[x, top + 0.1 * (bottom - top)], [x + rng.uniform(-12, 12), bottom - 0.2 * (bottom - top)]])
        start, end = ((int(end[0]), int(end[1])) for end in ends)
        cv2.line(glare, start, end, 1.0, int(rng.integers(2, 7)))
    glare = np.asarray(cv2.GaussianBlur(glare, (0, 0), 2.5 * size[0] / 1280), np.float32)
    rim = np.abs(cv2.GaussianBlur(inside, (0, 0), 1.2 * size[0] / 1280) - inside)
    seen += (GLARE_LIGHT * glare + 0.4 * rim)[..., None] * white
    return srgb_bytes(np.asarray(light + inside[..., None] * (seen - light), np.float32))


def under(index: int, count: int, kind: str, until: float) -> bool:
    """Whether the cover stands there in a frame."""
    at = index / count
    return {"always": True, "later": 1 / 3 <= at < 2 / 3}.get(kind, at < until)


def derive(scene: Path, kind: str, folder: Path, until: float) -> None:
    """Write one derived scene, unless it is there already."""
    if (folder / "tray.toml").exists():
        return
    shutil.rmtree(folder, ignore_errors=True)
    (folder / "frames").mkdir(parents=True)
    tray: dict[str, Any] = tomlkit.parse((scene / "tray.toml").read_text(encoding="utf-8")).unwrap()
    about = json.loads((scene / "scene.json").read_text(encoding="utf-8"))
    frames = list(pd.read_csv(scene / "frames.csv", dtype=str)["frame"])
    for index, frame in enumerate(frames):
        there = under(index, len(frames), kind, until) and about.get("faults", {}).get(frame) != "damaged"
        if not there:
            shutil.copyfile(scene / "frames" / frame, folder / "frames" / frame)
            continue
        with Image.open(scene / "frames" / frame) as image:
            exif, rgb = image.getexif(), np.asarray(image.convert("RGB"))
        fog = VEIL[0] + (VEIL[1] - VEIL[0]) * (0.5 + 0.5 * float(np.sin(index * 1.1)))
        for k, hood in enumerate(hoods(tray, kind)):
            rgb = covered(rgb, hood, fog, 7 + k)
        out = io.BytesIO()
        Image.fromarray(rgb).save(out, "JPEG", quality=92, subsampling="4:2:0", exif=exif.tobytes())
        (folder / "frames" / frame).write_bytes(out.getvalue())
    shutil.copytree(scene / "masks", folder / "masks")
    about["covers"] = _covers(scene, frames, tray, kind, until)
    (folder / "scene.json").write_text(json.dumps(about, indent=1) + "\n", encoding="utf-8", newline="\n")
    for name in ("truth.csv", "frames.csv", "tray.toml"):
        shutil.copyfile(scene / name, folder / name)


def _covers(scene: Path, frames: list[str], tray: dict[str, Any], kind: str, until: float) -> list[dict[str, Any]]:
    """Which plants came up while the cover hid them, and the first frame that shows them again."""
    truth = pd.read_csv(scene / "truth.csv", dtype={"plant": str})
    names = [str(plant["name"]) for plant in tray["plant"]]
    first = truth[truth["visible"] == 1].groupby("plant")["frame"].first()
    own = names[1:2] if kind == "pot" else names
    hidden = [n for n in own if n in first and under(frames.index(first[n]), len(frames), kind, until)]
    after = [k for k in range(1, len(frames)) if under(k - 1, len(frames), kind, until)]
    off = next((frames[k] for k in after if not under(k, len(frames), kind, until)), None)
    return [{"plants": hidden, "until": off}]


def _until(ask: argparse.ArgumentParser) -> None:
    ask.add_argument("--until", type=float, default=UNTIL, help="share of the frames under the cover")


def main() -> int:
    """Derive, run, score, tell."""
    return each_kind(__doc__, KINDS, lambda scene, kind, folder, said: derive(scene, kind, folder, said.until), _until)


if __name__ == "__main__":
    sys.exit(main())
