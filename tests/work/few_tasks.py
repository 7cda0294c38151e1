"""The eleven photos as tasks, and what they are compared with."""

from __future__ import annotations

import hashlib
from pathlib import Path

from shelf_photos import FEW, half_tray

from sproutlapse.frames import audit
from sproutlapse.vision.reference import make_reference
from sproutlapse.work.engine import Shared, Task, Told, look_at


def tasks_of(folder: Path, names: list[str] = FEW) -> list[Task]:
    """Photos of a folder, entered as they are now."""
    return [Task(name, folder / name, hashlib.sha256((folder / name).read_bytes()).hexdigest()) for name in names]


def shared_of(folder: Path, seed: str = "test") -> Shared:
    """What the photos of a folder are compared with."""
    seen = [look_at(task) for task in tasks_of(folder, FEW[:7])]
    pictures = [picture for _, picture in seen if picture is not None]
    usual = audit.usual([audit.Look(**told.look) for told, _ in seen])
    return Shared(make_reference(pictures, half_tray(), seed), usual, half_tray())


def by_frame(told: list[Told]) -> dict[str, Told]:
    """Answers by photo; each must be there once."""
    assert len({one.task.frame for one in told}) == len(told)
    return {one.task.frame: one for one in told}
