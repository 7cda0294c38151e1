"""The unit of work over many photos: a file decoded once, looked at and measured. Who does it stands in `crew.py`."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from sproutlapse.errors import PhotosError
from sproutlapse.frames import audit, decode
from sproutlapse.frames.exposure import brightness_value
from sproutlapse.spent import Parts, noting, part
from sproutlapse.tray import Tray
from sproutlapse.vision.cover import covered_plants, something_clear
from sproutlapse.vision.findings import Findings
from sproutlapse.vision.measure import measure
from sproutlapse.vision.reduced import enlarged, mm_enlarged, tray_reduced
from sproutlapse.vision.reference import Reference

# Faults that a cover with fog on it looks like, where the rest of the picture is clear.
LIKE_FOG = ("hazy", "blurred")


@dataclass(frozen=True)
class Task:
    """One photo to measure; `data` are its bytes, where they came along."""

    frame: str
    path: Path
    digest: str
    data: bytes | None = field(default=None, repr=False)


@dataclass(frozen=True)
class Told:
    """What one photo told: `damaged` is why it cannot be decoded; `look` its numbers; `found` its findings; `spent` the
    seconds that it took, by part, where that was asked."""

    task: Task
    damaged: str = ""
    look: dict[str, Any] = field(default_factory=dict)
    found: Findings | None = None
    spent: Parts = field(default_factory=dict)


@dataclass(frozen=True)
class Shared:
    """What all photos of a run are compared with.

    Attributes
    ----------
    reference
        In the pixels of the pictures that are measured.
    usual, tray
        In those of the photos.
    timed
        Whether to note where the time goes.
    """

    reference: Reference
    usual: audit.Usual
    tray: Tray
    timed: bool = False

    @property
    def step(self) -> int:
        """How many times smaller the pictures are than the photos."""
        return step_of(self.usual)

    @cached_property
    def small(self) -> Tray:
        """The tray in the pixels of the pictures that are measured."""
        return tray_reduced(self.tray, self.step)

    @cached_property
    def mm_per_px(self) -> tuple[float | None, ...]:
        """Millimetres per pixel of the photos, of each plant."""
        return mm_enlarged(self.reference.mm_per_px, self.step)


def step_of(usual: audit.Usual) -> int:
    """How many times smaller than the photos of a stand the pictures are that are measured."""
    return decode.shrink_to_measure((usual.width, usual.height))


def look_at(task: Task) -> tuple[Told, decode.Rgb | None]:
    """Decode a photo and take its numbers; the picture is None where it cannot be decoded.

    Raises
    ------
    PhotosError
        If the file is gone or no longer holds the bytes that it was entered with.
    """
    try:
        with part("reading"):
            data = decode.read_bytes(task.path) if task.data is None else task.data
            digest = hashlib.sha256(data).hexdigest()
    except decode.Damaged as error:
        return Told(task, damaged=str(error)), None
    if digest != task.digest:
        raise PhotosError(
            "the photo changed while it was looked at.",
            where=str(task.path),
            remedy="Let the copying of photos come to its end, then run again: what is measured is kept.",
        )
    try:
        with part("decoding"):
            width, height = decode.size_of(data, task.frame)
            picture = decode.decode(data, task.frame, shrink=decode.shrink_to_measure((width, height)))
    except decode.Damaged as error:
        return Told(task, damaged=str(error)), None
    with part("numbers of the photo"):
        own = {"width": width, "height": height, "brightness_value": brightness_value(data)}
        look = vars(audit.look(picture)) | own
    return Told(task, look=look), picture


def picture_of(path: Path, frame: str) -> decode.Rgb:
    """A photo as it is measured, large ones at a reduced size.

    Raises
    ------
    PhotosError
        If it cannot be decoded any more, though it was when it was looked at.
    """
    try:
        data = decode.read_bytes(path)
        return decode.decode(data, frame, shrink=decode.shrink_to_measure(decode.size_of(data, frame)))
    except decode.Damaged as error:
        raise PhotosError(
            f"the photo can no longer be read: {error}.",
            where=str(path),
            remedy="Let the copying of photos come to its end, then run again: what is measured is kept.",
        ) from error


def measure_photo(task: Task, shared: Shared) -> Told:
    """Everything about one photo that needs its pixels."""
    with noting(shared.timed) as noted:
        told, picture = look_at(task)
        found = None
        if picture is not None:
            with part("measuring"):
                found = _found(picture, told, shared)
    return replace(told, found=found, spent=noted.parts)


def _found(picture: decode.Rgb, told: Told, shared: Shared) -> Findings:
    fault = audit.fault(audit.Look(**told.look), shared.usual)
    if fault.startswith(LIKE_FOG) and something_clear(picture) and any(covered_plants(picture, shared.small)):
        fault = ""
    if fault:
        return Findings(fault)
    return enlarged(measure(picture, shared.reference, shared.small, reduced=shared.step > 1), shared.step)
