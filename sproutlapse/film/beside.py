"""Files beside the film: subtitles of what happened, the poster, and then and now. Each appears whole or not at all."""

from __future__ import annotations

import io
import re
import unicodedata
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import get_args

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from sproutlapse.film import cards
from sproutlapse.film.options import FilmOptions, Kind
from sproutlapse.film.plan import Plan
from sproutlapse.film.subtitles import webvtt
from sproutlapse.film.timing import exact_rate
from sproutlapse.film.told import Happening
from sproutlapse.work.files import put, told_apart

Even = NDArray[np.float32]
JPEG_QUALITY = 90
# Named on as the film is: that of one plant, or of several trays, leaves the tray's own alone.
FILM, THEN_AND_NOW = "film", "then-and-now"
TOGETHER = "together"
# Bytes of one plant's part, and of all of them: the usual disks take names of 255 bytes or letters at most.
LONGEST_PART, LONGEST_PARTS = 60, 150
LIKE_A_DIGEST = re.compile(r"-[0-9a-f]{6}$")


def film_name(plants: Sequence[str], *, together: bool, among: Collection[str] = ()) -> str:
    """What a film's files are called, without their ending: no other film's name, on any disk.

    Parameters
    ----------
    plants
        The plants that are followed; none for the whole tray.
    together
        Whether trays stand side by side.
    among
        All plants of these trays: two whose names a disk may take for one are told apart by a short digest.
    """
    name = f"{FILM}-{TOGETHER}" if together else FILM
    if not plants:
        return name
    # Plants are joined by what no plant's part holds, so that A and B together are not the plant A-B.
    parts = "+".join(_part(plant, among) for plant in plants)
    short = _cut(parts, LONGEST_PARTS)
    return f"{name}-{parts if short == parts else told_apart(short, parts)}"


def _part(plant: str, among: Collection[str]) -> str:
    """A plant's name as a file's name can hold it; with a digest where it is not wholly the plant's own."""
    plain = _cut(re.sub(r"[^\w.-]+", "_", plant), LONGEST_PART)
    alike = any(_folded(other) == _folded(plant) for other in among if other != plant)
    if plain == plant and not alike and not _folded(plain).startswith(TOGETHER) and not LIKE_A_DIGEST.search(plain):
        return plain
    return told_apart(plain, plant)


def _cut(text: str, most: int) -> str:
    """As much of a text as takes so many bytes, without half a letter."""
    return text.encode("utf-8")[:most].decode("utf-8", "ignore")


def _folded(name: str) -> str:
    """As disks compare names that do not mind the case of letters, or how an accent is written."""
    return unicodedata.normalize("NFKC", name).casefold()


def other_films(made: Path) -> list[str]:
    """Films of this name in another format, which an earlier time made and which may show less."""
    there = (made.with_suffix(f".{kind}") for kind in get_args(Kind))
    return [path.name for path in there if path != made and path.is_file()]


def write_poster(out: Path, picture: Even) -> Path:
    """The film's last picture as JPEG, named as the film is."""
    return _jpeg(out.with_suffix(".jpg"), picture)


def write_subtitles(
    out: Path, plan: Plan, happenings: Sequence[Happening], options: FilmOptions, lead_in: int
) -> list[Path]:
    """What happened as WebVTT, named as the film is; nothing where nothing happened, or for a WebP or GIF."""
    path = out.with_suffix(".vtt")
    if options.kind != "mp4":
        return []  # nothing shows them, and those that are there belong to the film
    if not happenings:
        path.unlink(missing_ok=True)  # those of an earlier film would tell of another time
        return []
    rate = float(exact_rate(options.fps))
    hours = np.array([moment.hours for moment in plan.line.moments])
    lines = []
    for one in happenings:
        first = int(np.searchsorted(hours, one.hours - 1e-6 - plan.line.span_h / 2))
        number = min(first, len(hours) - 1)
        moment = plan.line.moments[number]
        lines.append(((lead_in + number) / rate, f"{moment.day}, {moment.clock}: {one.text}"))
    put(path, webvtt(lines, (lead_in + len(hours)) / rate).encode("utf-8"))
    return [path]


def write_then_and_now(out: Path, plan: Plan, first: Even | None, last: Even | None) -> list[Path]:
    """The first and the last picture of the film side by side, with a rule in mm where the scale is known."""
    if first is None or last is None:
        return []
    lead = plan.sides[plan.lead]
    words = [f"{m.day}, {m.clock}" for m in (plan.line.moments[0], plan.line.moments[-1])]
    zoom = float(np.hypot(*lead.views[-1][:, 0]))
    scales = [mark.mm_per_px for mark in lead.marks]
    mm = float(np.median(scales)) / zoom if scales else None
    name = THEN_AND_NOW + (out.stem.removeprefix(FILM) if out.stem.startswith(FILM) else "")
    return [_jpeg(out.with_name(f"{name}.jpg"), cards.then_and_now((first, last), words, mm))]


def _jpeg(path: Path, picture: Even) -> Path:
    out = io.BytesIO()
    whole = np.clip(np.round(picture), 0, 255).astype(np.uint8)
    Image.fromarray(whole).save(out, "JPEG", quality=JPEG_QUALITY, subsampling=0)
    put(path, out.getvalue())
    return path
