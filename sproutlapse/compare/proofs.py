"""The proof of each count: between which two photos a seedling came up, and the piece of either that shows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import pandas as pd

from sproutlapse.growth.compared import Compared, Group
from sproutlapse.growth.emergence import emergence
from sproutlapse.growth.fair_pots import NO_SOWING, By, SeenTray
from sproutlapse.growth.sown_units import units_up
from sproutlapse.growth.tracks import tracks
from sproutlapse.report.pictures import Rgb, jpeg_of, labels_of, photo_of
from sproutlapse.results import FrameRecord, Results
from sproutlapse.tray import Plant, Sowing

CROP_PX: Final = 180  # side of a picture on the page
# A picture shows this share of the place's width, and never less than so many pixels of the photo. Own proposal.
SHOWN_SHARE, LEAST_PX = 0.6, 48
PROOF_COLUMNS = (
    "group", "tray", "plant", "nth", "after", "by", "photo_without", "photo_with", "fingerprint_with",
)  # fmt: skip


@dataclass(frozen=True)
class Proof:
    """One seedling, the `nth` of its pot: the last photo without it (None: there is none) and the first with it.

    `fingerprint` is the SHA-256 of the photo file that shows it.
    """

    group: str
    tray: str
    plant: Plant
    nth: int
    before: FrameRecord | None
    at: FrameRecord
    fingerprint: str


def proofs_of(group: Group, by: By, seen: Sequence[tuple[SeenTray, Results]]) -> list[Proof]:
    """The proofs of a group's count, in the order in which they came up."""
    own = {(p.tray, p.plant) for p in group.pots}
    out: list[Proof] = []
    for tray, results in seen:
        frames = {frame.frame: frame for frame in results.frames}
        of_plant = {str(name): rows["frame"].tolist() for name, rows in results.measurements.groupby("plant")}
        for track in tracks(results.measurements, results.tray):
            plant = track.settings
            if plant is None or (tray.name, track.plant) not in own:
                continue
            sowing = results.tray.sowing_of(plant) or Sowing(name=NO_SOWING)
            units = units_up(track, emergence(track, results.tray.judge), sowing, results.tray.judge)
            names = of_plant[track.plant]
            for nth, unit in enumerate(units, start=1):
                before = None if unit.after_row is None else frames[names[unit.after_row]]
                at = frames[names[unit.by_row]]
                digest = str(results.run.get("photos", {}).get(at.frame, ""))
                out.append(Proof(group.name, tray.name, plant, nth, before, at, digest))
    return sorted(out, key=lambda p: (p.at.time, p.tray, p.plant.name, p.nth))


def proofs_table(c: Compared, seen: Sequence[tuple[SeenTray, Results]]) -> pd.DataFrame:
    """A row a seedling that came up."""
    rows = [
        {
            "group": p.group, "tray": p.tray, "plant": p.plant.name, "nth": p.nth,
            "after": "" if p.before is None else p.before.time, "by": p.at.time,
            "photo_without": "" if p.before is None else p.before.frame, "photo_with": p.at.frame,
            "fingerprint_with": p.fingerprint,
        }
        for group in c.groups
        for p in proofs_of(group, c.by, seen)
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(PROOF_COLUMNS))


class Pieces:
    """Pieces of photos; the last few photos are kept, since several seedlings come up in one."""

    KEPT: Final = 3

    def __init__(self, results: dict[str, Results]) -> None:
        self._order = {name: [plant.name for plant in whole.tray.plants] for name, whole in results.items()}
        self._photos: dict[tuple[str, str], Rgb | None] = {}

    def of(self, proof: Proof) -> tuple[bytes | None, bytes | None]:
        """JPEGs of the place before and at emergence, None where a photo is gone or there is none."""
        photo = self._photo(proof.tray, proof.at)
        if photo is None:
            return None, None
        x, y, half = self._spot(proof, photo)
        at = _cut(photo, x, y, half)
        earlier = None if proof.before is None else self._photo(proof.tray, proof.before)
        if proof.before is None or earlier is None:
            return None, at
        x, y = _carried((x, y), proof.at, proof.before)
        return _cut(earlier, x, y, half), at

    def _photo(self, tray: str, frame: FrameRecord) -> Rgb | None:
        key = tray, frame.frame
        if key not in self._photos:
            while len(self._photos) >= self.KEPT:
                del self._photos[next(iter(self._photos))]
            self._photos[key] = photo_of(frame, frame.size[0] if frame.size else 10**6)
        return self._photos[key]

    def _spot(self, proof: Proof, photo: Rgb) -> tuple[float, float, float]:
        """Where in the photo the seedling stands, and half the side of the piece around it."""
        left, _, right, bottom = proof.plant.box_px
        half = max(SHOWN_SHARE * (right - left), LEAST_PX) / 2
        labels = labels_of(proof.at, (photo.shape[1], photo.shape[0]))
        if labels is not None:
            rows, columns = np.nonzero(labels == self._order[proof.tray].index(proof.plant.name) + 1)
            if len(rows):
                return float(columns.mean()), float(rows.mean()), half
        soil = proof.plant.soil_y_px if proof.plant.soil_y_px is not None else bottom - half
        matrix = proof.at.to_reference
        back = np.eye(2, 3) if matrix is None else cv2.invertAffineTransform(np.asarray(matrix, np.float64))
        x, y = back @ np.array([(left + right) / 2, soil, 1.0])
        return float(x), float(y), half


def _carried(point: tuple[float, float], of: FrameRecord, to: FrameRecord) -> tuple[float, float]:
    """A point of one photo as it lies in another, the camera's bumps undone."""
    x, y = point
    if of.to_reference is not None:
        x, y = np.asarray(of.to_reference, np.float64) @ np.array([x, y, 1.0])
    if to.to_reference is not None:
        x, y = cv2.invertAffineTransform(np.asarray(to.to_reference, np.float64)) @ np.array([x, y, 1.0])
    return float(x), float(y)


def _cut(photo: Rgb, x: float, y: float, half: float) -> bytes:
    """A square piece around a point, moved inside the photo."""
    height, width = photo.shape[:2]
    side = max(min(round(2 * half), height, width), 1)
    left, top = (min(max(round(at - half), 0), most - side) for at, most in ((x, width), (y, height)))
    piece = photo[top : top + side, left : left + side]
    way = cv2.INTER_AREA if side > CROP_PX else cv2.INTER_CUBIC
    return jpeg_of(np.asarray(cv2.resize(piece, (CROP_PX, CROP_PX), interpolation=way), np.uint8))
