"""Set up everything and run every check, from nothing: `python3 scripts/test.py`. Standard library only.

All tests run in two halves side by side. With arguments, which are handed on to pytest, they run one after another.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from _setup import ROOT, prepared

# Rooms whose tests make one half: about half of the time. All other tests, with what they share, are the other.
HALF = ("vision", "frames", "first", "growth", "work", "film")
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")


def main() -> int:
    """Set up, lint, check types, test. Returns a status other than 0 if any of them fails."""
    python = prepared("dev")
    _browser()
    environment = {**os.environ, "MPLBACKEND": "Agg"}
    checks = {
        "ruff check": ["ruff", "check", "."],
        "ruff format": ["ruff", "format", "--check", "."],
        "mypy": ["mypy"],
    }
    failed = []
    for name, command in checks.items():
        print(f"== {name}", flush=True)
        if subprocess.run([python, "-m", *command], cwd=ROOT, env=environment, check=False).returncode:
            failed.append(name)
    # The tests come last, so that the last line to be seen is their own summary.
    print("== pytest" + (f" (failed before it: {', '.join(failed)})" if failed else ""), flush=True)
    status = _one_go(python, environment) if sys.argv[1:] else _in_halves(python, environment)
    return status or int(bool(failed))


def _one_go(python: Path, environment: dict[str, str]) -> int:
    tests = ["pytest", "--cov", "--cov-report=term", *sys.argv[1:]]
    return subprocess.run([python, "-m", *tests], cwd=ROOT, env=environment, check=False).returncode


def _in_halves(python: Path, environment: dict[str, str]) -> int:
    """All tests in two processes; the coverage of both is reported together."""
    tests = ROOT / "tests"
    first = [f"tests/{room}" for room in HALF if (tests / room).is_dir()]
    rest = [f"--ignore=tests/{room}" for room in HALF]
    statuses = []
    with tempfile.TemporaryFile("w+", encoding="utf-8", errors="replace") as told:
        running = []
        for number, (which, where) in enumerate(((rest, None), (first, told))):
            environment["COVERAGE_FILE"] = str(ROOT / f".coverage.half{number}")
            command = [python, "-m", "pytest", "--cov", "--cov-report=", *which]
            running.append(
                subprocess.Popen(
                    command, cwd=ROOT, env=environment, stdin=subprocess.DEVNULL, stdout=where, stderr=where
                )
            )
        try:
            statuses = [one.wait() for one in running]
        finally:
            for one in running:
                one.terminate()
        told.seek(0)
        print(f"-- the other half: {', '.join(HALF)}", flush=True)
        print(told.read(), flush=True)
    del environment["COVERAGE_FILE"]
    for step in (["combine", "-q"], ["report"]):
        subprocess.run([python, "-m", "coverage", *step], cwd=ROOT, env=environment, check=False)
    print(f"== tests: {'all passed' if not any(statuses) else 'FAILED, see above'}", flush=True)
    return int(any(statuses))


def _browser() -> None:
    """The report is looked at in a real browser where there is one; get one where that is easy."""
    if any(shutil.which(name) for name in BROWSERS) or not shutil.which("apt-get"):
        return
    as_root = [] if os.geteuid() == 0 else ["sudo", "-n"]
    if as_root and (not shutil.which("sudo") or subprocess.run([*as_root, "true"], check=False).returncode):
        print("No browser is installed, so the tests that need one are skipped.", flush=True)
        return
    print("Installing a browser for the tests of the report ...", flush=True)
    environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for command in (["update", "-qq"], ["install", "-y", "-qq", "--no-install-recommends", "chromium"]):
        done = subprocess.run([*as_root, "apt-get", *command], env=environment, check=False, capture_output=True)
        if done.returncode:
            print("That did not work; the tests that need a browser are skipped.", flush=True)
            return


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit(130)
