"""One tray from folder to results: the only place that joins the parts."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sproutlapse import __version__
from sproutlapse.errors import ResultsError
from sproutlapse.frames import audit, decode
from sproutlapse.frames.find import PhotoFile
from sproutlapse.frames.find import photos as find_photos
from sproutlapse.frames.reel_times import FilmTimes
from sproutlapse.job_check import AuditReport, audit_job
from sproutlapse.job_cover import Beginning, tray_uncovered, uncovered
from sproutlapse.job_looked import keep_looked, with_looked
from sproutlapse.job_reel import keep_times, notes_of, times_of
from sproutlapse.job_tray import complete_tray, corrected_before, given_tray, must_not_lose_edits, put_tray, tray_beside
from sproutlapse.job_view import Ways, further_views
from sproutlapse.progress import Progress, Silent
from sproutlapse.vision.colour import Bytes
from sproutlapse.vision.reference import FRAMES, make_reference
from sproutlapse.work.engine import Shared, Task, look_at, measure_all
from sproutlapse.work.place import must_be_of, photos_of, results_folder, ways_to
from sproutlapse.work.scan import Photo, Scan, scan
from sproutlapse.work.store import NAME, Store
from sproutlapse.work.usable import FirstUsable, Looks, none_usable, reasons
from sproutlapse.work.views import kept_views, measured, norms, usual_looks

if TYPE_CHECKING:
    from sproutlapse.film.options import FilmOptions
    from sproutlapse.results import Results

# ruff: noqa: PLC0415 - tables, film and page are imported when their turn comes, so that measuring starts at once

__all__ = [
    "AuditReport", "JobSummary", "audit_job", "film_job", "open_results", "report_job", "run_job",
]  # fmt: skip

MEASURING = 16  # raised when photos would be measured otherwise than before


@dataclass(frozen=True)
class JobSummary:
    """Where the results are, and what to print at the end."""

    out: Path
    report: Path | None
    film: Path | None
    lines: list[str]


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
    film_times
        What was said of a film's times, where `folder` is one.

    Raises
    ------
    SproutlapseError
        With what, where and what to do.
    """
    from sproutlapse.outputs_gone import events_told, gone_in_words, what_changed

    times = times_of(folder, out, film_times)
    files = find_photos(folder, times)
    given = given_tray(folder, tray_path)
    out = results_folder(folder, out)
    with Store(out) as store:
        given, said = corrected_before(store, out, given, asked=tray_path is not None)
        must_not_lose_edits(store, out, given)
        scanned = _scanned(store, folder, out, files, progress)
        first, pictures = _first_usable(scanned.photos, store)
        if not first.photos:
            raise none_usable(len(files), first.nights, folder)
        frames = {file.frame: file.path for file in files}
        tray, notes = complete_tray(given, pictures, first.photos[0].dated.frame, frames)
        was = Beginning(first, pictures, tuple(first.photos))
        begun = uncovered(scanned.photos, store, tray, was, lambda: _looks(store))
        tray, notes = tray_uncovered(given, (tray, notes), was, begun, frames)
        first = begun.first
        reference = make_reference(begun.pictures, tray, _seed(begun.compared), _film_mm(first))
        del pictures, was, begun
        shared = Shared(reference, first.usual, tray)

        def measure(photos: Sequence[Photo], own: Shared) -> None:
            _measure_new(photos, store, own, workers=workers or os.cpu_count() or 1, progress=progress)

        measure(scanned.photos, shared)
        ways = Ways(measure, lambda: _looks(store), _seed, lambda reference: _done(store, reference))
        later = further_views(scanned.photos, store, shared, first.photos, ways)
        store.drop_other_references(reference.digest, *later.references)
        notes += [*reference.notes, *later.notes, *notes_of(folder, times), *scanned.messages]
        store.set_about({"views": [view.to_values() for view in later.views]})
        before = store.about("tray"), events_told(out / "events.csv")
        store.set_about({"folder": str(folder), "ways": ways_to(folder, out), **_about(shared, first, notes)})
        whole = _assemble(store, folder, out, scanned)
        put_tray(store, tray, out, given, told=whole.tray, beside=tray_beside(folder))
        said += (retimed := keep_times(store, folder, times))
        why = "the film's times were told otherwise" if retimed else what_changed(before[0], tray)
        said += gone_in_words(before[1], whole.events, why)
        whole = with_looked(store, whole)
        _write_tables(whole, masks=masks)
        done = people(whole, store, film=film, report=report, progress=progress, said=said)
        if report and not isinstance(progress, Silent):
            keep_looked(store, whole)
        return done


def report_job(results: Path, *, progress: Progress) -> JobSummary:
    """Tables, charts and page again from the store, without measuring; photos that are gone are missing in the page.

    Raises
    ------
    ResultsError
        If no run has come to its end there.
    """
    with opened(results) as store:
        whole = with_looked(store, again(store, results))
        _write_tables(whole, masks=False)
        done = people(whole, store, film=False, report=True, progress=progress)
        if not isinstance(progress, Silent):
            keep_looked(store, whole)
        return done


def open_results(results: Path) -> Results:
    """All that a results folder holds, from its store alone.

    Raises
    ------
    ResultsError
        If no run has come to its end there.
    """
    with opened(results) as store:
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


def _scanned(store: Store, folder: Path, out: Path, files: Sequence[PhotoFile], progress: Progress) -> Scan:
    with progress.stage("reading dates", len(files)) as stage:
        scanned = scan(files, store.scanned(), stage.advance)
    must_be_of(store, folder, out, scanned.scanned)
    store.set_scanned(scanned.scanned)
    return scanned


def _first_usable(photos: Sequence[Photo], store: Store) -> tuple[FirstUsable, list[Bytes]]:
    """The photos that make the reference, and their pictures."""
    looks = _looks(store)
    first = FirstUsable(FRAMES)
    pictures: list[Bytes] = []
    for photo in photos:
        if first.full:
            break
        damaged, look = looks.get(photo.digest, ("", None))
        if photo.copy_of or damaged:
            continue
        task = Task(photo.file.frame, photo.file.path, photo.digest)
        picture: Bytes | None = None
        if look is None:
            told, picture = look_at(task)
            store.keep(photo.digest, told.damaged, told.look, "", None)
            if picture is None:
                continue
            look = audit.Look(**told.look)
        if first.offer(photo, look):
            if picture is None:
                picture = decode.decode(decode.read_bytes(photo.file.path), photo.file.frame)
            pictures.append(picture)
            if picture.shape != pictures[0].shape:  # those of another size are given up
                pictures = [decode.decode(decode.read_bytes(p.file.path), p.file.frame) for p in first.photos]
    return first, pictures


def _film_mm(first: FirstUsable) -> float | None:
    """The focal length that the camera wrote into the first photo, as on 36 x 24 mm film."""
    return decode.film_mm_of(decode.read_bytes(first.photos[0].file.path))


def _seed(compared: Sequence[Photo]) -> str:
    """What else the findings depend on, besides the tray: the way of measuring and the photos compared with."""
    return "\n".join([str(MEASURING), *(photo.digest for photo in compared)])


def _measure_new(photos: Sequence[Photo], store: Store, shared: Shared, *, workers: int, progress: Progress) -> None:
    """Measure what the store does not hold yet under this reference; each finding is safe as soon as it is there."""
    reference = shared.reference.digest
    done = _done(store, reference)
    tasks = [Task(p.file.frame, p.file.path, p.digest) for p in photos if not p.copy_of and p.digest not in done]
    if not tasks:
        return
    with progress.stage("measuring photos", len(tasks)) as stage:
        for told in measure_all(tasks, shared, workers=workers):
            store.keep(told.task.digest, told.damaged, told.look, reference, told.found)
            stage.advance()


def _done(store: Store, reference: str) -> set[str]:
    """Digests of which nothing more is to be learned: measured under the reference, or not to be decoded."""
    return set(store.measured(reference)) | {digest for digest, (damaged, _look) in store.looks().items() if damaged}


def _about(shared: Shared, first: FirstUsable, notes: list[str]) -> dict[str, Any]:
    """What the tables are made from besides the findings."""
    reference = shared.reference
    return {
        "version": __version__,
        "measuring": MEASURING,
        "reference": reference.digest,
        "tray": shared.tray.model_dump(mode="json", by_alias=True),
        "mm_per_px": list(reference.mm_per_px),
        "scale_sd_share": reference.scale.sd_share,
        "size": list(reference.size),
        "notes": notes,
        "usual_from": [photo.digest for photo in first.photos],
    }


def _looks(store: Store) -> Looks:
    return {digest: (why, audit.Look(**look) if look else None) for digest, (why, look) in store.looks().items()}


def _assemble(store: Store, folder: Path, out: Path, scanned: Scan) -> Results:
    """Everything above the measuring, from the store."""
    from sproutlapse.outputs import assemble

    views = kept_views(store)
    told = measured(store, str(store.about("reference")), views)
    looks = _looks(store)
    norm, later = audit.usual(usual_looks(store.about("usual_from"), looks)), norms(views, looks)
    other = {digest: later[number - 1] for digest, number in told.view.items()}
    why = reasons(scanned.photos, looks, told.found.get, norm, other.get)
    sizes = {digest: look for digest, (_why, look) in looks.items()}
    return assemble(store, folder, out, photos=scanned.photos, why=why, looks=sizes, told=told, views=views)


def opened(results: Path) -> Store:
    """The store of a results folder in which a run came to its end."""
    if not (results / NAME).is_file():
        raise ResultsError(
            "no results of a run are here.",
            where=str(results),
            remedy=f"Run first: sproutlapse run FOLDER --out {results}",
        )
    return Store(results)


def again(store: Store, results: Path) -> Results:
    """Results from the store alone, as the last run left it; the photos need not be there."""
    reference, scanned = store.about("reference"), store.scanned()
    digests = {one.digest for one in scanned.values()}
    if (
        reference is None
        or not digests <= _done(store, str(reference))
        or not digests >= set(store.about("usual_from"))
    ):
        raise ResultsError(
            "the last run never came to its end.", where=str(results), remedy="Run again: it goes on where it stopped."
        )
    folder, files = photos_of(store.about("ways"), results, scanned.values())
    return _assemble(store, folder, results, scan(files, scanned, lambda: None))


def _write_tables(results: Results, *, masks: bool) -> None:
    from sproutlapse.outputs import write_tables

    write_tables(results, masks=masks)


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
    if film:
        from sproutlapse.job_film import film_made

        film_path, told = film_made(results, store, options=options, beside=beside, progress=progress)
        lines += told
    page: Path | None = None
    if report:
        from sproutlapse.report.page import write_report

        with progress.stage("writing the report", 1) as stage:
            page = write_report(results, film=film_path if film_path.is_file() else None)
            stage.advance()
        lines.append(f"Report: {page}")
    lines.append(f"Tables: {results.out}")
    return JobSummary(results.out, page, film_path if film else None, lines)
