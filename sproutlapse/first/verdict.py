"""What each look at the first photo ends in: one line, whether it must be mended, and how."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Grade = Literal["OK", "MEND", "LOOK"]

_TOPIC_WIDTH = 13


@dataclass(frozen=True)
class Line:
    """One finding in a grower's words.

    Attributes
    ----------
    topic
        What was looked at, a word or two.
    grade
        OK, MEND (the photo fails), or LOOK (one photo cannot tell: the person looks or measures).
    says
        What was found, with number and unit.
    fix
        What to do; empty where nothing is to be done.
    """

    topic: str
    grade: Grade
    says: str
    fix: str = ""

    def text(self) -> list[str]:
        """The line as printed, what to do below it."""
        lines = [f"{self.grade:5}{self.topic:{_TOPIC_WIDTH}}{self.says}"]
        return [*lines, f"{'':{_TOPIC_WIDTH + 5}}What to do: {self.fix}"] if self.fix else lines


def fine(topic: str, says: str) -> Line:
    """Nothing to do."""
    return Line(topic, "OK", says)


def mend(topic: str, says: str, fix: str) -> Line:
    """To be mended before the season begins."""
    return Line(topic, "MEND", says, fix)


def look(topic: str, says: str, fix: str) -> Line:
    """Not to be told from one photo."""
    return Line(topic, "LOOK", says, fix)


def passed(lines: Sequence[Line]) -> bool:
    """Whether nothing is to be mended."""
    return all(line.grade != "MEND" for line in lines)
