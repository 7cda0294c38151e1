"""What a run that was broken off left beside its files: the next one, which holds the lock, takes it away."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

# Files are written under these names and moved into place. A name of another kind is not ours and stays.
_AT_THE_TOP = re.compile(
    r"[\w.+-]+\.(?:csv|json|html|toml|jpg|vtt)\.part"  # tables, page, what lies beside the film
    r"|\.film.*\.\d+\.(?:between\.)?part"
    r"|\.tray\.toml(?:\.new)?\.part|tray\.toml\.new"
    r"|\.locks\.\d+"
)
_CHARTS = re.compile(r"[\w-]+\.(?:svg|png)\.part")


def clear_leftovers(out: Path) -> None:
    """Take away what a broken run left in a results folder whose lock is held. Nothing depends on it: what cannot be
    taken away stays."""
    for path in _leftovers(out):
        with suppress(OSError):
            path.unlink()


def _leftovers(out: Path) -> Iterator[Path]:
    yield from (path for path in _files(out) if _AT_THE_TOP.fullmatch(path.name))
    yield from (path for path in _files(out / "charts") if _CHARTS.fullmatch(path.name))
    if (out / "masks").is_dir():
        yield from sorted((out / "masks").rglob("*.png.part"))


def _files(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.is_file())
    except OSError:
        return []
