"""Run sproutlapse on the example in `fixtures/shelf`, from nothing: `python3 scripts/demo.py`.

Standard library only.
"""

from __future__ import annotations

import subprocess
import sys

from _setup import ROOT, prepared

PHOTOS = ROOT / "fixtures" / "shelf" / "photos"
RESULTS = ROOT / "demo-output" / "shelf-results"


def main() -> int:
    """Set up, run, and say where the report and the film are. Returns the exit status."""
    python = prepared()
    RESULTS.parent.mkdir(exist_ok=True)
    status = subprocess.run(
        [python, "-m", "sproutlapse", "run", PHOTOS, "--out", RESULTS], cwd=ROOT, check=False
    ).returncode
    if status:
        return status
    made = {"Report": RESULTS / "report.html", "Film": RESULTS / "film.mp4", "Tables": RESULTS / "measurements.csv"}
    print()
    for name, path in made.items():
        print(f"{name + ':':8} {path if path.is_file() else 'missing'}")
    return 0 if all(path.is_file() for path in made.values()) else 1


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(130)
