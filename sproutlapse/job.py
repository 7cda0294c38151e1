"""One tray from folder to results: the only place that joins the parts."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sproutlapse import __version__
from sproutlapse.errors import PhotosError, ResultsError
from sproutlapse.frames import audit, clock, decode
from sproutlapse.frames.find import photos as find_photos
from sproutlapse.outputs import Assembled, assemble, care_lines, write_tables
from sproutlapse.progress import Progress
from sproutlapse.results import Results
from sproutlapse.tray import Tray
from sproutlapse.trayfile import check_against_picture, read_tray, write_tray
from sproutlapse.vision.colour import Bytes
from sproutlapse.vision.reference import FRAMES, Reference, brought_together, make_reference, to_pictures
from sproutlapse.vision.scout import scout
from sproutlapse.work.engine import Task, Told, look_at, measure_all
from sproutlapse.work.scan import Photo, Scan, scan
from sproutlapse.work.store import NAME, Store
from sproutlapse.work.usable import FirstUsable, reasons

if TYPE_CHECKING:
    from sproutlapse.film.options import FilmOptions

MEASURING = 1  # raised when photos would be measured otherwise than before


@dataclass(frozen=True)
class JobSummary:
    """Where the results are, and what to print at the end."""

    out: Path
    report: Path | None
    film: Path | None
    lines: list[str]


@dataclass(frozen=True)
class AuditReport:
    """What `check` prints; `ok` is false if a photo cannot be used."""

    lines: list[str]
    ok: bool


def run_job(folder: Path, *, tray_path: Path | None, out: Path | None, masks: bool, film: bool, report: bool,
            workers: int | None, progress: Progress) -> JobSummary:
    """Measure a folder of photos and write everything about it.

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

    Raises
    ------
    SproutlapseError
        With what, where and what to do.
    """
    files = find_photos(folder)
    out = results_folder(folder, out)
    given = _given_tray(folder, tray_path)
    with Store(out) as store:
        with progress.stage("reading dates", len(files)) as stage:
            scanned = scan(files, store.scanned(), stage.advance)
        store.set_scanned(scanned.scanned)
        first, pictures = _first_usable(scanned.photos, store)
        if not first.photos:
            raise PhotosError(f"none of the {len(files)} photos can be used.", where=str(folder),
                              remedy="See what is wrong with each: sproutlapse check " + str(folder))
        tray, notes = _complete_tray(given, pictures, first, tray_path)
        seed = "\n".join([str(MEASURING), *(photo.digest for photo in first.photos)])
        reference = make_reference(pictures, tray, seed)
        _measure_new(scanned.photos, store, reference, first, tray, workers, progress)
        store.drop_other_references(reference.digest)
        store.set_about({
            "version": __version__, "folder": str(folder), "reference": reference.digest,
            "tray": tray.model_dump(mode="json", by_alias=True), "mm_per_px": list(reference.mm_per_px),
            "scale_sd_share": reference.scale.sd_share, "size": list(reference.size),
            "notes": [*notes, *reference.notes, *scanned.messages],
            "usual_from": [photo.digest for photo in first.photos]})
        write_tray(tray, out / "tray.toml")
        whole = _assemble(store, folder, out, scanned)
        write_tables(whole, masks=masks)
    return _people(whole.results, film=film, report=report, progress=progress)


def _measure_new(photos: Sequence[Photo], store: Store, reference: Reference, first: FirstUsable, tray: Tray,
                 workers: int | None, progress: Progress) -> None:
    """Measure what the store does not hold yet under this reference; each finding is safe as soon as it is there."""
    known = store.measured(reference.digest)
    damaged = {digest for digest, (why, _look) in store.looks().items() if why}
    tasks = [Task(p.file.frame, p.file.path, p.digest) for p in photos
             if not p.copy_of and p.digest not in known and p.digest not in damaged]
    if not tasks:
        return
    with progress.stage("measuring photos", len(tasks)) as stage:
        for told in measure_all(tasks, reference, first.usual, tray, workers or os.cpu_count() or 1):
            store.keep(told.task.digest, told.damaged, told.look, reference.digest, told.found)
            stage.advance()


def _first_usable(photos: Sequence[Photo], store: Store) -> tuple[FirstUsable, list[Bytes]]:
    """The photos that make the reference, and their pictures."""
    looks = _looks(store)
    first = FirstUsable(FRAMES)
    pictures: list[Bytes] = []
    for photo in photos:
        if first.full:
            break
        if photo.copy_of:
            continue
        damaged, look = looks.get(photo.digest, ("", None))
        if damaged:
            continue
        picture: Bytes | None = None
        if look is None:
            told, picture = look_at(Task(photo.file.frame, photo.file.path, photo.digest))
            store.keep(photo.digest, told.damaged, told.look, "", None)
            if picture is None:
                continue
            look = audit.Look(**told.look)
        if first.offer(photo, look):
            if picture is None:
                picture = decode.decode(decode.read_bytes(photo.file.path), photo.file.frame)
            pictures.append(picture)
    return first, pictures


def _looks(store: Store) -> dict[str, tuple[str, audit.Look | None]]:
    return {digest: (why, audit.Look(**look) if look else None) for digest, (why, look) in store.looks().items()}


def _given_tray(folder: Path, tray_path: Path | None) -> tuple[Tray, Path | None]:
    path = tray_path or (folder / "tray.toml" if (folder / "tray.toml").is_file() else None)
    return (Tray(), None) if path is None else (read_tray(path), path)


def _complete_tray(given: tuple[Tray, Path | None], pictures: list[Bytes], first: FirstUsable,
                   tray_path: Path | None) -> tuple[Tray, list[str]]:
    """The tray with everything that was missing found in the pictures, and what was taken for granted."""
    tray, path = given
    size = (pictures[0].shape[1], pictures[0].shape[0])
    frame = first.photos[0].dated.frame
    if path is not None:
        check_against_picture(tray, size, path=path)
    complete = tray.view.from_ is not None and tray.plants and (
        tray.view.from_ == "above" or all(p.soil_y_px is not None for p in tray.plants))
    notes: list[str] = []
    if not complete:
        found = scout(to_pictures(brought_together(pictures)), given=tray)
        tray, notes = found.tray, list(found.notes)
    if tray.view.pixels_of is None:
        tray = tray.model_copy(update={"view": tray.view.model_copy(update={"pixels_of": frame})})
    return tray, notes


def _assemble(store: Store, folder: Path, out: Path, scanned: Scan) -> Assembled:
    """Everything above the measuring, from the store."""
    reference = str(store.about("reference"))
    found = store.measured(reference)
    looks = _looks(store)
    norm = audit.usual([look for digest in store.about("usual_from") if (look := looks[digest][1]) is not None])
    why = reasons(scanned.photos, looks, found.get, norm)
    return assemble(store, folder, out, scanned.photos, why, {d: look for d, (_w, look) in looks.items()}, found)


def results_folder(folder: Path, out: Path | None) -> Path:
    """The results folder, made if need be.

    Raises
    ------
    ResultsError
        If it is a file, the photo folder, inside or around it, or holds something that is not ours.
    """
    photos = folder.resolve()
    out = photos.with_name(photos.name + "-results") if out is None else out
    place = out.resolve()
    if place == photos or photos in place.parents or place in photos.parents:
        raise ResultsError("results cannot lie in the photo folder or around it.", where=str(out),
                           remedy="Name another folder with --out.")
    if place.is_file():
        raise ResultsError("this is a file; results need a folder.", where=str(out),
                           remedy="Name another folder with --out.")
    try:
        place.mkdir(parents=True, exist_ok=True)
        foreign = sorted(p.name for p in place.iterdir())
    except OSError as error:
        raise ResultsError(f"the folder cannot be made or read ({error.strerror}).", where=str(out),
                           remedy="Check who may write there, or name another folder with --out.") from error
    if foreign and NAME not in foreign:
        raise ResultsError(f"the folder holds something that is not ours ({', '.join(foreign[:3])}).", where=str(out),
                           remedy="Name an empty or a new folder with --out.")
    return out


def _opened(results: Path) -> tuple[Store, Path]:
    """The store of a results folder that was run, and the photos' folder."""
    if not (results / NAME).is_file():
        raise ResultsError("no results of a run are here.", where=str(results),
                           remedy="Run first: sproutlapse run FOLDER --out " + str(results))
    store = Store(results)
    folder = store.about("folder")
    if folder is None or store.about("usual_from") is None:
        store.close()
        raise ResultsError("the run never came to its end.", where=str(results),
                           remedy="Run again: it goes on where it stopped.")
    return store, Path(folder)


def _again(results: Path) -> Assembled:
    """Results from the store, without measuring."""
    store, folder = _opened(results)
    with store:
        known = store.scanned()
        files = [f for f in find_photos(folder) if f.frame in known]
        return _assemble(store, folder, results, scan(files, known, lambda: None))


def report_job(results: Path, *, progress: Progress) -> JobSummary:
    """Tables, charts and page again from the store."""
    whole = _again(results)
    write_tables(whole, masks=False)
    return _people(whole.results, film=False, report=True, progress=progress)


def film_job(results: Path, *, options: FilmOptions, progress: Progress) -> JobSummary:
    """The film again from the store."""
    return _people(_again(results).results, film=True, report=False, progress=progress, options=options)


def _people(results: Results, *, film: bool, report: bool, progress: Progress,
            options: FilmOptions | None = None) -> JobSummary:
    """Film and page, and the words to end with."""
    lines = care_lines(results)
    film_path = results.out / "film.mp4"
    if film:
        from sproutlapse.film.make import make_film
        from sproutlapse.film.options import FilmOptions

        used = sum(frame.used for frame in results.frames)
        with progress.stage("making the film", used) as stage:
            made = make_film(results.frames, film_path, options=options or FilmOptions(),
                             progress=lambda _done, _all: stage.advance())
        lines += [f"Film: {film_path} ({made.sentence})", *made.notes]
    page: Path | None = None
    if report:
        from sproutlapse.report.page import write_report

        page = write_report(results, film=film_path if film_path.is_file() else None)
        lines.append(f"Report: {page}")
    lines.append(f"Tables: {results.out}")
    return JobSummary(results.out, page, film_path if film else None, lines)


def audit_job(folder: Path, *, progress: Progress) -> AuditReport:
    """Look through the photos without measuring: how many, from when to when, gaps, and what is wrong with each."""
    files = find_photos(folder)
    with progress.stage("reading dates", len(files)) as stage:
        scanned = scan(files, {}, stage.advance)
    looks: dict[str, tuple[str, audit.Look | None]] = {}
    first = FirstUsable(FRAMES)
    with progress.stage("looking at photos", len(scanned.photos)) as stage:
        for photo in scanned.photos:
            if not photo.copy_of:
                told = _told(photo)
                look = audit.Look(**told.look) if told.look else None
                looks[photo.digest] = (told.damaged, look)
                if look is not None and not first.full:
                    first.offer(photo, look)
            stage.advance()
    if not first.photos:
        return AuditReport([f"None of the {len(files)} photos can be used.",
                            *(f"  {p.dated.frame}: {looks.get(p.digest, ('the same bytes as another', None))[0] or 'too dark'}"
                              for p in scanned.photos)], ok=False)
    why = reasons(scanned.photos, looks, lambda _digest: None, first.usual)
    usable = [p.dated for p, reason in zip(scanned.photos, why, strict=True) if not reason]
    interval, gaps = clock.gaps(usable)
    lines = [f"{len(files)} photos, {len(usable)} of them usable, from {usable[0].taken.text} to {usable[-1].taken.text}."]
    if interval:
        lines.append(f"Usually one every {clock.duration_text(interval)}.")
    lines += [f"Gap of {clock.duration_text(length)} between {a} and {b}." for a, b, length in gaps]
    lines += scanned.messages
    bad = [(p.dated.frame, reason) for p, reason in zip(scanned.photos, why, strict=True) if reason]
    lines += [f"  {frame}: {reason}" for frame, reason in bad]
    return AuditReport(lines, ok=not bad)


def _told(photo: Photo) -> Told:
    told, _picture = look_at(Task(photo.file.frame, photo.file.path, photo.digest))
    return told
