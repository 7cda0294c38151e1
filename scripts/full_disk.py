"""Let runs fill a real small disk to the brim, give it a little more room each time, and see that they go on.

    sudo python scripts/full_disk.py FOLDER --out OUT [--first-kb 64] [--more-kb 256]

FOLDER holds photos. A disk in memory (tmpfs) of so few kB is put up below OUT, and a run writes its results there. It
must end with what is full and what to do, in plain words, and leave nothing unfinished. Then the disk gets more room
and the run is started again, until it comes to its end. All its files must be those of a run with room enough. Linux
only, and only for who may put up disks.
"""

from __future__ import annotations

import argparse
import hashlib
import shutil
import subprocess
import sys
from pathlib import Path

STORE = "store.sqlite"
STATUSES = (5, 6)  # of a disk that is full
LONGEST_S = 1800.0


def run(folder: Path, out: Path) -> subprocess.CompletedProcess[str]:
    """A run as a person starts it."""
    command = [sys.executable, "-m", "sproutlapse", "run", str(folder), "--out", str(out), "--masks", "--workers", "1"]
    return subprocess.run(command, capture_output=True, text=True, timeout=LONGEST_S, check=False)


def hashes(out: Path) -> dict[str, str]:
    """Every file that a run leaves for people, by its path."""
    files = (path for path in out.rglob("*") if path.is_file() and not path.name.startswith(STORE))
    return {path.relative_to(out).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


def disk(place: Path, kb: int, *, again: bool) -> None:
    """Put up a disk in memory of a size, or give the one that is there another."""
    options = f"remount,size={kb}k" if again else f"size={kb}k"
    subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(place)], check=True)


def wrong_with(ended: subprocess.CompletedProcess[str], out: Path) -> str:
    """What a run on a full disk did that it must not; empty if nothing."""
    if ended.returncode not in STATUSES:
        return f"ended with {ended.returncode}"
    if "Make room" not in ended.stderr and "ree some space" not in ended.stderr:
        return "no word of making room"
    if "Traceback" in ended.stderr or "fault in sproutlapse" in ended.stderr:
        return "a fault of the program"
    left = sorted(path.name for path in out.rglob("*") if ".part" in path.name)
    return f"left unfinished: {', '.join(left)}" if left else ""


def main() -> None:
    """Fill, make room, go on, compare."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--first-kb", type=int, default=64)
    parser.add_argument("--more-kb", type=int, default=256)
    given = parser.parse_args()
    shutil.rmtree(given.out, ignore_errors=True)
    place, alone = given.out / "disk", given.out / "alone" / "results"
    place.mkdir(parents=True)
    alone.parent.mkdir()
    if run(given.folder, alone).returncode:
        raise SystemExit("the run with room enough did not come to its end")
    kb, full, faults = given.first_kb, 0, 0
    disk(place, kb, again=False)
    try:
        while (ended := run(given.folder, place / "results")).returncode:
            full += 1
            wrong = wrong_with(ended, place / "results")
            faults += bool(wrong)
            said = " ".join(ended.stderr.strip().splitlines()[-2:])
            print(f"{kb:6d} kB: status {ended.returncode}: {wrong or 'as it should'}: {said}", flush=True)
            kb += given.more_kb
            disk(place, kb, again=True)
        now, then = hashes(place / "results"), hashes(alone)
    finally:
        subprocess.run(["umount", str(place)], check=False)
    odd = sorted(name for name in {*now, *then} if now.get(name) != then.get(name))
    print(f"{kb:6d} kB: came to its end after {full} full disks; {len(now)} files, {len(odd)} of them other: {odd}")
    if odd or faults:
        raise SystemExit(1)


if __name__ == "__main__":
    main()
