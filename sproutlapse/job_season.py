"""All trays of a season in one run: their photos spread over one crew, a results folder each, and a page over all.

While the crew measures one tray, the next is made ready beside it and the one before is judged, drawn and filmed, so
that no worker waits for a page. A tray that fails takes none of the others along; one without anything new is left as
it is, and told of from what its store keeps.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Generator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, closing, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from sproutlapse.errors import ResultsError
from sproutlapse.frames.find import PhotoFile, frame_of
from sproutlapse.frames.find import photos as find_photos
from sproutlapse.frames.trays import Found, TrayFolder, none_found, trays_below
from sproutlapse.job import people, write_tables_of
from sproutlapse.job_looked import keep_looked
from sproutlapse.job_season_kept import Wanted, fingerprint, keep_told, kept_told
from sproutlapse.job_season_turns import InTurn, Shares
from sproutlapse.job_steps import Round, Steps
from sproutlapse.job_tray import Given, given_tray
from sproutlapse.plainly import as_told
from sproutlapse.progress import Progress, Silent
from sproutlapse.work.crew import Crew, LocalCrew
from sproutlapse.work.files import csv_bytes, put
from sproutlapse.work.place import results_folder
from sproutlapse.work.store import NAME, Store

if TYPE_CHECKING:
    from sproutlapse.season.kept import TrayTold
    from sproutlapse.season.trays import Failure, SeasonTray

__all__ = ["SeasonSummary", "Wanted", "season_job"]

# ruff: noqa: PLC0415 - tables and page are imported when their turn comes, so that measuring starts at once

PAGE, TABLE = "season.html", "season.csv"
READY = 2  # trays that are made ready or measured at once; each holds what its photos are compared with
MOST_TOLD = 8  # things to do on the terminal


@dataclass(frozen=True)
class SeasonSummary:
    """Where the season's page is, what to print at the end, and how many trays could not be done."""

    page: Path
    lines: list[str]
    failed: int


@dataclass(frozen=True)
class _Place:
    """One tray and where its results go, None for beside its folder."""

    tray: TrayFolder
    out: Path | None


@dataclass(frozen=True)
class _Measured:
    """A tray whose photos are measured, its store still open; or one without anything new."""

    out: Path
    given: Given
    files: Sequence[PhotoFile]
    store: Store
    steps: Steps | None = None
    now: Round | None = None
    told: TrayTold | None = None


def season_job(
    root: Path,
    *,
    out: Path | None,
    wanted: Wanted,
    workers: int | None,
    progress: Progress,
    crew: Crew | None = None,
) -> SeasonSummary:
    """Measure every tray below a folder, and write a page and a table over all of them.

    Parameters
    ----------
    root
        Folder that holds the trays, each a folder of photos with a tray.toml.
    out
        Where all results go, laid out as the folders are; None for beside each folder, the page in `root`.
    wanted
        What to write of each tray.
    workers
        Processes, or None for one per processor core.
    crew
        Who measures, and goes on living afterwards; None for that many processes of this machine.

    Raises
    ------
    PhotosError
        If there is no tray below `root`.
    ResultsError
        If `out` lies in a folder of photos, or the page cannot be written. What goes wrong with one tray stands on the
        page and is told through `progress`, or on the error stream where that is silent.
    """
    root = Path(root)
    found = trays_below(root, but=out)
    if not found.trays:
        raise none_found(root, found)
    places = [_Place(tray, _out_of(tray, root, out)) for tray in found.trays]
    where = _home(root, out, found)
    with ExitStack() as stack:
        whole = crew or stack.enter_context(LocalCrew(workers))
        # Who asks for one worker is short of memory.
        ready = 1 if workers == 1 else READY
        season = _Season(wanted, InTurn(whole), progress, where, Shares(progress, found.trays), ready)
        trays = season.done(places)
    return _written(root, out, where, found, trays)


def _out_of(tray: TrayFolder, root: Path, out: Path | None) -> Path | None:
    """The results of a tray below `out`, at the path that its folder has below the root; of the root itself under a
    name that no folder below it can lead to, whatever the two are called."""
    if out is None:
        return None
    below = tray.folder.relative_to(root)
    return out / below.parent / (f"{below.name}-results" if below.name else "results")


def _home(root: Path, out: Path | None, found: Found) -> Path:
    """Where the season's page goes: never into a folder of photos."""
    if out is None:
        return root.resolve().with_name(root.resolve().name + "-results") if _is_tray(root, found) else root
    for tray in found.trays:
        photos = tray.folder.resolve()
        if photos == out.resolve() or photos in out.resolve().parents:
            raise ResultsError(
                f"results cannot lie in a folder of photos ({tray.name}).",
                where=str(out),
                remedy="Name another folder with --out. Without --out they go beside each folder.",
            )
    return out


def _is_tray(root: Path, found: Found) -> bool:
    return any(tray.folder == root for tray in found.trays)


@dataclass(frozen=True)
class _Season:
    """What all trays of one run share."""

    wanted: Wanted
    crew: InTurn
    progress: Progress
    where: Path
    shares: Shares
    ready: int

    def done(self, places: Sequence[_Place]) -> list[SeasonTray]:
        """Every tray, in the order given."""
        trays = []
        with self.shares, closing(self._in_order(places)) as ordered:
            for place, measured in ordered:
                trays.append(self._tray(place, measured))
                del measured  # what its photos are compared with is large
                self.shares.finished(place.tray)
        return trays

    def _in_order(self, places: Sequence[_Place]) -> Generator[tuple[_Place, Future[_Measured]], None, None]:
        """Each tray once it is measured; meanwhile the next ones are made ready and measured."""
        waiting: deque[tuple[_Place, Future[_Measured]]] = deque()
        left = iter(places)
        pool = ThreadPoolExecutor(self.ready, thread_name_prefix="tray")
        try:
            for place in left:
                waiting.append((place, pool.submit(self._measured, place)))
                if len(waiting) > self.ready:
                    yield waiting.popleft()
            while waiting:
                yield waiting.popleft()
        finally:
            # Stopped from the keyboard, say: what is being measured ends with the photos in hand.
            self.crew.stop()
            pool.shutdown(wait=True, cancel_futures=True)
            for _place, future in waiting:
                if future.done() and not future.cancelled() and future.exception() is None:
                    future.result().store.close()

    def _measured(self, place: _Place) -> _Measured:
        """Everything up to the last photo measured. It runs beside the others, so the store goes from thread to
        thread, but is never used by two."""
        files = find_photos(place.tray.folder)
        given = given_tray(place.tray.folder, None)
        out = results_folder(place.tray.folder, place.out)
        store = Store(out)
        try:
            told = kept_told(store, fingerprint(given, files, out, self.wanted))
            if told is not None:
                return _Measured(out, given, files, store, told=told)
            steps = Steps(store, place.tray.folder, out, None, self.crew, self.shares.of(place.tray))
            steps.take_up()
            now = steps.begin(files, given)
            steps.measure(now.scanned.photos, now.begun.shared)
        except BaseException:
            store.close()
            raise
        return _Measured(out, given, files, store, steps, now)

    def _tray(self, place: _Place, measured: Future[_Measured]) -> SeasonTray:
        """One tray as the season tells it, whatever became of it."""
        try:
            done = measured.result()
            with done.store:
                told = done.told or self._finished(place, done)
            return self._told(place, done.out, told, None)
        except Exception as error:
            from sproutlapse.season.trays import Failure

            problem = as_told(error)
            self.shares.complain(f"{place.tray.name}: {problem}")
            out = place.out or place.tray.folder.resolve().with_name(place.tray.folder.resolve().name + "-results")
            return self._told(place, out, _before(out), Failure(problem.what, problem.where, problem.remedy))

    def _finished(self, place: _Place, done: _Measured) -> TrayTold:
        """Tables, page and film of one tray; what the season keeps of it."""
        from sproutlapse.season.kept import tray_told

        assert done.steps is not None and done.now is not None
        whole, said = done.steps.finish(done.now)
        write_tables_of(whole, masks=self.wanted.masks)
        for line in said[len(done.now.said) :]:  # the others were told when it began
            self.shares.say(f"{place.tray.name}: {line}")
        people(whole, done.store, film=self.wanted.film, report=self.wanted.report, progress=Silent())
        if self.wanted.report and not isinstance(self.progress, Silent):
            keep_looked(done.store, whole)
        told = tray_told(whole)
        keep_told(done.store, fingerprint(done.given, done.files, done.out, self.wanted), told)
        return told

    def _told(self, place: _Place, out: Path, told: TrayTold | None, failed: Failure | None) -> SeasonTray:
        from sproutlapse.season.trays import SeasonTray

        page = out / "report.html"
        return SeasonTray(
            name=place.tray.name,
            results=frame_of(_way(out, self.where)),
            page=quote(os.fsencode(_way(page, self.where))) if page.is_file() else "",
            photos=place.tray.photos,
            told=told,
            failed=failed,
        )


def _before(out: Path) -> TrayTold | None:
    """What the last run of a tray that came to its end told; None where there is none, or it cannot be read now."""
    if not (out / NAME).is_file():
        return None
    with suppress(Exception), Store(out) as store:
        return kept_told(store)
    return None


def _way(path: Path, start: Path) -> str:
    """A path as seen from a folder, with forward slashes; the whole path where they share no drive."""
    try:
        way = os.path.relpath(path.resolve(), start.resolve())
    except ValueError:
        return path.resolve().as_posix()
    return Path(way).as_posix()


def _written(root: Path, out: Path | None, where: Path, found: Found, trays: Sequence[SeasonTray]) -> SeasonSummary:
    """Page and table, and the words to end with."""
    from sproutlapse.season.page import Season, season_page, summary, table_of, typed
    from sproutlapse.season.trays import season_table, to_do

    again = f"sproutlapse run --all {typed(frame_of(_way(root, where)))}" + (" --out ." if out is not None else "")
    season = Season(frame_of(root.resolve().name), again, tuple(trays), found.untold, found.bare, found.closed)
    put(where / TABLE, csv_bytes(season_table(trays)))
    put(where / PAGE, season_page(season).encode("utf-8"))
    listed, failed = to_do(trays), [tray for tray in trays if tray.failed is not None]
    lines = [summary(season)]
    lines += [f"[{one.item.urgency}] {one.tray.name}: {one.item.title}" for one in listed[:MOST_TOLD]]
    if len(listed) > MOST_TOLD:
        lines.append(f"... and {len(listed) - MOST_TOLD} more on the page.")
    if found.untold:
        names = ", ".join(name for name, _ in found.untold[:MOST_TOLD])
        lines.append(f"Passed over, for they hold photos but no tray.toml: {names}")
    lines += [f"{row.tray.name}: {row.silent}" for row in table_of(trays) if row.silent][:MOST_TOLD]
    if failed:
        lines.append(
            f"{len(failed)} of {len(trays)} trays could not be done: {', '.join(tray.name for tray in failed)}. "
            "Why stands on the page; all the others are done."
        )
    lines += [f"Season: {where / PAGE}", f"Table: {where / TABLE}"]
    return SeasonSummary(where / PAGE, lines, len(failed))
