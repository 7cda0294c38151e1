"""Photos of 12 megapixels and more, 3 MB each or more, with true EXIF times and no two alike, out of smaller ones."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator
from datetime import datetime, timedelta
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from sproutlapse.tray import Tray
from sproutlapse.trayfile import read_tray, write_tray

LEAST_BYTES = 3_000_000
SIZES = {12: (4032, 3024), 24: (6000, 4000)}
BEGIN = datetime(2026, 3, 1)
GRAIN = 3.0  # of 255, one standard deviation: what a phone's sensor leaves; without it an enlarged photo packs to 1 MB
TAKEN = 0x9003  # Exif 2.32, DateTimeOriginal
CHUNK = 8


def large_photos(folder: Path, out: Path, count: int, megapixels: int = 12, *, every_h: float = 1.0) -> Path:
    """Write so many large photos, and the tray.toml for them if the folder has one; those there already stay.

    Parameters
    ----------
    folder
        Photos as `sproutlapse run` takes them, in order of their names. Where more are wanted, each comes again and
        again, with other grain each time.
    out
        Where they go; a folder for this number of them alone.
    """
    small = sorted(path for path in folder.iterdir() if path.suffix.lower() in (".jpg", ".jpeg"))
    if not small:
        sys.exit(f"no photos in {folder}")
    out.mkdir(parents=True, exist_ok=True)
    wanted = [
        (small[n * len(small) // count], out / f"IMG_{n + 1:05d}.JPG", n, SIZES[megapixels], every_h)
        for n in range(count)
        if not (out / f"IMG_{n + 1:05d}.JPG").exists()
    ]
    if wanted:
        with get_context("spawn").Pool(2) as pool:
            pool.starmap(_write, wanted, chunksize=CHUNK)
    if (folder / "tray.toml").is_file():
        with Image.open(small[0]) as first:
            scale = SIZES[megapixels][0] / first.width
        write_tray(_enlarged(read_tray(folder / "tray.toml"), scale), out / "tray.toml")
    return out


def _write(source: Path, target: Path, number: int, size: tuple[int, int], every_h: float) -> None:
    cv2.setNumThreads(1)
    picture = cv2.imread(str(source))
    if picture is None:
        sys.exit(f"{source} cannot be read")
    height = round(size[0] * picture.shape[0] / picture.shape[1])
    chance = np.random.default_rng(number)
    # One field of grain, cut out anew for each photo: drawing it afresh takes ten times as long as all the rest.
    grain = np.random.default_rng(0).normal(0, GRAIN, (height + 64, size[0] + 64)).astype(np.float32)
    down, right = chance.integers(0, 64, 2)
    large = cv2.resize(picture, (size[0], height), interpolation=cv2.INTER_CUBIC)
    noisy = large.astype(np.float32) + grain[down : down + height, right : right + size[0], None]
    rgb = Image.fromarray(np.clip(np.round(noisy), 0, 255).astype(np.uint8)[..., ::-1])
    exif = Image.Exif()
    exif.get_ifd(0x8769)[TAKEN] = (BEGIN + timedelta(hours=every_h * number)).strftime("%Y:%m:%d %H:%M:%S")
    for quality in (92, 95, 97, 99):
        packed = io.BytesIO()
        rgb.save(packed, "JPEG", quality=quality, exif=exif)
        if packed.tell() >= LEAST_BYTES:
            break
    target.write_bytes(packed.getvalue())


def _enlarged(tray: Tray, scale: float) -> Tray:
    """The tray in the pixels of the large photos."""

    def to_large(value: float) -> float:
        return max(0.0, (value + 0.5) * scale - 0.5)

    plants = tuple(
        plant.model_copy(
            update={
                "box_px": None if plant.box_px is None else tuple(to_large(v) for v in plant.box_px),
                "soil_y_px": None if plant.soil_y_px is None else to_large(plant.soil_y_px),
            }
        )
        for plant in tray.plants
    )
    scaled = {
        name: tuple(to_large(v) for v in value)
        for name in ("from_px", "to_px")
        if (value := getattr(tray.scale, name)) is not None
    }
    view = tray.view.model_copy(update={"pixels_of": None})
    return tray.model_copy(update={"plants": plants, "view": view, "scale": tray.scale.model_copy(update=scaled)})


def some_of(folder: Path, out: Path, count: int) -> Path:
    """A folder with so many photos of another one, from all over its time, as links where the disk can, and its
    tray.toml."""
    out.mkdir(parents=True, exist_ok=True)
    for path in _names(folder, count):
        target = out / path.name
        if not target.exists():
            try:
                target.hardlink_to(path)
            except OSError:
                target.write_bytes(path.read_bytes())
    return out


def _names(folder: Path, count: int) -> Iterator[Path]:
    photos = sorted(folder.glob("*.JPG"))
    yield from (photos[n * len(photos) // count] for n in range(count))
    if (folder / "tray.toml").is_file():
        yield folder / "tray.toml"
