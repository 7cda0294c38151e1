"""What a run is compared with where a cover hides plants in its first photos: the first ones after the uncovering."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import TrayError
from sproutlapse.frames import audit
from sproutlapse.job_tray import Given, complete_tray
from sproutlapse.tray import Tray
from sproutlapse.vision.colour import Bytes
from sproutlapse.vision.cover import covered_plants, in_photo
from sproutlapse.vision.reduced import tray_reduced
from sproutlapse.vision.reference import FRAMES, brought_together, measured_part, to_pictures
from sproutlapse.work.engine import Task, look_at, picture_of, step_of
from sproutlapse.work.scan import Photo
from sproutlapse.work.store import Store
from sproutlapse.work.usable import FirstUsable, Looks

STAYS_OFF = 3  # photos in a row without a cover: fog that clears for an hour is no uncovering


@dataclass(frozen=True)
class Beginning:
    """What a reference is made from.

    Attributes
    ----------
    first
        The photos that are usual for the run.
    pictures
        What the reference is made from.
    compared
        Every photo that has a part in it.
    complete
        Whether, as far as the cover goes, photos that come later change nothing in it.
    """

    first: FirstUsable
    pictures: list[Bytes]
    compared: tuple[Photo, ...]
    complete: bool = True


def uncovered(
    photos: Sequence[Photo], store: Store, tray: Tray, begun: Beginning, looks: Callable[[], Looks]
) -> Beginning:
    """The beginning as it is, or, where a cover hides plants in it, from the first photos after the uncovering.

    Where the cover hid some plants only, the others keep their own first photos, which may show them bare, and the
    strips of the hidden ones are taken from the later photos.

    Parameters
    ----------
    photos
        All photos in camera order.
    tray
        Complete, in the pixels of the first usable photo.
    begun
        The first usable photos.
    looks
        Numbers of the photos that were looked at before.
    """
    tray = tray_reduced(tray, step_of(begun.first.usual))
    told = [covered_plants(picture, tray) for picture in begun.pictures]
    hidden = np.asarray(np.array(told, dtype=bool).any(axis=0))
    if not hidden.any():
        return begun
    late = FirstUsable(FRAMES)
    seen: dict[str, Bytes] = {}
    known = _Known(store, tray, hidden)
    for photo, look, picture in _without_cover(photos, looks(), known, store):
        if late.offer(photo, look):
            seen[photo.digest] = picture
            late.pictures(seen, _picture)
        if late.full:
            break
    known.keep()
    pictures = late.pictures(seen, _picture)
    if not pictures:
        return replace(begun, complete=False)
    if hidden.all():
        return Beginning(late, pictures, tuple(late.photos), late.full)
    joined = _joined(begun.pictures, pictures, tray, hidden)
    return Beginning(begun.first, joined, (*begun.compared, *late.photos), late.full)


def tray_uncovered(
    given: Given, found: tuple[Tray, list[str]], was: Beginning, begun: Beginning, frames: Mapping[str, Path]
) -> tuple[Tray, list[str]]:
    """The tray, and what was taken for granted, in the pixels of the first photo that is compared with.

    Places that nobody wrote are found anew, without the fog before them.

    Parameters
    ----------
    given
        What the person wrote.
    found
        The same as it was completed from the first photos.
    was, begun
        The first photos, and those that are compared with.
    frames
        The files of the folder by frame.
    """
    if begun.first is was.first:
        return found
    tray, notes = found
    frame = begun.first.photos[0].dated.frame
    own = given
    if given.tray.plants and given.tray.view.pixels_of is None:
        view = given.tray.view.model_copy(update={"pixels_of": was.first.photos[0].dated.frame})
        own = Given(given.tray.model_copy(update={"view": view}), given.path)
    try:
        return complete_tray(own, begun.pictures, frame, frames, (begun.first.usual.width, begun.first.usual.height))
    except TrayError:
        # Too little was seen beside the cover to lay the two over each other: the camera is taken to have stood still.
        return tray.model_copy(update={"view": tray.view.model_copy(update={"pixels_of": frame})}), notes


def _picture(photo: Photo) -> Bytes:
    return picture_of(photo.file.path, photo.file.frame)


@dataclass
class _Known:
    """Which photos are known to show the cover, so that a folder that grew is not looked through again."""

    store: Store
    tray: Tray
    hidden: NDArray[np.bool_]

    def __post_init__(self) -> None:
        part = measured_part(self.tray).model_dump_json(by_alias=True) + str(self.hidden.tolist())
        self.of = hashlib.sha256(part.encode()).hexdigest()
        kept = self.store.about("under_cover") or {}
        self.photos: set[str] = set(kept.get("photos", [])) if kept.get("of") == self.of else set()

    def covers(self, digest: str, picture: Bytes) -> bool:
        """Whether the cover still hides one of the plants."""
        if (np.array(covered_plants(picture, self.tray)) & self.hidden).any():
            self.photos.add(digest)
            return True
        return False

    def keep(self) -> None:
        """Keep it for the next run."""
        self.store.set_about({"under_cover": {"of": self.of, "photos": sorted(self.photos)}})


def _without_cover(
    photos: Sequence[Photo], looks: Looks, known: _Known, store: Store
) -> Iterator[tuple[Photo, audit.Look, Bytes]]:
    """Photos without the cover, in camera order, as soon as it stays off; fog that clears for less is none."""
    waiting: list[tuple[Photo, audit.Look, Bytes]] = []
    run = 0
    for photo in photos:
        damaged, look = looks.get(photo.digest, ("", None))
        if photo.copy_of or damaged:
            continue
        if photo.digest in known.photos:
            waiting, run = [], 0
            continue
        picture: Bytes | None = None
        if look is None:
            told, picture = look_at(Task(photo.file.frame, photo.file.path, photo.digest))
            store.keep(photo.digest, told.damaged, told.look, "", None)
            if picture is None:
                continue
            look = audit.Look(**told.look)
        if audit.fault(look, None):
            continue
        if picture is None:
            picture = _picture(photo)
        if known.covers(photo.digest, picture):
            waiting, run = [], 0
            continue
        waiting.append((photo, look, picture))
        run += 1
        if run >= STAYS_OFF:
            yield from waiting
            waiting = []


def _joined(first: Sequence[Bytes], late: Sequence[Bytes], tray: Tray, hidden: NDArray[np.bool_]) -> list[Bytes]:
    """The first photos with the places of hidden plants as later photos show them."""
    laid = [to_pictures(lights[1:])[0] for one in late if len(lights := brought_together([first[0], one])) > 1]
    if not laid:
        return list(first)
    out = []
    for k, picture in enumerate(first):
        whole = picture.copy()
        for plant, under in zip(tray.plants, hidden, strict=True):
            left, top, right, bottom = plant.box_px
            reach = 0.15 * (right - left)
            # A hood reaches over the rim of its pot and a little to the sides.
            box = (left - 0.2 * reach, 0.0 if tray.view.from_ == "side" else top, right + 0.2 * reach, bottom + reach)
            if under:
                rows, columns = in_photo(box, None, whole.shape)
                whole[rows, columns] = laid[min(k, len(laid) - 1)][rows, columns]
        out.append(whole)
    return out
