"""The example's photos for tests of the whole job: a shorter season at full size, and a few at half size."""

from __future__ import annotations

import shutil
from pathlib import Path

from PIL import Image

from sproutlapse.job import JobSummary, run_job
from sproutlapse.progress import Silent
from sproutlapse.tray import Tray
from sproutlapse.trayfile import read_tray, write_tray

SHELF = Path(__file__).resolve().parents[1] / "fixtures" / "shelf"
FRAMES = sorted(path.name for path in (SHELF / "photos").glob("*.JPG"))
# Bare pots and emergence photo by photo, then every fifth: the whole story in half the time.
SEASON = [*FRAMES[:17], *FRAMES[19::5]]
# Seven bare ones, then plants well up.
FEW = [*FRAMES[:7], *FRAMES[25:29]]
TABLES = (
    "measurements.csv",
    "frames.csv",
    "plants.csv",
    "sowings.csv",
    "events.csv",
    "light.csv",
    "curves.csv",
    "own-crops.csv",
    "run.json",
    "tray.toml",
)


def copy_season(folder: Path, frames: list[str] = SEASON) -> Path:
    """Photos at full size and their tray.toml, with their file times."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in [*frames, "tray.toml"]:
        shutil.copy2(SHELF / "photos" / name, folder / name)
    return folder


def halve(name: str, target: Path) -> None:
    """One photo at half size, its EXIF data kept."""
    with Image.open(SHELF / "photos" / name) as photo:
        photo.resize((640, 480), Image.Resampling.BOX).save(target, quality=95, exif=photo.info["exif"])


def half_tray() -> Tray:
    """The example's tray for photos of half the size."""
    tray = read_tray(SHELF / "photos" / "tray.toml")
    plants = tuple(
        plant.model_copy(
            update={"box_px": tuple((v - 0.5) / 2 for v in plant.box_px), "soil_y_px": (plant.soil_y_px - 0.5) / 2}
        )
        for plant in tray.plants
    )
    plants = tuple(p.model_copy(update={"box_px": tuple(max(v, 0.0) for v in p.box_px)}) for p in plants)
    return tray.model_copy(update={"plants": plants, "view": tray.view.model_copy(update={"pixels_of": None})})


def write_half_tray(path: Path, **parts: object) -> None:
    """Write the half-size tray, some of its parts replaced."""
    write_tray(half_tray().model_copy(update=parts), path)


def run(folder: Path, out: Path | None = None, **options: object) -> JobSummary:
    """The job without film and page, in this process unless told otherwise."""
    settings: dict[str, object] = {
        "tray_path": None, "masks": False, "film": False, "report": False, "workers": 1, "progress": Silent(),
    }  # fmt: skip
    return run_job(folder, out=out, **{**settings, **options})  # type: ignore[arg-type]


def written(out: Path) -> dict[str, bytes]:
    """Every table and mask of a results folder."""
    files = [out / name for name in TABLES] + sorted((out / "masks").rglob("*.png"))
    return {path.relative_to(out).as_posix(): path.read_bytes() for path in files if path.is_file()}
