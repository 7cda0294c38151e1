"""Measure scenes again after changes that must not matter, and set the figures side by side.

A scene is a folder with `frames/`, `masks/`, `truth.csv`, `frames.csv`, `scene.json` and `tray.toml`: photos and what
is truly in them. Each variant made here is a folder of the same format, `SCENE__VARIANT`, whose truth still holds:

    python scripts/stress.py SCENE ... --out OUT --score PATH/TO/score.py [--variants pink,half]

The variants lie in OUT and are kept for the next run, the tool's results in OUT/results, the table (a row per figure, a
column per scene and variant) is printed and stands in OUT/stress.csv. `--derive-only` writes the variants and stops.

| variant  | what is done                                                                                       |
|----------|----------------------------------------------------------------------------------------------------|
| as-is    | nothing: the scene itself                                                                          |
| dim      | exposure x 0.6 in linear light                                                                     |
| bright   | exposure x 1.35 in linear light                                                                    |
| pink     | white balance: red x 1.25, green x 0.85, blue x 1.15 in linear light                               |
| orange   | white balance: red x 1.3, blue x 0.65 in linear light                                              |
| jpeg60   | saved as JPEG of quality 60                                                                        |
| half     | half the width and height; a mask pixel is plant if half of its four are; no intersection over union |
| noise    | noise of a small sensor at high gain, in linear light                                              |
| bump     | from the middle on the picture lies 9 pixels off and is turned by 1 degree                         |
| late     | the first ten frames are missing                                                                   |
| last     | only the last third of the frames                                                                  |
"""

from __future__ import annotations

import copy
import io
import json
import shutil
import sys
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
import pandas as pd
import tomlkit
from derived import asked, figures, load_score, told
from PIL import Image, ImageFile

Floats = npt.NDArray[np.float32]
Bytes = npt.NDArray[np.uint8]
Move = npt.NDArray[np.float64]  # 2 x 3, takes (x, y, 1) of a pixel to its new place

# A file cut short is decoded as far as it goes, changed, and cut short again.
ImageFile.LOAD_TRUNCATED_IMAGES = True
CUT_SHARE = 0.55

JPEG_QUALITY = 92  # above the scenes' own 90, so that saving again costs little
SHIFT_PX = (7.2, 5.4)  # 9 pixels
ROLL_DEG = 1.0
LATE_FRAMES = 10
# Full well and read noise of a 1/3-inch sensor at ISO 1600, in electrons.
FULL_WELL_E = 1500.0
READ_E = 8.0

LENGTHS_PX = {"marker_side_px", "bar_length_px", "focal_px", "image_size_px", "shift_px"}
PLACES_PX = {"base_x_px", "base_y_px", "top3d_x_px", "top3d_y_px"}


@dataclass(frozen=True)
class Variant:
    """One change: of the light, of the size, of the place from the middle on, or of which frames there are."""

    light: Callable[[Floats, np.random.Generator], Floats] | None = None
    quality: int = JPEG_QUALITY
    half: bool = False
    bump: bool = False
    first: Callable[[int], int] = lambda n: 0

    @property
    def keeps_bytes(self) -> bool:
        """Whether photos are copied as they are."""
        return self.light is None and self.quality == JPEG_QUALITY and not self.half and not self.bump


def gains(red: float, green: float, blue: float) -> Callable[[Floats, np.random.Generator], Floats]:
    """Multiply the channels of linear light."""
    return lambda linear, rng: linear * np.array([red, green, blue], np.float32)


def sensor_noise(linear: Floats, rng: np.random.Generator) -> Floats:
    """Photon and read noise, as if `FULL_WELL_E` electrons made white."""
    electrons = np.maximum(linear, 0) * FULL_WELL_E
    noise = rng.standard_normal(linear.shape, np.float32) * np.sqrt(electrons + READ_E**2)
    return ((electrons + noise) / FULL_WELL_E).astype(np.float32)


VARIANTS: dict[str, Variant] = {
    "as-is": Variant(),
    "dim": Variant(light=gains(0.6, 0.6, 0.6)),
    "bright": Variant(light=gains(1.35, 1.35, 1.35)),
    "pink": Variant(light=gains(1.25, 0.85, 1.15)),
    "orange": Variant(light=gains(1.3, 1.0, 0.65)),
    "jpeg60": Variant(quality=60),
    "half": Variant(half=True),
    "noise": Variant(light=sensor_noise),
    "bump": Variant(bump=True),
    "late": Variant(first=lambda n: LATE_FRAMES),
    "last": Variant(first=lambda n: n - n // 3),
}


def linear_light(rgb: Bytes) -> Floats:
    """sRGB bytes to linear light, 0 to 1 (IEC 61966-2-1)."""
    s = np.arange(256, dtype=np.float32) / 255
    return np.where(s <= 0.04045, s / 12.92, ((s + 0.055) / 1.055) ** 2.4).astype(np.float32)[rgb]


def srgb_bytes(linear: Floats) -> Bytes:
    """Linear light to sRGB bytes; what is beyond white burns out."""
    x = np.clip(linear, 0, 1)
    s = np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.power(np.maximum(x, 1e-9), 1 / 2.4) - 0.055)
    return (s * 255 + 0.5).astype(np.uint8)


def halved_mask(mask: Bytes) -> Bytes:
    """Each 2 x 2 block becomes the plant that holds most of it, if plants hold half of it or more."""
    h, w = (n - n % 2 for n in mask.shape)
    blocks = mask[:h, :w].reshape(h // 2, 2, w // 2, 2).transpose(0, 2, 1, 3).reshape(h // 2, w // 2, 4)
    best = np.zeros(blocks.shape[:2], np.uint8)
    most = np.zeros(blocks.shape[:2], np.int64)
    for plant in np.unique(mask[mask > 0]):
        share = (blocks == plant).sum(-1)
        best, most = np.where(share > most, plant, best), np.maximum(share, most)
    return np.where((blocks > 0).sum(-1) >= 2, best, 0).astype(np.uint8)


def bump_move(size: tuple[int, int]) -> Move:
    """Where a pixel of a (width, height) picture lies after the bump."""
    centre = ((size[0] - 1) / 2, (size[1] - 1) / 2)
    move = np.asarray(cv2.getRotationMatrix2D(centre, ROLL_DEG, 1.0), float)
    move[:, 2] += SHIFT_PX
    return move


def moved(points: npt.ArrayLike, move: Move) -> npt.NDArray[np.float64]:
    """Points (..., 2) after a move."""
    return np.asarray(points, float) @ move[:, :2].T + move[:, 2]


def warped(picture: Bytes, move: Move, flags: int) -> Bytes:
    """The picture after a move; what came from outside repeats the edge."""
    size = (picture.shape[1], picture.shape[0])
    return np.asarray(cv2.warpAffine(picture, move, size, flags=flags, borderMode=cv2.BORDER_REPLICATE), np.uint8)


def changed_photo(path: Path, variant: Variant, bumped: bool, cut_short: bool) -> bytes:
    """The photo's file after the change, with its EXIF. Equal files stay equal."""
    data = path.read_bytes()
    if variant.keeps_bytes or (variant.bump and not bumped):
        return data
    with Image.open(io.BytesIO(data)) as image:
        exif = image.getexif()
        rgb = np.asarray(image.convert("RGB"))
    if variant.light is not None or variant.half:
        linear = linear_light(rgb)
        if variant.light is not None:
            linear = variant.light(linear, np.random.default_rng(zlib.crc32(data)))
        if variant.half:
            size = (rgb.shape[1] // 2, rgb.shape[0] // 2)
            linear = np.asarray(cv2.resize(linear, size, interpolation=cv2.INTER_AREA), np.float32)
            exif.get_ifd(0x8769).update({0xA002: size[0], 0xA003: size[1]})  # PixelXDimension, PixelYDimension
        rgb = srgb_bytes(linear)
    if bumped:
        rgb = warped(rgb, bump_move((rgb.shape[1], rgb.shape[0])), cv2.INTER_CUBIC)
    out = io.BytesIO()
    Image.fromarray(rgb).save(out, "JPEG", quality=variant.quality, subsampling="4:2:0", exif=exif.tobytes())
    return out.getvalue()[: int(out.tell() * CUT_SHARE)] if cut_short else out.getvalue()


def changed_mask(mask: Bytes, variant: Variant, bumped: bool) -> Bytes:
    """The true mask of a frame after the change."""
    if bumped:
        return warped(mask, bump_move((mask.shape[1], mask.shape[0])), cv2.INTER_NEAREST)
    return halved_mask(mask) if variant.half else mask


def halved(key: str, value: Any) -> Any:
    """A value of scene.json or tray.toml at half the size, by the unit in its key; pixel centres are whole numbers."""
    if isinstance(value, Mapping):
        return {k: halved(k, v) for k, v in value.items()}
    if isinstance(value, list):
        return [halved(key, v) for v in value]
    if "_px" not in key or not isinstance(value, int | float):
        return value
    if "mm_per_px" in key:
        return round(value * 2, 6)
    if key in LENGTHS_PX:
        return value / 2 if value % 2 else value // 2
    # A box includes its corners: the pixels that hold them.
    return int(value // 2) if key == "box_px" else round((value - 0.5) / 2, 3)


def changed_truth(truth: pd.DataFrame, variant: Variant, masks: dict[str, Bytes], bumped: set[str]) -> pd.DataFrame:
    """Truth rows (all as text) after the change: pixel columns moved or halved, what a mask says counted anew."""
    truth = truth.copy()
    if not variant.half and not bumped:
        return truth
    order = {name: k + 1 for k, name in enumerate(dict.fromkeys(truth["plant"]))}
    for row in truth.index:
        frame = str(truth.at[row, "frame"])
        if not variant.half and frame not in bumped:
            continue
        mine = masks[frame] == order[str(truth.at[row, "plant"])]
        truth.at[row, "mask_px"] = str(int(mine.sum()))
        if truth.at[row, "top_y_px"] != "":
            lines = np.flatnonzero(mine.any(axis=1))
            truth.at[row, "top_y_px"] = str(int(lines[0])) if len(lines) else ""
        if variant.half:
            for column in PLACES_PX | {"mm_per_px", "base_mm_per_px"}:
                if truth.at[row, column] != "":
                    truth.at[row, column] = str(halved(column, float(str(truth.at[row, column]))))
        else:
            move = bump_move((mine.shape[1], mine.shape[0]))
            for x, y in (("base_x_px", "base_y_px"), ("top3d_x_px", "top3d_y_px")):
                if truth.at[row, x] != "":
                    at = moved([float(str(truth.at[row, c])) for c in (x, y)], move).round(2)
                    truth.at[row, x], truth.at[row, y] = str(at[0]), str(at[1])
    return truth


def stand_after_bump(stand: dict[str, Any], size: tuple[int, int]) -> dict[str, Any]:
    """A stand of the camera after the bump: the mark's corners follow, pots have no upright place any more."""
    move = bump_move(size)
    mark = {k: moved(v, move).round(2).tolist() if k.endswith(("corners_px", "ends_px")) else v
            for k, v in stand["scale_mark"].items()}  # fmt: skip
    pots = [{"name": p["name"], "soil_y_px": round(float(p["soil_y_px"] + SHIFT_PX[1]), 2)} for p in stand["pots"]]
    return {**stand, "scale_mark": mark, "pots": pots}


def changed_scene(scene: dict[str, Any], variant: Variant, frames: pd.DataFrame, middle: int) -> dict[str, Any]:
    """scene.json after the change. `frames`: rows of frames.csv that are left; `middle`: first slot bumped."""
    files, times = list(frames["frame"]), list(frames["time"])
    slots = [int(s) for s in frames["slot"]]
    scene = halved("", scene) if variant.half else copy.deepcopy(scene)
    if variant.bump:
        size = (scene["image_size_px"][0], scene["image_size_px"][1])
        stands: list[dict[str, Any]] = []
        for stand in scene["camera_stands"]:
            a, b = stand["first_slot"], stand["last_slot"]
            if a < middle:
                stands.append({**stand, "last_slot": min(b, middle - 1)})
            if b >= middle:
                begins = {"first_slot": middle, "first_frame": files[slots.index(middle)]} if a < middle else {}
                stands.append({**stand_after_bump(stand, size), **begins})
        scene["camera_stands"] = stands
    if files[0] == str(frames.attrs.get("first_file", files[0])):
        return scene
    duplicates = scene.get("nuisances", {}).get("duplicate_of", {})
    scene["faults"] = {f: k for f, k in scene.get("faults", {}).items()
                       if f in files and not (k == "duplicate" and duplicates.get(f) not in files)}  # fmt: skip
    scene["frames"], scene["start"] = len(files), times[0]
    scene["trims"] = [t for t in scene.get("trims", []) if t["time"] > times[0]]
    scene["camera_stands"] = [s for s in scene["camera_stands"] if s["last_slot"] >= slots[0]]
    stand = scene["camera_stands"][0]
    stand.update(first_slot=max(slots[0], stand["first_slot"]), first_frame=files[0])
    for plant in (p for p in scene["plants"] if p.get("leggy_from")):
        plant["leggy_from"] = max(plant["leggy_from"], times[0])
    return scene


def changed_tray(tray: str, variant: Variant, old: dict[str, Any], new: dict[str, Any]) -> str:
    """tray.toml after the change: halved, or in the pixels of the first frame that is left."""
    document: dict[str, Any] = tomlkit.parse(tray).unwrap()
    if variant.half:
        document = halved("", document)
    elif old["camera_stands"][0]["scale_mark"] != new["camera_stands"][0]["scale_mark"]:
        places = {p["name"]: p for p in new["camera_stands"][0]["pots"]}
        for plant in document["plant"]:
            at = places[plant["name"]]
            plant["box_px"] = [int(v) for v in at["grow_box_px"]]
            if "soil_y_px" in plant:
                plant["soil_y_px"] = round(at["soil_y_px"])
    else:
        return tray
    return tomlkit.dumps(document)


def derive(scene: Path, name: str, folder: Path) -> None:
    """Write one variant of a scene, unless it is there already (tray.toml is written last)."""
    if (folder / "tray.toml").exists():
        return
    shutil.rmtree(folder, ignore_errors=True)
    for part in ("frames", "masks"):
        (folder / part).mkdir(parents=True)
    variant = VARIANTS[name]
    about = json.loads((scene / "scene.json").read_text(encoding="utf-8"))
    frames = pd.read_csv(scene / "frames.csv", dtype=str, keep_default_na=False)
    truth = pd.read_csv(scene / "truth.csv", dtype=str, keep_default_na=False)
    left = frames.iloc[variant.first(len(frames)) :].reset_index(drop=True)
    left.attrs["first_file"] = frames["frame"][0]
    truth = truth[truth["frame"].isin(set(left["frame"]))].reset_index(drop=True)
    slots = left["slot"].astype(int)
    middle = int(slots[slots >= slots.max() / 2].iloc[0])
    bumped = set(left.loc[slots >= middle, "frame"]) if variant.bump else set()
    if variant.bump:
        left.loc[left["frame"].isin(bumped), "bumped"] = "1"

    masks: dict[str, Bytes] = {}
    for frame in left["frame"]:
        moves = frame in bumped
        damaged = about.get("faults", {}).get(frame) == "damaged"
        (folder / "frames" / frame).write_bytes(changed_photo(scene / "frames" / frame, variant, moves, damaged))
        mask_file = Path(frame).with_suffix(".png")
        with Image.open(scene / "masks" / mask_file) as image:
            masks[frame] = changed_mask(np.asarray(image.convert("L")), variant, moves)
        Image.fromarray(masks[frame]).save(folder / "masks" / mask_file, optimize=True)

    changed_truth(truth, variant, masks, bumped).to_csv(folder / "truth.csv", index=False, lineterminator="\n")
    new = changed_scene(about, variant, left, middle)
    duplicates_gone = [f for f, k in about.get("faults", {}).items() if k == "duplicate" and f not in new["faults"]]
    left.loc[left["frame"].isin(duplicates_gone), "fault"] = ""
    left.to_csv(folder / "frames.csv", index=False, lineterminator="\n")
    (folder / "scene.json").write_text(json.dumps(new, indent=1) + "\n", encoding="utf-8", newline="\n")
    tray = changed_tray((scene / "tray.toml").read_text(encoding="utf-8"), variant, about, new)
    (folder / "tray.toml").write_text(tray, encoding="utf-8", newline="\n")


def main() -> int:
    """Derive, run, score, tell."""
    ask = asked(__doc__)
    ask.add_argument("--variants", default=",".join(VARIANTS), help="which, with commas (default: all)")
    ask.add_argument("--derive-only", action="store_true", help="write the variants and stop")
    said, options = ask.parse_known_args()
    names = said.variants.split(",")
    if unknown := sorted(set(names) - set(VARIANTS)):
        ask.error(f"unknown: {', '.join(unknown)}; there are {', '.join(VARIANTS)}")
    if not said.derive_only and said.score is None:
        ask.error("--score is needed (or --derive-only)")
    score = None if said.derive_only else load_score(said.score)
    table: dict[str, dict[str, Any]] = {}
    for scene in said.scenes:
        for name in names:
            folder = scene if name == "as-is" else said.out / f"{scene.name}__{name}"
            if folder != scene:
                derive(scene, name, folder)
            if score is None:
                continue
            column = f"{scene.name}/{name}"
            table[column] = figures(folder, said.out / "results" / f"{scene.name}__{name}", said.tool, score, options)
            print(f"{column}: {table[column]['seconds']} s", flush=True)
            # Written after each run, so that a long stress run broken off has not been for nothing.
            pd.DataFrame(table).to_csv(said.out / "stress.csv", index_label="figure", lineterminator="\n")
    return told(table)


if __name__ == "__main__":
    sys.exit(main())
