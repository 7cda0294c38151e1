"""What one run hands from room to room above the measuring: records of frames, the tables, and what to do."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import cv2
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from sproutlapse.tray import Tray

Urgency = Literal["now", "today", "this week"]


@dataclass(frozen=True)
class FrameRecord:
    """One photo file and what the measuring learned of it as a picture.

    Attributes
    ----------
    frame
        Path relative to the photo folder, with forward slashes.
    path
        Where the photo is on this machine.
    time
        The camera's wall clock as in the tables, `2026-03-01T09:00:00`, with an offset only if the camera gave it.
    elapsed_h
        Hours since the first usable frame, clock shifts corrected.
    used, reason
        Whether it was measured; if not, why, in plain words.
    to_reference
        (2, 3) matrix that takes this frame's pixels (x, y) to those of the reference frame; None if not used.
    gains
        Brightness of the red, green and blue channel over the reference's, in linear light; None if not used.
    labels_png
        PNG bytes of the label picture as measured (0 = not plant, 1..n in tray order; smaller than a large photo), or
        None; what is shown of it is in `labels`.
    not_up
        Numbers of the plants in it that have not emerged yet: what was taken for them is not plant.
    size
        (width, height) in pixels after EXIF orientation, or None if it could not be decoded.
    """

    frame: str
    path: Path
    time: str
    elapsed_h: float
    used: bool
    reason: str
    to_reference: NDArray[np.float64] | None = None
    gains: tuple[float, float, float] | None = None
    labels_png: bytes | None = None
    size: tuple[int, int] | None = None
    not_up: tuple[int, ...] = ()

    def labels(self) -> NDArray[np.uint8] | None:
        """The label picture without plants that have not emerged; None if there is none, or it cannot be read."""
        if self.labels_png is None:
            return None
        drawn = cv2.imdecode(np.frombuffer(self.labels_png, np.uint8), cv2.IMREAD_UNCHANGED)
        if drawn is None or drawn.ndim != 2:
            return None
        numbers = np.asarray(drawn).astype(np.uint8)  # the upper byte of 16 holds covered shares
        table = np.arange(256, dtype=np.uint8)
        table[list(self.not_up)] = 0
        return table[numbers] if self.not_up else numbers


@dataclass(frozen=True)
class CareItem:
    """One thing to do. `number` is the measured figure with its unit, ready to be read."""

    key: str
    urgency: Urgency
    plants: tuple[str, ...]
    title: str
    reason: str
    number: str
    remedy: str
    caution: str = ""
    id: str = ""  # what is typed after `done`
    since: str = ""  # since when there is cause for it, as the tables write times
    until: str = ""  # an item that no picture can close ends then
    causes: tuple[str, ...] = ()  # what is marked as done: kind and plant, lamp or sowing


@dataclass(frozen=True)
class DiaryEntry:
    """The grower's own words at a time: a note, or what was said to be done (`about` names it)."""

    time: str
    kind: Literal["note", "done"]
    about: str
    text: str


@dataclass(frozen=True)
class Results:
    """Everything that reports and films are made from. Tables have the columns of their CSV files; `measurements`
    has `elapsed_h` (hours since the first usable frame, clock shifts corrected) as one further column."""

    folder: Path
    out: Path
    tray: Tray
    frames: tuple[FrameRecord, ...]
    measurements: pd.DataFrame
    frames_table: pd.DataFrame
    plants: pd.DataFrame
    sowings: pd.DataFrame
    events: pd.DataFrame
    care: tuple[CareItem, ...] = ()
    notes: tuple[str, ...] = ()  # what was assumed or is doubtful, in plain words
    run: dict[str, Any] = field(default_factory=dict)
    light: pd.DataFrame = field(default_factory=pd.DataFrame)  # hours of light a day, from all photos
    light_told: str = ""  # the same as a sentence; empty where photos do not tell
    diary: tuple[DiaryEntry, ...] = ()  # the grower's own words
    looked: str = ""  # the last photo of the page before this one; empty where there was none
    stages: tuple[str, ...] = ()  # where each sowing stands, as sentences
    came_of: tuple[str, ...] = ()  # what was seen after something was done, as sentences
    curves: pd.DataFrame = field(default_factory=pd.DataFrame)  # growth curves, for export
