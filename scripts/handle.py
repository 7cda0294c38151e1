"""Derive sequences in which the camera or the pots were handled from scenes with truth, and score the tool on them.

A scene has the format that `stress.py` describes. What is made has it too, and its truth still holds:

    python scripts/handle.py SCENE ... --out OUT --score PATH/TO/score.py [--kinds lift,stands]

lift    side: from a third of the frames on each pot stands up to 5 mm beside its place, from two thirds on elsewhere
        again; mark and board stay. Above: the whole tray lies 5 mm off and is turned by half a degree
one     side: the second pot alone
stands  the camera was put back by hand at these moments: up to 200 pixels, 3 degrees and 5 % of scale off
both    side: `lift`, and the camera put back in the same hours
view    side: from the middle on the camera stands elsewhere altogether: the picture turned by 8 degrees, 15 % smaller
        and shifted by 160 pixels, more than what is undone
turn    side: from a third on every second pot is turned in place by half a turn, as a camera far away sees it: its
        strip is mirrored about the pot's axis, so that heights stay what they were
ends    from the middle on the tray is turned end for end. Above: by half a turn about its middle; side: the whole row
        mirrored. Names in truth go with the plants, so a tool that asks and renames nothing is off in the figures

Pots are moved by a smooth field of shifts: constant over each pot's strip, blended in the gaps between them, where the
board is plain; frames are resampled once, by cubics, and repeat their edge.
"""

from __future__ import annotations

import io
import json
import shutil
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
import pandas as pd
import tomlkit
from derived import each_kind
from PIL import Image
from stress import Bytes, Move, moved

Field = npt.NDArray[np.float32]  # (height, width, 2): where each pixel of the new picture comes from

KINDS = ("lift", "one", "stands", "both", "view", "turn", "ends")
VIEW = (40.0, 155.0, 8.0, 0.85)
STANDS = ((45.0, 190.0, 3.0, 1.05), (-70.0, 110.0, -2.2, 0.96))  # pixels right and down, degrees, scale
LIFTS_MM = ((4.0, 3.0), (4.6, 1.0), (3.2, -2.0), (5.0, 0.0), (2.2, 1.6))  # right and down; each pot another


def stand_move(size: tuple[int, int], stand: tuple[float, float, float, float]) -> Move:
    """Where a pixel lies after the camera was put back; a small picture moves by the same share."""
    dx, dy, turn, scale = stand
    move = np.asarray(cv2.getRotationMatrix2D(((size[0] - 1) / 2, (size[1] - 1) / 2), turn, scale), float)
    move[:, 2] += np.array([dx, dy]) * size[0] / 1280
    return move


def pot_shifts(tray: dict[str, Any], mm_per_px: float, kind: str, again: bool) -> npt.NDArray[np.float64]:
    """(n, 2) shift of each pot in pixels, right and down."""
    count = len(tray["plant"])
    shifts = np.array([LIFTS_MM[(k + 2 * again) % len(LIFTS_MM)] for k in range(count)]) / mm_per_px
    shifts[:, 0] *= -1 if again else 1  # neighbours go the same way, or they would run into each other
    if kind == "one":
        shifts[np.arange(count) != 1] = 0.0
    return shifts


def pot_field(size: tuple[int, int], boxes: npt.NDArray[np.float64], shifts: npt.NDArray[np.float64]) -> Field:
    """Where each pixel comes from if pots moved: a shift a strip, blended in the gaps; what lies beyond the outermost
    strips stays."""
    x = np.arange(size[0], dtype=np.float64)
    order = np.argsort(boxes[:, 0])
    knots, values = [], []
    for k in order:
        left, right = boxes[k, 0], boxes[k, 2]
        edge = 0.03 * (right - left)
        knots += [left + edge + shifts[k, 0], right - edge + shifts[k, 0]]
        values += [shifts[k], shifts[k]]
    first, last = knots[0] - 20, knots[-1] + 20
    knots, values = [first, *knots, last], [np.zeros(2), *values, np.zeros(2)]
    own = np.column_stack([np.interp(x, knots, np.asarray(values)[:, c]) for c in (0, 1)])
    xx, yy = np.meshgrid(x, np.arange(size[1], dtype=np.float64))
    return np.stack([xx - own[None, :, 0], yy - own[None, :, 1]], -1).astype(np.float32)


def mirrored(field: Field, left: float, right: float, middle: float) -> Field:
    """A field in which what lies between two columns is mirrored about a third."""
    out, x = field.copy(), np.arange(field.shape[1], dtype=np.float32)
    here = (x >= left) & (x <= right)
    out[:, here, 0] = (2 * middle - x[here]).clip(left, right)
    return out


def end_for_end(field: Field, boxes: npt.NDArray[np.float64]) -> Field:
    """A field in which the tray seen from above is turned by half a turn about its middle."""
    low, high = boxes[:, :2].min(0) - 14, boxes[:, 2:].max(0) + 14
    inside = ((field >= low) & (field <= high)).all(-1)[..., None]
    return np.where(inside, (low + high).astype(np.float32) - field, field).astype(np.float32)


def tray_field(size: tuple[int, int], boxes: npt.NDArray[np.float64], move: Move) -> Field:
    """Where each pixel comes from if the tray seen from above moved and the floor stayed."""
    back = np.asarray(cv2.invertAffineTransform(move), float)
    xx, yy = np.meshgrid(np.arange(size[0], dtype=np.float64), np.arange(size[1], dtype=np.float64))
    here = np.stack([xx, yy], -1)
    low, high = boxes[:, :2].min(0) - 14, boxes[:, 2:].max(0) + 14
    outside = np.maximum(np.maximum(low - here, here - high), 0).max(-1)
    share = np.clip(1 - outside / 25, 0, 1)[..., None]
    return (here + share * (moved(here, back) - here)).astype(np.float32)


def of_camera(field: Field, move: Move) -> Field:
    """The same field seen by a camera that was put back: one resampling for both."""
    size = (field.shape[1], field.shape[0])
    back = np.asarray(cv2.invertAffineTransform(move), float)
    xx, yy = np.meshgrid(np.arange(size[0], dtype=np.float64), np.arange(size[1], dtype=np.float64))
    at = moved(np.stack([xx, yy], -1), back).astype(np.float32)
    return np.asarray(cv2.remap(field, at, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32)


def resampled(picture: Bytes, field: Field, how: int) -> Bytes:
    """A picture or mask through a field."""
    return np.asarray(cv2.remap(picture, field, None, how, borderMode=cv2.BORDER_REPLICATE), np.uint8)


def board_kept(before: Bytes, after: Bytes) -> Bytes:
    """A picture in which strips were mirrored, each column as bright as the board there was before."""
    top = slice(0, max(1, len(before) // 12))
    was, now = (np.median(picture[top], axis=0).astype(np.float64) for picture in (before, after))
    gain = cv2.blur(was / np.maximum(now, 1.0), (1, 5))
    return np.asarray(np.clip(np.round(after * gain[None]), 0, 255), np.uint8)


def derive(scene: Path, kind: str, folder: Path) -> None:
    """Write one derived scene, unless it is there already."""
    if (folder / "tray.toml").exists():
        return
    shutil.rmtree(folder, ignore_errors=True)
    for part in ("frames", "masks"):
        (folder / part).mkdir(parents=True)
    about = json.loads((scene / "scene.json").read_text(encoding="utf-8"))
    tray: dict[str, Any] = tomlkit.parse((scene / "tray.toml").read_text(encoding="utf-8")).unwrap()
    frames = list(pd.read_csv(scene / "frames.csv", dtype=str)["frame"])
    truth = pd.read_csv(scene / "truth.csv", dtype=str, keep_default_na=False)
    order = {str(plant["name"]): k + 1 for k, plant in enumerate(tray["plant"])}
    handled = []
    for index, frame in enumerate(frames):
        source, mask_file = scene / "frames" / frame, Path(frame).with_suffix(".png")
        mask = np.asarray(Image.open(scene / "masks" / mask_file).convert("L"))
        field, said = _field(kind, about, tray, index / len(frames))
        handled.append({"frame": frame, **said})
        if field is None or about.get("faults", {}).get(frame) == "damaged":
            shutil.copyfile(source, folder / "frames" / frame)
        else:
            with Image.open(source) as image:
                exif, rgb = image.getexif(), np.asarray(image.convert("RGB"))
            out, shown = io.BytesIO(), resampled(rgb, field, cv2.INTER_CUBIC)
            if kind == "turn":
                shown = board_kept(rgb, shown)
            Image.fromarray(shown).save(out, "JPEG", quality=92, subsampling="4:2:0", exif=exif.tobytes())
            (folder / "frames" / frame).write_bytes(out.getvalue())
            mask = resampled(mask, field, cv2.INTER_NEAREST)
            for row in truth.index[truth["frame"] == frame]:
                truth.at[row, "mask_px"] = str(int((mask == order[str(truth.at[row, "plant"])]).sum()))
        Image.fromarray(mask).save(folder / "masks" / mask_file)
    truth.to_csv(folder / "truth.csv", index=False, lineterminator="\n")
    pd.DataFrame(handled).to_csv(folder / "handled.csv", index=False, lineterminator="\n")
    for name in ("frames.csv", "scene.json", "tray.toml"):
        shutil.copyfile(scene / name, folder / name)


def _field(kind: str, about: dict[str, Any], tray: dict[str, Any], at: float) -> tuple[Field | None, dict[str, Any]]:
    """The field of a frame at a share of the sequence, and what was done, for handled.csv."""
    if at < (1 / 2 if kind in ("view", "ends") else 1 / 3):
        return None, {}
    again = at >= 2 / 3
    said: dict[str, Any] = {}
    size = (int(about["image_size_px"][0]), int(about["image_size_px"][1]))
    boxes = np.array([plant["box_px"] for plant in tray["plant"]], float)
    mm = float(about["mm_per_px_plants"])
    xx, yy = np.meshgrid(np.arange(size[0], dtype=np.float32), np.arange(size[1], dtype=np.float32))
    field: Field = np.stack([xx, yy], -1)
    if kind in ("lift", "one", "both"):
        if about["view"] == "above":
            move = stand_move(size, (0, 0, -0.5 if again else 0.5, 1.0))
            move[:, 2] += np.array([-4.0, 3.0] if again else [3.0, 4.0]) / mm
            field = tray_field(size, boxes, move)
        else:
            shifts = pot_shifts(tray, mm, kind, again)
            field = pot_field(size, boxes, shifts)
            for plant, (dx, dy) in zip(tray["plant"], shifts, strict=True):
                said |= {f"{plant['name']}_x_px": round(float(dx), 3), f"{plant['name']}_y_px": round(float(dy), 3)}
    if kind == "turn" and about["view"] == "side":
        pots = {pot["name"]: pot["rect_px"] for pot in about["camera_stands"][0]["pots"]}
        for plant in tray["plant"][1::2]:
            left, _, right, _ = pots[plant["name"]]
            field = mirrored(field, plant["box_px"][0] + 1, plant["box_px"][2] - 1, (left + right) / 2)
    if kind == "ends" and about["view"] == "above":
        field = end_for_end(field, boxes)
    elif kind == "ends":
        field = mirrored(field, boxes[:, 0].min(), boxes[:, 2].max(), (boxes[:, 0].min() + boxes[:, 2].max()) / 2)
    if kind in ("stands", "both", "view"):
        move = stand_move(size, VIEW if kind == "view" else STANDS[int(again)])
        field = of_camera(field, move)
        said["camera"] = " ".join(f"{v:.5f}" for v in move.ravel())
    return field, said


def main() -> int:
    """Derive, run, score, tell."""
    return each_kind(__doc__, KINDS, lambda scene, kind, folder, _: derive(scene, kind, folder))


if __name__ == "__main__":
    sys.exit(main())
