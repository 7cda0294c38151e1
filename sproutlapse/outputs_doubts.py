"""What in tray.toml does not fit the pictures, though each value alone is possible: said, never mended."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from sproutlapse.crops_window import window
from sproutlapse.tray import Tray

# From the middle of a pot or cell to that of the next, mm. Own proposal: plug trays begin at 15, tubs end at 400.
NEAREST_MM, FARTHEST_MM = 12.0, 500.0
# Distance over the width that is in view: lenses of 12 to 400 mm on 36 mm of film.
WIDEST, LONGEST = 0.3, 12.0
ROW_SHARE = 0.2  # of the picture's height: soil lines of one row lie no further apart. Own proposal
EARLY_SHARE = 0.4  # of the fewest days: sooner a seed does not sprout. Own proposal


def doubts_in_words(
    tray: Tray, mm_per_px: Sequence[float | None], size: tuple[int, int], sowings: pd.DataFrame
) -> list[str]:
    """What is to be looked at again: the scale, the camera's distance, soil lines, sprouts that came too soon.

    Parameters
    ----------
    tray
        The complete tray.
    mm_per_px
        One a plant.
    size
        (width, height) of the picture.
    sowings
        See `sowings.csv`.
    """
    return [*_scale(tray, mm_per_px, size), *_soil_lines(tray, size[1]), *_early(tray, sowings)]


def _scale(tray: Tray, mm_per_px: Sequence[float | None], size: tuple[int, int]) -> list[str]:
    known = [mm for mm in mm_per_px if mm is not None]
    if not known:
        return []
    mm = float(np.median(known))
    said = []
    middles = np.array([[(p.box_px[0] + p.box_px[2]) / 2, (p.box_px[1] + p.box_px[3]) / 2] for p in tray.plants])
    if len(middles) > 1:
        if tray.view.from_ == "side":
            middles[:, 1] = 0.0
        apart = np.linalg.norm(middles[:, None] - middles[None], axis=-1)
        np.fill_diagonal(apart, np.inf)
        gap = float(np.median(apart.min(axis=1))) * mm
        if not NEAREST_MM <= gap <= FARTHEST_MM:
            said.append(
                f"By the scale one pot or cell stands {gap:.0f} mm from the next, which cannot be: is marker_mm in mm, "
                "and measured on the print?"
            )
    far = tray.view.camera_to_plants_mm
    if far is not None and not WIDEST <= far / (size[0] * mm) <= LONGEST:
        said.append(
            f"By the scale the picture is {size[0] * mm:.0f} mm wide, which no usual lens sees from "
            f"{far:g} mm away: check marker_mm and camera_to_plants_mm, both in mm."
        )
    return said


def _soil_lines(tray: Tray, height: int) -> list[str]:
    lines = {p.name: p.soil_y_px for p in tray.plants if p.soil_y_px is not None}
    if tray.view.from_ != "side" or len(lines) < 2:
        return []
    middle = float(np.median(list(lines.values())))
    odd = [name for name, y in lines.items() if abs(y - middle) > ROW_SHARE * height]
    return [
        f"The soil line of {name} lies at {lines[name]:g} pixels, far from the others at about {middle:.0f}: "
        "check soil_y_px."
        for name in odd
    ]


def _early(tray: Tray, sowings: pd.DataFrame) -> list[str]:
    known = {sowing.name: sowing for sowing in tray.sowings}
    said = []
    for _, row in sowings.iterrows():
        sowing, days = known.get(str(row["sowing"])), row.get("first_days")
        if sowing is None or days is None or pd.isna(days):
            continue
        usual = window(sowing)
        if usual is None or float(days) >= EARLY_SHARE * usual.fewest or float(days) < 0:
            continue
        said.append(
            f"{sowing.name}: up {float(days):.1f} days after it was sown, while {sowing.crop} takes "
            f"{usual.fewest:.0f} at least: check `sown`; or is it a weed?"
        )
    return said
