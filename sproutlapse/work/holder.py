"""Who holds the results: a note beside the lock, so that a second run can name the process that it has to wait for.

The lock is the data base's own and ends with its process. The note only gives it a name; one that a killed run left
behind is not believed, since its process is looked for.
"""

from __future__ import annotations

import errno
import json
import os
import socket
import sys
from contextlib import suppress
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path

NAME = ".held.json"

# What a system answers that keeps no locks on this disk, as some network disks do: fcntl(2).
_NO_LOCKS = frozenset({errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.EINVAL})


@dataclass(frozen=True)
class Holder:
    """A process that holds results.

    Attributes
    ----------
    pid, host
        Its number, and the machine that it runs on.
    since
        When it took them, by that machine's clock.
    born
        What tells it from a later process of the same number; empty where the system does not say.
    """

    pid: int
    host: str
    since: str
    born: str


def leave_note(folder: Path) -> None:
    """Write down that this process holds the folder; the lock must be held. A full disk is no reason to stop here."""
    now = datetime.now().astimezone().strftime("%Y-%m-%d %H:%M")
    own = Holder(os.getpid(), socket.gethostname(), now, _born(os.getpid()) or "")
    try:
        (folder / NAME).write_text(json.dumps(asdict(own)) + "\n", "utf-8")
    except OSError:
        take_note_away(folder)  # one of an earlier run, or half of this one


def take_note_away(folder: Path) -> None:
    """Forget who holds the folder; to be done before the lock is given up."""
    with suppress(OSError):
        (folder / NAME).unlink(missing_ok=True)


def holder_of(folder: Path) -> Holder | None:
    """Whose note lies in a folder; None where there is none that can be read."""
    try:
        values = json.loads((folder / NAME).read_text("utf-8"))
        return Holder(int(values["pid"]), str(values["host"]), str(values["since"]), str(values["born"]))
    except (OSError, ValueError, TypeError, KeyError):
        return None


def held_in_words(folder: Path) -> str:
    """By whom a folder is held that is certainly held, as the end of a sentence."""
    holder = holder_of(folder)
    if holder is None:
        return "another run; which one cannot be told, since it left no note"
    process = f"process {holder.pid} on {holder.host}, since {holder.since}"
    lives = _lives(holder)
    if lives:
        return f"another run ({process})"
    if lives is None:
        return f"another run ({process}, as its note says; only there it can be seen whether that one still runs)"
    return f"another run; which one cannot be told, since the note there is of one that was broken off ({process})"


def keeps_locks(folder: Path) -> bool:
    """Whether the disk of a folder keeps locks. Asked with a file of its own: to close a file gives up all locks that
    this process has on it."""
    if sys.platform == "win32":
        return True
    probe = folder / f".locks.{os.getpid()}"
    try:
        with probe.open("wb") as file:
            os.lockf(file.fileno(), os.F_TLOCK, 0)
    except OSError as error:
        return error.errno not in _NO_LOCKS
    finally:
        with suppress(OSError):
            probe.unlink(missing_ok=True)
    return True


def runs(pid: int) -> bool:
    """Whether a process of this number runs on this machine. False on Windows, where that is not asked: no file can be
    taken from a process there that has it open."""
    born = _born(pid)
    if born is not None:
        return born != ""
    return sys.platform != "win32" and _answers(pid) is not False


def _lives(holder: Holder) -> bool | None:
    """Whether the process of a note still runs; None where that cannot be known from here."""
    if holder.host != socket.gethostname():
        return None
    born = _born(holder.pid)
    if born is not None:
        return born != "" and born == holder.born
    if sys.platform == "win32":
        return None  # signal 0 would end it there
    return _answers(holder.pid)


def _answers(pid: int) -> bool | None:
    """Whether a process can be asked to do nothing; None where another person's may not be asked."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return None
    return True


def _born(pid: int) -> str | None:
    """The boot and the tick at which a process was started, which no change of the clock touches; empty where there is
    no such process; None where the system does not tell."""
    if not Path("/proc/self/stat").is_file():
        return None
    try:
        boot = Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
        stat = Path(f"/proc/{pid}/stat").read_text("utf-8", errors="replace")
    except OSError:
        return ""
    # The name in brackets may hold anything, so that fields are counted from its end: proc(5), fields 3 and 22.
    fields = stat.rpartition(")")[2].split()
    return "" if fields[0] in {"Z", "X"} else f"{boot} {fields[19]}"
