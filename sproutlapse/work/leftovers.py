"""What a run that was broken off left beside its files: the next one, which holds the lock, takes it away.

Not all that writes there holds the lock: a watch has page and film made by a process of its own. So each name tells the
process that writes it, and what belongs to another that lives stays.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from sproutlapse.work.holder import runs

# Files are written under these names and moved into place. A name of another kind is not ours and stays. Earlier
# versions wrote some without the number of their process.
_PART = r"(?:\.(?P<pid>\d+))?\.part"
_AT_THE_TOP = (
    re.compile(r"[\w.+-]+?\.(?:csv|json|html|toml|jpg|vtt)" + _PART),  # tables, page, what lies beside the film
    re.compile(r"\.film.*\.(?P<pid>\d+)\.(?:between\.)?part"),
    re.compile(r"\.tray\.toml(?:\.new)?" + _PART),
    re.compile(r"tray\.toml\.new(?P<pid>)"),
    re.compile(r"\.locks\.(?P<pid>\d+)"),
)
_CHARTS = (re.compile(r"[\w-]+\.(?:svg|png)" + _PART),)
_MASKS = (re.compile(r".*\.png" + _PART),)


def clear_leftovers(out: Path) -> None:
    """Take away what a broken run left in a results folder whose lock is held. Nothing depends on it: what cannot be
    taken away stays, and so does what a living process of this machine writes."""
    for path in _leftovers(out):
        with suppress(OSError):
            path.unlink()


def _leftovers(out: Path) -> Iterator[Path]:
    yield from (path for path in _files(out.glob("*")) if _left(path.name, _AT_THE_TOP))
    yield from (path for path in _files((out / "charts").glob("*")) if _left(path.name, _CHARTS))
    yield from (path for path in _files((out / "masks").rglob("*.part")) if _left(path.name, _MASKS))


def _left(name: str, kinds: tuple[re.Pattern[str], ...]) -> bool:
    """Whether a file is of one of these kinds, and nobody else is writing it now."""
    for kind in kinds:
        if found := kind.fullmatch(name):
            pid = found["pid"]
            # This process writes nothing yet: what has its number is of an earlier one that had the same.
            return not pid or int(pid) == os.getpid() or not runs(int(pid))
    return False


def _files(paths: Iterator[Path]) -> list[Path]:
    try:
        return sorted(path for path in paths if path.is_file())
    except OSError:
        return []
