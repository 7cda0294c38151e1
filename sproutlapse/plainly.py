"""Every way a command can fail, turned into a plain message on the error stream and an exit status."""

from __future__ import annotations

import errno
import os
import sys
import traceback
from collections.abc import Iterator
from contextlib import contextmanager

from sproutlapse.errors import SproutlapseError

DEBUG = "SPROUTLAPSE_DEBUG"

# Exit status of what is not one of our own errors. 70 and 130 are the customary numbers for a fault in the program
# itself and for a program stopped from the keyboard.
DISK, FAULT, STOPPED = 6, 70, 130

EXIT_CODES = {
    0: "done",
    1: "`check` found photos that cannot be used (other than by night), no photo that can, or something to mend; "
    "`run --all` could not do every tray",
    2: "the command line was not understood, or an option is out of range",
    3: "tray.toml is broken or contradicts itself or the pictures",
    4: "the photo folder cannot be used",
    5: "the results folder cannot be used",
    DISK: "the disk is full, a file may not be read or written, or memory ran out",
    7: "the cluster cannot be used; what was measured is kept",
    FAULT: f"a fault in sproutlapse itself ({DEBUG}=1 shows where)",
    STOPPED: "stopped from the keyboard; what was measured is kept",
}

_REMEDIES = {
    errno.ENOSPC: ("the disk is full", "Free some space and start the command again."),
    errno.EDQUOT: ("your share of the disk is used up", "Free some space and start the command again."),
    errno.EACCES: ("you may not read or write here", "Change its permissions, or name another place with --out."),
    errno.EPERM: ("you may not read or write here", "Change its permissions, or name another place with --out."),
    errno.EROFS: ("this disk can only be read", "Name another place with --out."),
}


@contextmanager
def plainly() -> Iterator[None]:
    """Run the body of a command; any failure ends the program with a plain message and its exit status."""
    try:
        yield
    except SproutlapseError as error:
        _end(str(error), error.exit_code)
    except KeyboardInterrupt:
        _end("Stopped. What was measured is kept; start the command again to go on.", STOPPED)
    except BrokenPipeError:
        # The reader of our output has gone (`sproutlapse check FOLDER | head`): that is its right.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(0) from None
    except Exception as error:
        _end(as_told(error).message(), DISK if isinstance(error, OSError | MemoryError) else FAULT)


def as_told(error: Exception) -> SproutlapseError:
    """Any failure as a person is told of it: what, where and what to do. Our own errors stay as they are."""
    if isinstance(error, SproutlapseError):
        return error
    if isinstance(error, OSError):
        what, remedy = _REMEDIES.get(
            error.errno or 0,
            (error.strerror or str(error), "Check that this place exists and can be read and written."),
        )
        where = " and ".join(str(name) for name in (error.filename, error.filename2) if name is not None)
        return SproutlapseError(what, where=where, remedy=remedy)
    if isinstance(error, MemoryError):
        return SproutlapseError("memory ran out", remedy="Close other programs, or start again with --workers 1.")
    if os.environ.get(DEBUG):
        traceback.print_exception(error)
    return SproutlapseError(
        f"This is a fault in sproutlapse, not in your photos: {type(error).__name__}: {error}",
        remedy=f"Start again; if it comes back, set {DEBUG}=1, start once more, and report what is shown.",
    )


def _end(message: str, status: int) -> None:
    print(message, file=sys.stderr, flush=True)
    raise SystemExit(status)
