"""The story of one plant, from results alone."""

from __future__ import annotations

from pathlib import Path

from sproutlapse.errors import ResultsError
from sproutlapse.job import open_results
from sproutlapse.report.story import story_of


def explain_job(results: Path, plant: str) -> list[str]:
    """The story of one plant in sentences, from the store alone; nothing is written.

    Raises
    ------
    ResultsError
        If no run has come to its end there, or no plant of that name stands in the results.
    """
    whole = open_results(results)

    names = [str(name) for name in whole.plants["plant"]]
    alike = [name for name in names if name.casefold() == plant.casefold()]
    if plant not in names and len(alike) != 1:
        raise ResultsError(
            f"no plant “{plant}” is in these results.",
            where=str(results),
            remedy=f"Name one of: {', '.join(names)}." if names else "Run again with a tray that names places.",
        )
    return story_of(whole, plant if plant in names else alike[0]).lines
