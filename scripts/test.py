"""Set up everything and run every check, from nothing: `python3 scripts/test.py`. Standard library only.

Arguments are handed on to pytest.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

from _setup import ROOT, prepared

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
    tests = ["pytest", "--cov", "--cov-report=term", *sys.argv[1:]]
    status = subprocess.run([python, "-m", *tests], cwd=ROOT, env=environment, check=False).returncode
    return status or int(bool(failed))


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
