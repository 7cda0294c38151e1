"""The audit alone: how many photos, from when to when, at what interval, gaps, and what is wrong with each bad one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sproutlapse.frames import audit, clock
from sproutlapse.frames.find import photos as find_photos
from sproutlapse.frames.night import NIGHT
from sproutlapse.frames.reel_times import FilmTimes
from sproutlapse.job_reel import notes_of
from sproutlapse.progress import Progress
from sproutlapse.vision.reference import FRAMES
from sproutlapse.work.engine import Task, look_at
from sproutlapse.work.scan import Photo, Scan, scan
from sproutlapse.work.usable import FirstUsable, Looks, reasons


@dataclass(frozen=True)
class AuditReport:
    """What `check` prints; `ok` is false if a photo cannot be used, other than by night."""

    lines: list[str]
    ok: bool


def audit_job(folder: Path, *, progress: Progress, film_times: FilmTimes | None = None) -> AuditReport:
    """Look through the photos without measuring them and without writing anything.

    Raises
    ------
    PhotosError
        If the folder cannot be used.
    """
    files = find_photos(folder, film_times)
    with progress.stage("reading dates", len(files)) as stage:
        scanned = scan(files, {}, stage.advance)
    looks: Looks = {}
    first = FirstUsable(FRAMES)
    with progress.stage("looking at photos", len(scanned.photos)) as stage:
        for photo in scanned.photos:
            if not photo.copy_of:
                told, _picture = look_at(Task(photo.file.frame, photo.file.path, photo.digest))
                look = audit.Look(**told.look) if told.look else None
                looks[photo.digest] = (told.damaged, look)
                if look is not None and not first.full:
                    first.offer(photo, look)
            stage.advance()
    why = reasons(scanned.photos, looks, lambda _digest: None, first.usual if first.photos else None)
    some = any(not reason for reason in why)
    lines = [*_lines(scanned, why), *notes_of(folder, film_times)]
    return AuditReport(lines, ok=some and not any(reason and not _by_night(reason) for reason in why))


def _by_night(reason: str) -> bool:
    return reason.startswith(("dark", NIGHT))


def _lines(scanned: Scan, why: Sequence[str]) -> list[str]:
    photos = scanned.photos
    usable = [photo for photo, reason in zip(photos, why, strict=True) if not reason]
    if usable:
        there = [photo for photo, reason in zip(photos, why, strict=True) if not reason or _by_night(reason)]
        lines = [f"{len(photos)} photos, {len(usable)} of them usable, {_from_to(usable)}.", *_intervals(there)]
    else:
        lines = [f"None of the {len(photos)} photos can be used."]
    lines += scanned.messages
    nights = [p.dated.frame for p, reason in zip(photos, why, strict=True) if _by_night(reason)] if usable else []
    if nights:
        which = nights[0] if len(nights) == 1 else f"{nights[0]} to {nights[-1]}"
        lines.append(
            f"{len(nights)} of the others by night, without light or by infrared ({which}): no fault,"
            " they tell how long the lamp is on."
        )
    told = zip(photos, why, strict=True)
    return lines + [f"  {p.dated.frame}: {reason}" for p, reason in told if reason and p.dated.frame not in nights]


def _from_to(usable: Sequence[Photo]) -> str:
    return f"from {usable[0].dated.taken.text} to {usable[-1].dated.taken.text}"


def _intervals(usable: Sequence[Photo]) -> list[str]:
    interval, gaps = clock.gaps([photo.dated for photo in usable])
    lines = [f"Usually one every {clock.duration_text(interval)}."] if interval else []
    return lines + [f"Gap of {clock.duration_text(length)} between {a} and {b}." for a, b, length in gaps]
