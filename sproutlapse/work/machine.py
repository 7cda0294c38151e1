"""What a machine measures with: tool, libraries, processor; and whether two machines find the same bytes."""

from __future__ import annotations

import hashlib
import platform
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import cv2

from sproutlapse import __version__

# The libraries that a measurement passes through, by the name under which each may be installed; two are extras.
LIBRARIES = {
    "numpy": ("numpy",),
    "opencv": ("opencv-python-headless", "opencv-python", "opencv-contrib-python-headless", "opencv-contrib-python"),
    "scikit-image": ("scikit-image",),
    "scipy": ("scipy",),
    "simplejpeg": ("simplejpeg",),
    "pillow": ("pillow",),  # decodes what is no JPEG
    "pillow-heif": ("pillow-heif",),
    "rawpy": ("rawpy",),
}
# What a photo's findings are made by, below the folder of the package.
MEASURED_BY = ("frames/*.py", "vision/*.py", "work/engine.py", "tray.py")


@dataclass(frozen=True)
class Machine:
    """A machine that measures.

    Attributes
    ----------
    tool
        Version of sproutlapse and a digest of the code that measures.
    versions
        Python and each library, as (name, version); "none" for one that is not installed.
    processor
        Vector instructions that OpenCV uses there: other ones change the last bits of a sum.
    """

    tool: str
    versions: tuple[tuple[str, str], ...]
    processor: str

    def unlike(self, here: Machine) -> str:
        """In what this machine differs from the one that asks, in words; empty where both find the same bytes."""
        ours = dict(here.versions)
        parts = [f"{name} {there} and not {ours.get(name)}" for name, there in self.versions if ours.get(name) != there]
        if self.processor != here.processor:
            parts.append("a processor with other vector instructions")
        return ", ".join(parts)


@lru_cache(maxsize=1)
def this_machine() -> Machine:
    """The machine that this process runs on."""
    libraries = tuple((name, _installed(names)) for name, names in LIBRARIES.items())
    versions = (("Python", platform.python_version()), *libraries)
    return Machine(f"{__version__} ({_code()})", versions, cv2.getCPUFeaturesLine())


def _installed(names: tuple[str, ...]) -> str:
    for name in names:
        try:
            return version(name)
        except PackageNotFoundError:
            continue
    return "none"


def _code() -> str:
    """A short digest of the code that measures: a copy in development keeps its version while it changes."""
    package = Path(__file__).resolve().parents[1]
    told = hashlib.sha256()
    for pattern in MEASURED_BY:
        for path in sorted(package.glob(pattern)):
            told.update(path.name.encode() + b"\0" + path.read_bytes().replace(b"\r\n", b"\n") + b"\0")
    return told.hexdigest()[:8]
