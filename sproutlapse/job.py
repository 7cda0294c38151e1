"""One tray from folder to results: the only place that joins the parts."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sproutlapse.errors import ResultsError, SproutlapseError
from sproutlapse.frames.find import photos as find_photos
from sproutlapse.frames.reel_times import FilmTimes
from sproutlapse.job_again import must_be_read
from sproutlapse.job_check import AuditReport, audit_job
from sproutlapse.job_looked import keep_looked, with_looked
from sproutlapse.job_reel import times_of
from sproutlapse.job_steps import MEASURING, Steps, assembled, done
from sproutlapse.job_tray import given_tray
from sproutlapse.progress import Progress, Silent
from sproutlapse.spent import part
from sproutlapse.work.crew import Crew, LocalCrew
from sproutlapse.work.leftovers import clear_leftovers
from sproutlapse.work.place import photos_of, results_folder
from sproutlapse.work.scan import scan
from sproutlapse.work.store import NAME, Store

if TYPE_CHECKING:
    from sproutlapse.film.options import FilmOptions
    from sproutlapse.results import Results

# ruff: noqa: PLC0415 - tables, film and page are imported when their turn comes, so that measuring starts at once

__all__ = [
    "AuditReport", "JobSummary", "audit_job", "film_job", "open_results", "report_job", "run_job",
]  # fmt: skip


@dataclass(frozen=True)
class JobSummary:
    """Where the results are, and what to print at the end."""

    out: Path
    report: Path | None
    film: Path | None
    lines: list[str]
    photos: int = 0  # files with a picture's ending


def run_job(
    folder: Path,
    *,
    tray_path: Path | None,
    out: Path | None,
    masks: bool,
    film: bool,
    report: bool,
    workers: int | None,
    progress: Progress,
    crew: Crew | None = None,
    film_times: FilmTimes | None = None,
) -> JobSummary:
    """Measure a folder of photos, or a film, and write everything about it.

    Parameters
    ----------
    folder
        The photos; they are only read.
    tray_path
        tray.toml, or None for FOLDER/tray.toml if there, else the tray is found in the pictures.
    out
        Results folder, or None for FOLDER-results beside FOLDER.
    masks, film, report
        Whether to write them.
    workers
        Processes, or None for one per processor core.
    crew
        Who measures, and goes on living afterwards; None for that many processes of this machine.
    film_times
        What was said of a film's times, where `folder` is one.

    Raises
    ------
    SproutlapseError
        With what, where and what to do.
    """
    times = times_of(folder, out, film_times)
    files = find_photos(folder, times)
    given = given_tray(folder, tray_path)
    out = results_folder(folder, out)
    with Store(out) as store, ExitStack() as own:
        crew = crew or own.enter_context(LocalCrew(workers))
        steps = Steps(store, folder, out, tray_path, crew, progress, film_times=times)
        steps.take_up()
        load_ahead(film=film, report=report)
        now = steps.begin(files, given)
        steps.measure(now.scanned.photos, now.begun.shared)
        whole, said = steps.finish(now)
        own.close()  # film and page need the memory
        return _written(whole, store, masks=masks, film=film, report=report, progress=progress, said=said)


def load_ahead(*, film: bool, report: bool) -> None:
    """Load what tables, film and page need beside the making of what photos are compared with, which leaves cores
    idle. What cannot be loaded is told when its turn comes."""

    def load() -> None:
        with suppress(Exception):
            import sproutlapse.outputs

            if film:
                import sproutlapse.job_film
            if report:
                import sproutlapse.report.page  # noqa: F401

    threading.Thread(target=load).start()


def report_job(results: Path, *, progress: Progress) -> JobSummary:
    """Tables, charts and page again from the store, without measuring; photos that are gone are missing in the page.

    Raises
    ------
    ResultsError
        If no run has come to its end there.
    """
    with opened(results) as store:
        whole = with_looked(store, again(store, results))
        return _written(whole, store, masks=False, film=False, report=True, progress=progress)


def open_results(results: Path) -> Results:
    """All that a results folder holds, from its store alone.

    Raises
    ------
    ResultsError
        If no run has come to its end there.
    """
    with opened(results, to_read=True) as store:
        return again(store, results)


def film_job(results: Path, *, options: FilmOptions, progress: Progress, beside: Sequence[Path] = ()) -> JobSummary:
    """The film again from the store, without measuring; `beside` are results folders shown beside it.

    The results stay locked until the film is there, so that no other run or film writes into them meanwhile. With
    others beside it is `film-together.*`, and the tray's own film stays.

    Raises
    ------
    ResultsError
        If no run has come to its end there.
    PhotosError
        If photos are gone or were changed since.
    """
    others = [open_results(other) for other in beside]
    with opened(results) as store:
        whole = again(store, results)
        return people(whole, store, film=True, report=False, progress=progress, options=options, beside=others)


def opened(results: Path, *, to_read: bool = False) -> Store:
    """The store of a results folder in which a run came to its end: only to be read, or for files to be written."""
    if not (results / NAME).is_file():
        raise ResultsError(
            "no results of a run are here.",
            where=str(results),
            remedy=f"Run first: sproutlapse run FOLDER --out {results}",
        )
    if to_read:
        return Store.to_read(results)
    store = Store(results)
    clear_leftovers(results)
    return store


def again(store: Store, results: Path) -> Results:
    """Results from the store alone, as the last run left it; the photos need not be there."""
    must_be_read(store, results, MEASURING)
    reference, scanned = store.about("reference"), store.scanned()
    digests = {one.digest for one in scanned.values()}
    if reference is None or not digests <= done(store, str(reference)) or not digests >= set(store.about("usual_from")):
        raise ResultsError(
            "the last run never came to its end.", where=str(results), remedy="Run again: it goes on where it stopped."
        )
    folder, files = photos_of(store.about("ways"), results, scanned.values())
    return assembled(store, folder, results, scan(files, scanned, lambda: None))


def write_tables_of(results: Results, *, masks: bool) -> None:
    """Write every table, run.json and, if asked for, the masks."""
    from sproutlapse.outputs import write_tables

    with part("tables"):
        write_tables(results, masks=masks)


def _written(
    whole: Results,
    store: Store,
    *,
    masks: bool,
    film: bool,
    report: bool,
    progress: Progress,
    said: Sequence[str] = (),
) -> JobSummary:
    """Tables, then what is for people; what a person saw of it is kept."""
    write_tables_of(whole, masks=masks)
    summary = people(whole, store, film=film, report=report, progress=progress, said=said)
    if report and not isinstance(progress, Silent):
        keep_looked(store, whole)
    return summary


def people(
    results: Results,
    store: Store,
    *,
    film: bool,
    report: bool,
    progress: Progress,
    options: FilmOptions | None = None,
    said: Sequence[str] = (),
    beside: Sequence[Results] = (),
) -> JobSummary:
    """Film and page, and the words to end with; without `options` the film is as it was last asked for."""
    from sproutlapse.outputs import care_lines

    lines = care_lines(results)
    lines[1:1] = said
    film_path = results.out / "film.mp4"
    trouble: SproutlapseError | None = None
    if film:
        from sproutlapse.job_film import film_made

        try:
            with part("film"):
                film_path, told = film_made(results, store, options=options, beside=beside, progress=progress)
            lines += told
        except SproutlapseError as error:
            if not report:
                raise
            trouble = error  # a disk that is too full for the film may still hold the page
    page: Path | None = None
    if report:
        from sproutlapse.report.page import write_report

        with part("page"), progress.stage("writing the report", 1) as stage:
            page = write_report(results, film=film_path if film_path.is_file() else None)
            stage.advance()
        lines.append(f"Report: {page}")
    if trouble is not None:
        raise trouble
    lines.append(f"Tables: {results.out}")
    return JobSummary(results.out, page, film_path if film else None, lines, len(results.frames))
