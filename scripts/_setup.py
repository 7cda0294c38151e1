"""What both commands need first: a Python that fits, the clone's own `.venv`, and the package in it.

Standard library only.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
OLDEST, TOO_NEW = (3, 11), (3, 14)


def prepared(extra: str = "") -> Path:
    """The Python of the clone's `.venv` with the package installed in place; made or brought up to date if need be.

    Parameters
    ----------
    extra
        A set of further packages from pyproject.toml, such as "dev".

    Returns
    -------
    The interpreter to run the package with. Ends the program with a plain message where that is impossible.
    """
    python = _venv_python()
    if not _runs(python):
        print(f"Making {VENV} ...", flush=True)
        _or_end(
            [_fitting_python(), "-m", "venv", "--clear", str(VENV)],
            "The environment could not be made. On Debian and its relatives: apt-get install python3-venv",
        )
    if not _up_to_date(extra):
        print("Installing sproutlapse and what it needs; the first time this takes a few minutes ...", flush=True)
        _or_end(
            [
                str(python),
                "-m",
                "pip",
                "install",
                "-q",
                "--disable-pip-version-check",
                "-e",
                f".[{extra}]" if extra else ".",
            ],
            "The packages could not be installed. The first time, this needs the network; then start again.",
        )
        _stamp(extra).write_text(_fingerprint(), encoding="utf-8")
    return python


def _venv_python() -> Path:
    return VENV / "Scripts" / "python.exe" if os.name == "nt" else VENV / "bin" / "python"


def _runs(python: Path) -> bool:
    if not python.exists():
        return False
    asked = subprocess.run([python, "-c", "import pip"], check=False, capture_output=True)
    return asked.returncode == 0


def _fitting_python() -> str:
    """This Python if the package runs with it, else another one that is installed."""
    if OLDEST <= sys.version_info[:2] < TOO_NEW:
        return sys.executable
    others = [shutil.which(f"python3.{minor}") for minor in range(TOO_NEW[1] - 1, OLDEST[1] - 1, -1)]
    for other in filter(None, others):
        return other
    have = ".".join(map(str, sys.version_info[:3]))
    sys.exit(
        f"sproutlapse needs Python 3.{OLDEST[1]} to 3.{TOO_NEW[1] - 1}; this is {have}. Install one and start again."
    )


def _fingerprint() -> str:
    """Changes whenever the installation must be made again: other needs, or a clone that was moved."""
    return hashlib.sha256((ROOT / "pyproject.toml").read_bytes() + str(ROOT).encode()).hexdigest()


def _stamp(extra: str) -> Path:
    return VENV / f"sproutlapse-{extra or 'plain'}.stamp"


def _up_to_date(extra: str) -> bool:
    # An installation with further packages serves where none are asked for, too.
    stamps = [_stamp(extra)] if extra else list(VENV.glob("sproutlapse-*.stamp"))
    return any(stamp.is_file() and stamp.read_text(encoding="utf-8") == _fingerprint() for stamp in stamps)


def _or_end(command: list[str], message: str) -> None:
    if subprocess.run(command, cwd=ROOT, check=False).returncode:
        sys.exit(message)
