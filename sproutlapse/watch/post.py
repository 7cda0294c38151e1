"""Messages on their way: to the services of `--notify` and the command of `--exec`, beside the measuring.

Each is sent at most once: that it is on its way is put down before, so that a restart never sends it a second time.
What a service did not take is tried again later.
"""

from __future__ import annotations

import json
import logging
import os
import queue
import signal
import subprocess
import tempfile
import threading
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from sproutlapse.errors import SproutlapseError
from sproutlapse.frames.find import frame_of
from sproutlapse.watch.news import Message
from sproutlapse.watch.picture import cropped

EXEC = "exec"
EXEC_S = 60.0  # a command that takes longer is ended
RETRY_S, RETRY_AT_MOST_S = 60.0, 3600.0
MOST_WAITING = 50  # messages; a service that is away for weeks loses the oldest


@dataclass
class Letter:
    """A message with the ways that it has still to go; `going` are those on which it is under way."""

    message: Message
    ways: list[str]
    going: list[str] = field(default_factory=list)

    def to_values(self) -> dict[str, Any]:
        """Ready for JSON."""
        return {"message": self.message.to_values(), "ways": self.ways, "going": self.going}

    @staticmethod
    def from_values(values: Mapping[str, Any]) -> Letter:
        """The letter again from `to_values`."""
        return Letter(Message.from_values(values["message"]), list(values["ways"]), list(values["going"]))


@dataclass(frozen=True)
class Asked:
    """Where messages go: addresses that the library for them understands, and a command."""

    notify: Sequence[str] = ()
    command: str | None = None

    @property
    def ways(self) -> list[str]:
        """A name for each, by which the store knows them; addresses may hold passwords, so they are only counted."""
        numbered = [f"notify {number}" for number in range(1, len(self.notify) + 1)]
        return [*numbered, EXEC] if self.command else numbered


def check_asked(asked: Asked) -> None:
    """Stop at once where nothing could ever be sent.

    Raises
    ------
    SproutlapseError
        If the command is not there, or the library is not installed or does not understand an address.
    """
    first = (asked.command or "").split(maxsplit=1)[0:1]
    if first and first[0].startswith(("/", "./", "../", "~")) and not Path(first[0]).expanduser().exists():
        raise SproutlapseError(
            f"there is no {first[0]} to run.", where="--exec", remedy="Check how its path is written."
        )
    if not asked.notify:
        return
    if find_spec("apprise") is None:
        raise SproutlapseError(
            "messages need one more library, which is not installed.",
            where="--notify",
            remedy='Run: pip install "sproutlapse[notify]"',
        )
    import apprise  # noqa: PLC0415 - large, and only needed here

    for number, url in enumerate(asked.notify, start=1):
        if not apprise.Apprise().add(url):
            kind = url.partition("://")[0] if "://" in url else "no kind"
            raise SproutlapseError(
                f"the {_ORDER.get(number, f'{number}th')} address to send to is not understood ({kind}).",
                where="--notify",
                remedy="See which services there are and how their addresses are written: https://appriseit.com",
            )


_ORDER = {1: "first", 2: "second", 3: "third"}


@dataclass(frozen=True)
class _Job:
    letter: Letter
    way: str
    photo: Path | None


class Post:
    """Sends in a thread of its own, so that a slow service holds nothing up.

    Parameters
    ----------
    asked
        Where to.
    results
        The results folder, which the command is told.
    """

    def __init__(self, asked: Asked, folder: Path, results: Path) -> None:
        self._asked, self._folder, self._results = asked, folder, results
        self._out: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._back: queue.SimpleQueue[tuple[Letter, str, str]] = queue.SimpleQueue()
        self._thread: threading.Thread | None = None

    def send(self, letter: Letter, way: str, photo: Path | None) -> None:
        """Send a letter one way; how it went is told by `back`."""
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, daemon=True)
            self._thread.start()
        self._out.put(_Job(letter, way, photo))

    def back(self) -> list[tuple[Letter, str, str]]:
        """Letters that were sent since, with their way and what went wrong, empty if nothing did."""
        found = []
        with suppress(queue.Empty):
            while True:
                found.append(self._back.get_nowait())
        return found

    def close(self, seconds: float) -> None:
        """Wait a little for what is under way."""
        if self._thread is not None:
            self._out.put(None)
            self._thread.join(seconds)

    def _work(self) -> None:
        while (job := self._out.get()) is not None:
            try:
                trouble = self._sent(job)
            except Exception as error:  # a service's library may fail in any way; the watch goes on
                trouble = f"{type(error).__name__}: {error}"
            self._back.put((job.letter, job.way, trouble))

    def _sent(self, job: _Job) -> str:
        picture = cropped(job.photo, job.letter.message.box) if job.photo is not None else None
        with tempfile.TemporaryDirectory(prefix="sproutlapse-") as folder:
            path = None
            if picture is not None:
                path = Path(folder) / "photo.jpg"
                path.write_bytes(picture)
            if job.way == EXEC:
                return self._by_command(job.letter.message, path)
            return self._by_service(job, path)

    def _by_service(self, job: _Job, picture: Path | None) -> str:
        import apprise  # noqa: PLC0415 - as above

        # Its own words name addresses; what went wrong is told here.
        logging.getLogger("apprise").setLevel(logging.CRITICAL)
        number = int(job.way.split()[1])
        if number > len(self._asked.notify):
            return ""
        to = apprise.Apprise()
        to.add(self._asked.notify[number - 1])
        message = job.letter.message
        attach = None if picture is None else str(picture)
        return (
            ""
            if to.notify(body=message.text, title=self._title(message), attach=attach)
            else "the service did not take it"
        )

    def _title(self, message: Message) -> str:
        """Begins with the tray's name, for there may be several."""
        return f"{frame_of(self._folder.resolve().name)}: {message.title}"

    def _by_command(self, message: Message, picture: Path | None) -> str:
        if self._asked.command is None:
            return ""
        told = {
            "title": self._title(message),
            "text": message.text,
            "time": message.time,
            "sowing": message.sowing,
            "events": list(message.events),
            "to_do": list(message.to_do),
            "picture": None if picture is None else frame_of(str(picture)),
            "results": frame_of(str(self._results)),
        }
        return _ran(self._asked.command, json.dumps(told, ensure_ascii=False) + "\n")


def _ran(command: str, told: str) -> str:
    """Run the person's own command, as they would type it; what photos tell goes to its standard input alone."""
    # A session of its own, so that what the shell started ends with it.
    with subprocess.Popen(
        command, shell=True, stdin=subprocess.PIPE, encoding="utf-8", start_new_session=True
    ) as process:
        try:
            process.communicate(told, timeout=EXEC_S)
        except BaseException as error:
            if hasattr(os, "killpg"):
                with suppress(ProcessLookupError):
                    os.killpg(process.pid, signal.SIGKILL)
            process.kill()
            if isinstance(error, subprocess.TimeoutExpired):
                return f"it did not end within {EXEC_S:.0f} s"
            raise
    return f"it ended with status {process.returncode}" if process.returncode else ""
