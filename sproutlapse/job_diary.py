"""Notes, and things to do that were said to be done: into the diary, and onto the page."""

from __future__ import annotations

from datetime import datetime, time
from pathlib import Path

from sproutlapse.care_marks import item_named
from sproutlapse.errors import ResultsError
from sproutlapse.job import again, opened, people
from sproutlapse.job_looked import with_looked
from sproutlapse.progress import Progress
from sproutlapse.report.words import dated
from sproutlapse.results import DiaryEntry, Results
from sproutlapse.work.diary import add_entries
from sproutlapse.work.store import Store

# ruff: noqa: PLC0415

PAGE = "report.html"


def note_job(results: Path, text: str, *, at: str | None, progress: Progress) -> list[str]:
    """Keep a note of what photos cannot show; the words to end with.

    Parameters
    ----------
    text
        The note.
    at
        When it was, as a person types it; the last photo if not given.

    Raises
    ------
    ResultsError
        If no run has come to its end there, the note says nothing, or the time is not one of the photos' time.
    """
    words = " ".join(text.split())
    if not words:
        raise ResultsError("the note says nothing.", remedy='Write some words: sproutlapse note RESULTS "fan on"')
    with opened(results) as store:
        whole = again(store, results)
        when = _moment(whole, at)
        add_entries(results, [DiaryEntry(when, "note", "", words)])
        return [f"Noted for {dated(when)}: {words}", *_page_again(store, results, progress)]


def done_job(results: Path, item: str, *, progress: Progress) -> list[str]:
    """Keep that something on the list was done, by the last photo; the words to end with.

    Raises
    ------
    ResultsError
        If no run has come to its end there, or the list has no such item.
    """
    with opened(results) as store:
        whole = again(store, results)
        found = item_named(whole.care, item)
        if found is None:
            names = ", ".join(one.id for one in whole.care)
            raise ResultsError(
                f"nothing on the list is named “{item}”.",
                where=str(results),
                remedy=f"Name one of: {names}." if names else "There is nothing to do at present.",
            )
        last = _used(whole)[-1]
        add_entries(results, [DiaryEntry(last, "done", cause, found.title) for cause in found.causes])
        lines = [f"Done: {found.title}. It comes back only if its cause does.", *_hint(found.key)]
        return [*lines, *_page_again(store, results, progress)]


def _hint(key: str) -> list[str]:
    """What else is to be written down, where the photos cannot show what was done."""
    if key.startswith(("lamp:", "lamp far:")):
        return ["Write down how high the lamp hangs now: a further [[lamp]] of its name in tray.toml, with `since`."]
    if key.startswith("light:"):
        return ["With under_light = true below its [[sowing]] in tray.toml nobody asks again for the pots to come."]
    return []


def _used(whole: Results) -> list[str]:
    used = [frame.time for frame in whole.frames if frame.used]
    if not used:
        raise ResultsError("no photo was measured.", where=str(whole.out), remedy="Run with photos that can be used.")
    return used


def _moment(whole: Results, at: str | None) -> str:
    """The time of a note as the tables write times. A day alone is its noon, or the photo that is nearest to it."""
    used = _used(whole)
    if at is None:
        return used[-1]
    word = at.strip()
    try:
        when = datetime.fromisoformat(word).replace(tzinfo=None)
    except ValueError:
        raise ResultsError(f"“{at}” is no time.", remedy='Write --at 2026-03-05 or --at "2026-03-05 14:00".') from None
    # A camera whose clock was set back wrote its last photos before its first.
    first, last = (pick(datetime.fromisoformat(text).replace(tzinfo=None) for text in used) for pick in (min, max))
    if len(word) <= len("2026-03-05"):
        when = datetime.combine(when.date(), time(12))
        if when.date() in (first.date(), last.date()):
            when = min(max(when, first), last)
    if not first <= when <= last:
        raise ResultsError(
            f"{dated(when.isoformat())} lies outside the photos, which go from {dated(first.isoformat())} to "
            f"{dated(last.isoformat())}.",
            where=str(whole.out),
            remedy="Give a time between these; run again first if there are newer photos.",
        )
    return when.isoformat(timespec="seconds")


def _page_again(store: Store, results: Path, progress: Progress) -> list[str]:
    """The page made again with what was written down, where there is one, and the list as it is now."""
    from sproutlapse.outputs import to_do_lines

    whole = with_looked(store, again(store, results))
    if (results / PAGE).is_file():
        people(whole, store, film=False, report=True, progress=progress)
    return to_do_lines(whole) or ["Nothing else to do at present."]
