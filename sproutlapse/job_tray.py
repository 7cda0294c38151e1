"""The tray of a run: what the person wrote, completed from the pictures, and written to the results to be corrected."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from sproutlapse.errors import ResultsError, TrayError
from sproutlapse.frames import decode
from sproutlapse.frames.reel import is_film
from sproutlapse.tray import Plant, Tray
from sproutlapse.trayfile import check_against_picture, read_tray, write_tray
from sproutlapse.trayfile_records import with_own_records
from sproutlapse.vision import align
from sproutlapse.vision.colour import Bytes, median_of, to_light
from sproutlapse.vision.reduced import matrix_enlarged, tray_enlarged, tray_reduced
from sproutlapse.vision.reference import brought_together, card_marks, to_pictures
from sproutlapse.vision.scale import ASSUMED_MM, LEAST_SIDE_PX
from sproutlapse.vision.scout import scout
from sproutlapse.work.files import not_written, put
from sproutlapse.work.store import Store

NAME = "tray.toml"
KEPT = "tray-before.toml"  # a corrected one that another took the place of
TAKEN_FOR_GRANTED = "taken for granted: measure the black square of yours"
MOST_PLANTS = 255  # a label picture has 8 bits a pixel, and 0 is no plant


@dataclass(frozen=True)
class Given:
    """What the person wrote, and where; an empty tray and None if nothing was written."""

    tray: Tray
    path: Path | None


def given_tray(folder: Path, tray_path: Path | None) -> Given:
    """The tray.toml asked for, else the one in the photo folder or beside the film, else an empty tray.

    Raises
    ------
    TrayError
        If it cannot be read or contradicts itself.
    """
    own = tray_beside(folder)
    path = tray_path if tray_path is not None or not own.exists() else own
    if path is None:
        return Given(Tray(), None)
    tray = with_own_records(read_tray(path), path)
    if len(tray.plants) > MOST_PLANTS:
        raise TrayError(
            f"{len(tray.plants)} plants are more than one picture can tell apart.",
            where=str(path),
            remedy=f"Write at most {MOST_PLANTS} [[plant]] entries.",
        )
    return Given(tray, path)


def tray_beside(folder: Path) -> Path:
    """Where the person's own tray.toml stands, there or not: in the photo folder, or beside the film."""
    return (folder.parent if is_film(folder) else folder) / NAME


def complete_tray(
    given: Given,
    pictures: Sequence[Bytes],
    first: str,
    frames: Mapping[str, Path],
    size: tuple[int, int],
) -> tuple[Tray, list[str]]:
    """The tray with everything that was missing found in the pictures, and what was taken for granted.

    Parameters
    ----------
    given
        What the person wrote.
    pictures
        The first usable photos, as they are measured: large ones at a reduced size.
    first
        The frame of the first of them.
    frames
        The files of the folder by frame.
    size
        (width, height) of the first photo, whose own pixels the tray is told in.

    Raises
    ------
    TrayError
        If what is written does not fit the pictures, or the photo whose pixels it means cannot be laid over the first.
    """
    tray = given.tray
    step = decode.shrink_to_measure(size)
    if given.path is not None:
        check_against_picture(tray, size, path=given.path)
    named = tray.view.pixels_of
    if named is not None and named in frames and named != first:
        # All else is found in the pixels of the first photo, so what was written must be in them before.
        tray = in_pixels_of_first(tray, pictures[0], frames[named], first, step)
        check_against_picture(tray, size, path=given.path)
    side = tray.view.from_ == "side"
    complete = tray.view.from_ is not None and bool(tray.plants)
    if side and any(plant.soil_y_px is None for plant in tray.plants):
        complete = False
    notes: list[str] = []
    if not complete:
        found = scout(to_pictures(brought_together(pictures)), given=tray_reduced(tray, step))
        tray, notes = tray_enlarged(found.tray, step), list(found.notes)
    if tray.scale.marker_mm is None and tray.scale.length_mm is None and _shows_mark(pictures, tray):
        # Written into the tray, so that it can be corrected there and the written file gives the same results.
        tray = tray.model_copy(update={"scale": tray.scale.model_copy(update={"marker_mm": ASSUMED_MM})})
        notes.append(
            f"The printed mark's black square was taken as {ASSUMED_MM:g} mm: measure yours and write it "
            "into marker_mm."
        )
    if tray.view.pixels_of is None:
        tray = tray.model_copy(update={"view": tray.view.model_copy(update={"pixels_of": first})})
    elif tray.view.pixels_of not in frames:
        notes.append(
            f"tray.toml says that its pixels are those of {tray.view.pixels_of}, which is not among the photos; they "
            f"were taken for those of {first}."
        )
    return tray, notes


def _shows_mark(pictures: Sequence[Bytes], tray: Tray) -> bool:
    """Whether a printed mark is seen large enough to give the scale, as the reference will see it."""
    middle = median_of(brought_together(pictures))
    marks = card_marks(middle, tray)
    return bool(marks) and marks[0].side_px >= LEAST_SIDE_PX


def in_pixels_of_first(tray: Tray, picture: Bytes, named: Path, first: str, step: int) -> Tray:
    """The tray with its places moved from the photo that `pixels_of` names to the first usable one.

    Parameters
    ----------
    tray
        What the person wrote; `view.pixels_of` names the photo.
    picture
        (height, width, 3) the first usable photo, as it is measured.
    named
        The file of the photo whose pixels were written.
    first
        The frame of the first usable photo, which `pixels_of` names afterwards.
    step
        How many times smaller the picture is than the photo.

    Raises
    ------
    TrayError
        If that photo cannot be read, or cannot be laid over the first.
    """
    told = str(tray.view.pixels_of)
    try:
        other = decode.decode(decode.read_bytes(named), told, shrink=step)
    except decode.Damaged as error:
        raise _not_laid_over(told, first, f"it cannot be read: {error}") from error
    if other.shape != picture.shape:
        raise _not_laid_over(told, first, "the two differ in size")
    placed = align.place(to_light(other), align.landmarks(to_light(picture)))
    if placed is None:
        raise _not_laid_over(told, first, "too little that stands still is seen in both")
    view = tray.view.model_copy(update={"pixels_of": first})
    if not placed.moved:
        return tray.model_copy(update={"view": view})
    size, matrix = (picture.shape[1] * step, picture.shape[0] * step), matrix_enlarged(placed.matrix, step)
    plants = tuple(_plant_moved(plant, matrix, size) for plant in tray.plants)
    ends = {key: getattr(tray.scale, key) for key in ("from_px", "to_px")}
    ends = {key: tuple(_moved(matrix, [end])[0]) for key, end in ends.items() if end is not None}
    return tray.model_copy(update={"view": view, "plants": plants, "scale": tray.scale.model_copy(update=ends)})


def _plant_moved(plant: Plant, matrix: align.Matrix, size: tuple[int, int]) -> Plant:
    left, top, right, bottom = plant.box_px
    corners = np.array(_moved(matrix, [(left, top), (right, top), (left, bottom), (right, bottom)]))
    # A box that reached to the edge of its own photo may reach beyond that of the first.
    low, high = (np.clip(edge, 0, np.array(size) - 1.0).tolist() for edge in (corners.min(axis=0), corners.max(axis=0)))
    if low[0] >= high[0] or low[1] >= high[1]:
        raise TrayError(
            f'the box of plant "{plant.name}" lies outside the first usable photo; the camera had been moved.',
            where="tray.toml: [[plant]] box_px",
            remedy="Take this plant out, or take out the photos from before the camera was moved.",
        )
    update: dict[str, object] = {"box_px": (*low, *high)}
    if plant.soil_y_px is not None:
        update["soil_y_px"] = _moved(matrix, [((left + right) / 2, plant.soil_y_px)])[0][1]
    return plant.model_copy(update=update)


def _moved(matrix: align.Matrix, points: Sequence[tuple[float, float]]) -> list[list[float]]:
    """Points in the other picture, to a tenth of a pixel: finer is not known, and a file reads better so."""
    moved: list[list[float]] = np.round(align.move(matrix, np.asarray(points, np.float64)), 1).tolist()
    return moved


def _not_laid_over(told: str, first: str, why: str) -> TrayError:
    return TrayError(
        f"the places are told in the pixels of {told}, which cannot be laid over the first usable photo, "
        f"{first}: {why}.",
        where="tray.toml: [view] pixels_of",
        remedy=f"Read the places off {first} and write its name into pixels_of; sproutlapse tray FOLDER draws rulers "
        "on it.",
    )


def must_not_lose_edits(store: Store, out: Path, given: Given) -> None:
    """Stop before a tray.toml that the person corrected in the results folder would be written over.

    Raises
    ------
    ResultsError
        If it is not as the last run left it, and was not given to this run.
    """
    target = out / NAME
    if not target.is_file() or _same(target, given.path):
        return
    if _digest(target) not in (store.about("tray_texts") or []):
        raise ResultsError(
            "this was changed by hand since the last run, and this run would write over it.",
            where=str(target),
            remedy=f"To use it, add: --tray {target}. If it is not wanted, move it away.",
        )


def corrected_before(store: Store, out: Path, given: Given, *, asked: bool) -> tuple[Given, list[str]]:
    """Without a tray asked for: the tray.toml in the results that the last run was given, and a line that says so.

    It holds as long as it and the one in the photo folder are as they were then; else `given` stays.
    """
    target, last = out / NAME, store.about("tray_given")
    if asked or last is None or not target.is_file():
        return given, []
    beside = _digest(given.path) if given.path is not None else ""
    if last != [_digest(target), beside]:
        return given, []
    line = f"Went on with {target}, which the last run was given; name another with --tray."
    return Given(with_own_records(read_tray(target), target), target), [line]


def put_tray(store: Store, tray: Tray, out: Path, given: Given, *, told: Tray, beside: Path) -> None:
    """Write the complete tray to the results. Where the person's own file stands there and says the same, it stays.

    Parameters
    ----------
    tray, told
        The tray as it was measured with, and with the habits that were told from looks since.
    beside
        The tray.toml of the photo folder, there or not.
    """
    target, new = out / NAME, out / (NAME + ".new")
    old = target.read_bytes() if target.is_file() else b""
    own = target.is_file() and _same(target, given.path)
    try:
        data = old
        if not (own and given.tray == tray):
            write_tray(told, new, comments=_remarks(given.tray, told))
            data = new.read_bytes()
            new.unlink()
    except OSError as error:
        raise not_written(target, error) from error
    texts = [hashlib.sha256(text).hexdigest() for text in (data, old) if text]
    last = store.about("tray_given")
    if not own and data != old and last is not None and texts[1:] == last[:1]:
        put(out / KEPT, old)  # corrected by hand, and now another is asked for
    # Both texts are known as ours before the new one is in place, so that a crash between leaves no doubt.
    since = [texts[0], _digest(beside) if beside.is_file() else ""] if own else None
    store.set_about({"tray_texts": texts, "tray_given": since})
    if data != old:
        put(target, data)


def _remarks(given: Tray, told: Tray) -> dict[str, str]:
    """What to write behind values that nobody gave."""
    habits = {plant.name: plant.habit for plant in given.plants}
    remarks = {
        f"plant.{plant.name}.habit": "told from its look or its crop: correct it where it is wrong"
        for plant in told.plants
        if plant.habit is not None and habits.get(plant.name) is None
    }
    if given.scale.marker_mm is None and told.scale.marker_mm is not None:
        remarks["scale.marker_mm"] = TAKEN_FOR_GRANTED
    return remarks


def _same(target: Path, path: Path | None) -> bool:
    return path is not None and path.exists() and target.samefile(path)


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
