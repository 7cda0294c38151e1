"""Hours in which nothing is sent, by the clock of this machine."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, time

from sproutlapse.errors import SproutlapseError

_HOURS = re.compile(r"\s*(\d{1,2})(?::(\d{2}))?\s*-\s*(\d{1,2})(?::(\d{2}))?\s*")


@dataclass(frozen=True)
class Night:
    """From when to when, the next morning if the end is the earlier one."""

    begins: time
    ends: time

    def at(self, now: datetime) -> bool:
        """Whether it is night at this moment of the machine's clock."""
        clock = now.time()
        if self.begins <= self.ends:
            return self.begins <= clock < self.ends
        return clock >= self.begins or clock < self.ends


def read_night(text: str) -> Night:
    """The hours as a person types them: `22-7`, `22:30-06:45`.

    Raises
    ------
    SproutlapseError
        If they cannot be understood.
    """
    found = _HOURS.fullmatch(text)
    try:
        if found is None:
            raise ValueError
        from_h, from_min, to_h, to_min = (int(part or 0) for part in found.groups())
        return Night(time(from_h, from_min), time(to_h, to_min))
    except ValueError:
        raise SproutlapseError(
            "these are no hours of a night.", where=f"--night {text}", remedy="Write it like this: --night 22:00-07:00"
        ) from None
