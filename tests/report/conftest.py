"""A small run to report on: real JPEG photos drawn by numpy, with tables that follow the contract."""

from __future__ import annotations

import io
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from PIL import Image

from sproutlapse.results import CareItem, FrameRecord, Results
from sproutlapse.tray import Plant, Sowing, Tray, View

WIDTH, HEIGHT, SOIL = 400, 300, 240
START = datetime(2026, 3, 1, 9)
MM_PER_PX = 0.5
NAMES = ("A", "<b>B</b> & co", "C")

MakeResults = Callable[..., Results]


def photo_and_labels(places: int, heights_px: list[int]) -> tuple[np.ndarray, np.ndarray]:
    """A grey board with dark pots, and a green stem with a leaf for each height above zero."""
    rgb = np.full((HEIGHT, WIDTH, 3), 190, np.uint8)
    labels = np.zeros((HEIGHT, WIDTH), np.uint8)
    rgb[SOIL:] = 60
    for k, height in enumerate(heights_px):
        x = round((k + 0.5) * WIDTH / places)
        if height > 0:
            labels[SOIL - height : SOIL, x - 1 : x + 2] = k + 1
            labels[SOIL - height : SOIL - height + 6, max(0, x - 9) : x + 10] = k + 1
    rgb[labels > 0] = (70, 150, 60)
    return rgb, labels


def png_of(labels: np.ndarray) -> bytes:
    buffer = io.BytesIO()
    Image.fromarray(labels).save(buffer, "PNG")
    return buffer.getvalue()


def care_items() -> tuple[CareItem, ...]:
    return (
        CareItem(
            "stretching", "now", ("A",), "Bring the lamp closer", "A stands tall.", "61 mm, give or take 1", "Lower it."
        ),
        CareItem(
            "overdue", "today", ("C",), "Nothing up in C", "Sown long ago.", "14 days", "Sow again.", "Mains & water."
        ),
        CareItem("trim", "this week", (NAMES[1],), "Trim <it>", "Long.", "104 mm", "Cut to 50 mm."),
    )


@pytest.fixture
def make_results(tmp_path: Path) -> MakeResults:
    """Makes a run: `names` plants that come up one after another (the last one never), photos every 6 hours."""

    def make(
        *,
        names: tuple[str, ...] = NAMES,
        photos: int = 12,
        scale: bool = True,
        above: bool = False,
        sowings: tuple[str, ...] = (),
        grown: bool = True,
        care: tuple[CareItem, ...] = care_items(),
        dark: int | None = 5,
    ) -> Results:
        folder = tmp_path / "photos & more"
        folder.mkdir(exist_ok=True)
        wide = WIDTH / len(names)
        tray = Tray(
            view=View(from_="above" if above else "side"),
            sowings=tuple(Sowing(name=s, sown=START) for s in sowings),
            plants=tuple(
                Plant(
                    name=name,
                    box_px=(i * wide, 0, (i + 1) * wide - 1, HEIGHT - 10),
                    soil_y_px=None if above else SOIL,
                    sowing=sowings[i % len(sowings)] if sowings else None,
                    habit="broadleaf",
                )
                for i, name in enumerate(names)
            ),
        )
        frames, rows = [], []
        for n in range(photos):
            when = (START + timedelta(hours=6 * n)).isoformat()
            heights = [max(0, 20 * (n - 1 - i % 5)) if grown and i < len(names) - 1 else 0 for i in range(len(names))]
            heights = [min(h, 200) for h in heights]
            rgb, labels = photo_and_labels(len(names), heights)
            path = folder / f"P{n:04d}.JPG"
            Image.fromarray(rgb).save(path, quality=90)
            used = n != dark
            frames.append(
                FrameRecord(
                    frame=path.name,
                    path=path,
                    time=when,
                    elapsed_h=6.0 * n,
                    used=used,
                    reason="" if used else "too dark",
                    to_reference=np.array([[1.0, 0, 0], [0, 1, 0]]) if used else None,
                    gains=(1.0, 1.0, 1.0) if used else None,
                    labels_png=png_of(labels) if used else None,
                    size=(WIDTH, HEIGHT),
                )
            )
            if used:
                rows += [_row(frames[-1], name, h, scale, above) for name, h in zip(names, heights, strict=True)]
        table = pd.DataFrame(rows)
        plants = pd.DataFrame([_plant(tray, table, name, above) for name in names])
        return Results(
            folder=folder,
            out=tmp_path / "out",
            tray=tray,
            frames=tuple(frames),
            measurements=table,
            frames_table=_frames_table(frames),
            plants=plants,
            sowings=_sowings(tray, plants),
            events=pd.DataFrame(
                [("2026-03-01T21:00:00", "2026-03-01T21:00:00", names[0], "emerged", "first tissue")],
                columns=["time", "known", "plant", "event", "detail"],
            ),
            care=care,
            notes=("The mark was taken to be 30 mm.",),
            run={"version": "0.1.0", "shared_uncertainty": {"scale_sd_share": 0.004}},
        )

    return make


def _row(frame: FrameRecord, name: str, height: int, scale: bool, above: bool) -> dict[str, object]:
    up, side = height > 0, height > 0 and not above
    area = 3.0 * height + 96 if up else 0.0
    nan = float("nan")
    return {
        "frame": frame.frame,
        "time": frame.time,
        "plant": name,
        "height_mm": height * MM_PER_PX if side and scale else nan,
        "height_sd_mm": 0.6 if side and scale else nan,
        "height_noise_mm": 0.3 if side and scale else nan,
        "canopy_mm2": area * MM_PER_PX**2 if scale else nan,
        "canopy_sd_mm2": 2.0 if scale else nan,
        "leaf_mm2": area * MM_PER_PX**2 if scale and up else nan,
        "stem_mm": nan,
        "width_mm": nan,
        "lean_deg": nan,
        "height_to_leaf": height / np.sqrt(area) if side else nan,
        "height_px": float(height) if side else nan,
        "canopy_px": area,
        "seedlings": int(up),
        "cut_off": False,
        "elapsed_h": frame.elapsed_h,
    }


def _plant(tray: Tray, table: pd.DataFrame, name: str, above: bool) -> dict[str, object]:
    own = table[table["plant"] == name]
    up = own[own["canopy_px"] > 0]
    before = own[own["canopy_px"] == 0]
    plant = next(p for p in tray.plants if p.name == name)
    emerged = len(up) > 0
    return {
        "plant": name,
        "sowing": plant.sowing,
        "habit": plant.habit,
        "emerged_after": before["time"].iloc[-1] if emerged and len(before) else None,
        "emerged_by": up["time"].iloc[0] if emerged else None,
        "grade": "sturdy" if emerged and not above else None,
        "leggy": False,
        "leggy_since": None,
        "trims": 0,
        "final_height_mm": up["height_mm"].iloc[-1] if emerged else float("nan"),
        "growth_since": str(up["time"].iloc[0]) if emerged else "",
        "growth_mm_per_day": 4.0 if emerged and not above else float("nan"),
        "rgr_per_day": 0.2 if emerged else float("nan"),
    }


def _frames_table(frames: list[FrameRecord]) -> pd.DataFrame:
    return pd.DataFrame(
        {
            "frame": [f.frame for f in frames],
            "time": [f.time for f in frames],
            "clock_shift_s": 0,
            "used": [f.used for f in frames],
            "reason": [f.reason for f in frames],
            "shift_px": [0.2 if f.used else float("nan") for f in frames],
            "turn_deg": [0.0 if f.used else float("nan") for f in frames],
            "gain": [1.0 if f.used else float("nan") for f in frames],
        }
    )


def _sowings(tray: Tray, plants: pd.DataFrame) -> pd.DataFrame:
    columns = (
        "sowing crop plants seeds emerged emerged_share first_days median_days spread_days median_height_mm verdict"
    )
    rows = []
    for sowing in tray.sowings:
        own = plants[plants["sowing"] == sowing.name]
        emerged = int(own["emerged_by"].notna().sum())
        days = 1.5 if emerged else float("nan")
        rows.append((sowing.name, None, len(own), len(own), emerged, emerged / len(own), days, days, 0.5, 30.0, ""))
    return pd.DataFrame(rows, columns=columns.split())
