"""What the tool sees, to correct by hand: the first photo with numbered rulers and what was found, and a tray.toml.

It stands where the pictures alone do not tell where the pots are, or where a person wants to look before measuring.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2

from sproutlapse.errors import PhotosError, ResultsError, TrayError
from sproutlapse.frames import audit, decode
from sproutlapse.frames.find import photos as find_photos
from sproutlapse.frames.reel_times import ANY_TIMES
from sproutlapse.job_tray import NAME, Given, complete_tray, given_tray
from sproutlapse.progress import Progress
from sproutlapse.tray import Tray
from sproutlapse.trayfile import write_tray
from sproutlapse.vision.colour import Bytes
from sproutlapse.vision.reference import FRAMES
from sproutlapse.vision.scout import draw_rulers
from sproutlapse.work.engine import Task, look_at, picture_of
from sproutlapse.work.files import not_written, put
from sproutlapse.work.place import own_name
from sproutlapse.work.scan import Photo, scan
from sproutlapse.work.usable import FirstUsable

PICTURE = "tray.png"

_VIEW_TO_FILL_IN = """\
# from = "side"              # take off the first mark and keep "side", or write "above"
"""

_PLANT_TO_FILL_IN = """
# Neither pots nor cells could be made out. Write one [[plant]] for each pot or cell: take off the marks in front of the
# lines below and put in the numbers that you read off the rulers in tray.png. Pixels count from the top left.
#
# [[plant]]
# name = "A"
# box_px = [100, 0, 300, 500]  # left, top, right, bottom: the strip above its own pot, or its cell
# soil_y_px = 480              # from the side: how far down its stem meets the soil; from above leave it out
"""

# The examples of other parts that a person may add, in the words of README.md.
_MORE = """
# More that may be written, each part only if you know it (README.md tells what it is for):
#
# [[sowing]]
# name = "pepper, packet 2"
# crop = "pepper"
# sown = 2026-02-01T09:00:00
#
# and under a [[plant]]:
# sowing = "pepper, packet 2"
# habit = "grasslike"          # onions, grasses; otherwise broadleaf, rosette, climber or feathery
"""


@dataclass(frozen=True)
class TraySight:
    """Where the picture and the tray.toml are, and what to print at the end."""

    picture: Path
    tray: Path
    lines: list[str]


def tray_job(folder: Path, out: Path | None, progress: Progress) -> TraySight:
    """Draw what the tool sees with rulers along the edges, and write a tray.toml to correct.

    Parameters
    ----------
    folder
        The photos; they are only read. A tray.toml there is drawn as it stands, completed where parts are missing.
    out
        Where to write, or None for FOLDER-tray beside FOLDER.
    progress
        Where to tell how far it is.

    Returns
    -------
    TraySight
        The two files, and lines in plain words.

    Raises
    ------
    PhotosError
        If no photo can be used.
    ResultsError
        If `out` cannot be used, or holds a tray.toml that may have been corrected by hand.
    TrayError
        If neither pots nor cells can be made out (picture and a tray.toml to fill in are written all the same), or if
        the tray.toml that was given is broken.
    """
    files = find_photos(folder, ANY_TIMES)
    given = given_tray(folder, None)
    out = _place(folder, out)
    with progress.stage("reading dates", len(files)) as stage:
        scanned = scan(files, {}, stage.advance)
    first, pictures = _first_pictures(scanned.photos, progress)
    if not first.photos:
        raise PhotosError(
            f"none of the {len(files)} photos can be used.",
            where=str(folder),
            remedy=f"See what is wrong with each: sproutlapse check {folder}",
        )
    frame = first.photos[0].dated.frame
    size = first.usual.width, first.usual.height
    try:
        tray, notes = complete_tray(given, pictures, frame, {file.frame: file.path for file in files}, size)
    except TrayError as error:
        _put_picture(out / PICTURE, first.photos[0], given.tray)
        if given.tray.plants:  # the person's own boxes are wrong: the rulers show where they should be
            remedy = f"{error.remedy} The rulers in {out / PICTURE} show the pixels of {frame}."
            raise TrayError(error.what, where=error.where, remedy=remedy) from error
        _put_tray(out / NAME, _skeleton(given.tray, frame, out), given)
        raise TrayError(
            "neither pots nor the cells of a seed tray could be made out in the first photos, so this waits for you "
            "to fill it in.",
            where=str(out / NAME),
            remedy=f"Read the places off the rulers in {out / PICTURE} and write one [[plant]] for each pot or cell, "
            f"then run: sproutlapse run {folder} --tray {out / NAME}",
        ) from error
    _put_picture(out / PICTURE, first.photos[0], tray)
    _put_tray(out / NAME, _text(tray, out) + _MORE, given)
    return TraySight(out / PICTURE, out / NAME, _lines(folder, out, tray, notes))


def _place(folder: Path, out: Path | None) -> Path:
    """The folder to write to, made if need be."""
    photos = folder.resolve()
    if out is None and not photos.name:
        raise ResultsError("nothing lies beside the root of a disk.", where=str(folder), remedy="Name one with --out.")
    out = out if out is not None else photos.with_name(own_name(photos) + "-tray")
    if any(place.exists() and place.samefile(photos) for place in (out.resolve(), *out.resolve().parents)):
        raise ResultsError(
            "the picture with rulers cannot lie among the photos.",
            where=str(out),
            remedy="Name another folder with --out. Without it they go beside the photo folder.",
        )
    if out.exists() and not out.is_dir():
        raise ResultsError("this is a file; a folder is needed.", where=str(out), remedy="Name another with --out.")
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise not_written(out, error) from error
    return out


def _first_pictures(photos: Sequence[Photo], progress: Progress) -> tuple[FirstUsable, list[Bytes]]:
    """The photos that a run would compare with, and their pictures."""
    first = FirstUsable(FRAMES)
    pictures: list[Bytes] = []
    with progress.stage("looking at the first photos", FRAMES) as stage:
        for photo in photos:
            if first.full:
                break
            if photo.copy_of:
                continue
            told, picture = look_at(Task(photo.file.frame, photo.file.path, photo.digest))
            if picture is not None and first.offer(photo, audit.Look(**told.look)):
                pictures.append(picture)
                if picture.shape != pictures[0].shape:  # those of another size are given up
                    pictures = [picture_of(p.file.path, p.file.frame) for p in first.photos]
                stage.advance()
    return first, pictures


def _put_picture(path: Path, photo: Photo, tray: Tray) -> None:
    """The photo in its own pixels, however small it is measured."""
    picture = decode.decode(decode.read_bytes(photo.file.path), photo.file.frame)
    drawn = cv2.cvtColor(draw_rulers(picture, tray), cv2.COLOR_RGB2BGR)
    put(path, cv2.imencode(".png", drawn)[1].tobytes())


def _put_tray(path: Path, text: str, given: Given) -> None:
    """Write the file, unless what stands there says something else: then a person may have corrected it."""
    data = text.encode("utf-8")
    if path.is_file():
        there = path.read_bytes()
        if given.path is not None and there == given.path.read_bytes():
            return
        if there != data:
            raise ResultsError(
                "this says something else than was found in the photos now, so it may hold corrections by hand, "
                "and it was left as it is.",
                where=str(path),
                remedy=f"To measure with it: sproutlapse run FOLDER --tray {path}. To see it drawn, move it into the "
                "photo folder and give this command again. If it is not wanted, move it away.",
            )
    put(path, data)


def _text(tray: Tray, out: Path) -> str:
    """The tray as `write_tray` writes it."""
    beside = out / (NAME + ".new")
    try:
        write_tray(tray, beside)
        return beside.read_text(encoding="utf-8")
    except OSError as error:
        raise not_written(beside, error) from error
    finally:
        beside.unlink(missing_ok=True)


def _skeleton(tray: Tray, frame: str, out: Path) -> str:
    """What the person wrote and what is known, with the missing parts as lines to fill in."""
    known = tray.model_copy(
        update={"view": tray.view.model_copy(update={"pixels_of": tray.view.pixels_of or frame})},
    )
    text = _text(known, out)
    if tray.view.from_ is None:
        text = text.replace("[view]\n", "[view]\n" + _VIEW_TO_FILL_IN, 1)
    return text + _PLANT_TO_FILL_IN + _MORE


def _lines(folder: Path, out: Path, tray: Tray, notes: Sequence[str]) -> list[str]:
    above = tray.view.from_ == "above"
    how, soil = ("from above", "") if above else ("from the side", ", orange lines the soil")
    return [
        f"{len(tray.plants)} pots or cells, seen {how}.",
        *notes,
        f"Look at {out / PICTURE}: blue boxes are the places{soil}, numbers along the edges pixels.",
        f"Correct {out / NAME} where it is wrong, then run: sproutlapse run {folder} --tray {out / NAME}",
    ]
