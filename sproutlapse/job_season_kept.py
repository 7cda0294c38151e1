"""What a season keeps of a tray in its store, and whether anything is new there since."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sproutlapse import __version__
from sproutlapse.frames.find import PhotoFile
from sproutlapse.job_steps import MEASURING
from sproutlapse.job_tray import Given
from sproutlapse.work.store import NAME, Store

if TYPE_CHECKING:
    from sproutlapse.season.kept import TrayTold

# ruff: noqa: PLC0415 - tables are imported when their turn comes

KEY = "season"


@dataclass(frozen=True)
class Wanted:
    """What is to be written of each tray."""

    masks: bool = False
    film: bool = True
    report: bool = True


def fingerprint(given: Given, files: Sequence[PhotoFile], out: Path, wanted: Wanted) -> str:
    """What the results of a tray depend on, and how its files of results stand, as one hash.

    Both are as they were found when the run began: what changed meanwhile is new to the next one.

    Photos count by name, size and time, as wherever a folder is read again; tray.toml by what it says.
    Files of results count by size and time, so that one that was taken away, edited or made anew is made again.
    """
    told = [
        __version__,
        MEASURING,
        asdict(wanted),
        [(file.frame, file.size_bytes, file.mtime_ns) for file in files],
        given.tray.model_dump(mode="json", by_alias=True),
        sorted(_standing(path) for path in out.iterdir() if _is_result(path)),
    ]
    return hashlib.sha256(json.dumps(told).encode("utf-8")).hexdigest()


def _is_result(path: Path) -> bool:
    # The store itself changes with each look; desktops leave hidden files, a run that was broken off leaves parts.
    return not path.name.startswith((NAME, ".")) and path.suffix != ".part"


def _standing(path: Path) -> tuple[str, int, int]:
    stat = path.stat()
    return (path.name, 0, 0) if path.is_dir() else (path.name, stat.st_size, stat.st_mtime_ns)


def kept_told(store: Store, of: str | None = None) -> TrayTold | None:
    """What was kept of a tray; None where nothing was, where another version did, or where it is not that of `of`."""
    from sproutlapse.season.kept import from_values

    kept = store.about(KEY)
    if not isinstance(kept, dict) or (of is not None and kept.get("of") != of):
        return None
    try:
        return from_values(kept.get("told"))
    except ValueError:
        return None


def keep_told(store: Store, of: str, told: TrayTold) -> None:
    """Keep what a tray tells, with the fingerprint of all that it came from."""
    from sproutlapse.season.kept import to_values

    store.set_about({KEY: {"of": of, "told": to_values(told)}})
