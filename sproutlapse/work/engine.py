"""The unit of work over many photos: a file decoded once, looked at and measured. Who does it stands in `crew.py`."""

from __future__ import annotations

import hashlib
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from sproutlapse.errors import PhotosError
from sproutlapse.frames import audit, decode
from sproutlapse.frames.exposure import brightness_value
from sproutlapse.tray import Tray
from sproutlapse.vision.cover import covered_plants, something_clear
from sproutlapse.vision.findings import Findings
from sproutlapse.vision.measure import measure
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
    """What one photo told: `damaged` is why it cannot be decoded; `look` its numbers; `found` its findings."""

    task: Task
    damaged: str = ""
    look: dict[str, Any] = field(default_factory=dict)
    found: Findings | None = None


@dataclass(frozen=True)
class Shared:
    """What all photos of a run are compared with."""

    reference: Reference
    usual: audit.Usual
    tray: Tray


def look_at(task: Task) -> tuple[Told, decode.Rgb | None]:
    """Decode a photo and take its numbers; the picture is None where it cannot be decoded.

    Raises
    ------
    PhotosError
        If the file is gone or no longer holds the bytes that it was entered with.
    """
    data = decode.read_bytes(task.path) if task.data is None else task.data
    if hashlib.sha256(data).hexdigest() != task.digest:
        raise PhotosError(
            "the photo changed while it was looked at.",
            where=str(task.path),
            remedy="Let the copying of photos come to its end, then run again: what is measured is kept.",
        )
    try:
        picture = decode.decode(data, task.frame)
    except decode.Damaged as error:
        return Told(task, damaged=str(error)), None
    return Told(task, look=asdict(audit.look(picture)) | {"brightness_value": brightness_value(data)}), picture


def measure_photo(task: Task, shared: Shared) -> Told:
    """Everything about one photo that needs its pixels."""
    told, picture = look_at(task)
    if picture is None:
        return told
    fault = audit.fault(audit.Look(**told.look), shared.usual)
    if fault.startswith(LIKE_FOG) and something_clear(picture) and any(covered_plants(picture, shared.tray)):
        fault = ""
    found = Findings(fault) if fault else measure(picture, shared.reference, shared.tray)
    return Told(task, look=told.look, found=found)
