"""Which photos count, judged in camera order: the first ones that make the reference, and why others are left out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import cv2
import numpy as np

from sproutlapse.errors import PhotosError
from sproutlapse.frames import audit
from sproutlapse.frames.looks import GRID_H, GRID_W
from sproutlapse.frames.night import NIGHT
from sproutlapse.vision.colour import Bytes
from sproutlapse.vision.findings import Findings
from sproutlapse.work.scan import Photo

MOVED = "camera moved"  # how the reason of a photo begins that could not be aligned
STAYS = 3  # so many photos in a row that show another view: the camera stays there

STILL = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0)  # the place of a camera that nobody moved

# By digest: why a file is damaged (empty if it is not), and its numbers.
Looks = dict[str, tuple[str, audit.Look | None]]


@dataclass
class FirstUsable:
    """The first usable photos, found one by one. A photo counts if nothing is wrong with it as far as those before it
    tell; what comes later has no say.

    Attributes
    ----------
    most
        How many are wanted.
    nights
        How many of those offered were night pictures.
    other
        The same among photos of another size than the first one's. If three of those count before three of the first
        size do, they are the run's: a single photo held upright must not decide over all others.
    """

    most: int
    photos: list[Photo] = field(default_factory=list)
    looks: list[audit.Look] = field(default_factory=list)
    hashes: dict[str, str] = field(default_factory=dict)
    nights: int = 0
    other: FirstUsable | None = None

    @property
    def full(self) -> bool:
        """Whether no more are wanted."""
        return len(self.photos) >= self.most

    def offer(self, photo: Photo, look: audit.Look) -> bool:
        """Take a photo if it is usable; says whether it was taken. If it has another size than those before, it and the
        like ones have taken their place."""
        if look.pixel_hash in self.hashes:
            return False
        self.hashes[look.pixel_hash] = photo.dated.frame
        norm = audit.usual(self.looks) if self.looks else None
        if fault := audit.fault(look, norm):
            self.nights += fault.startswith(NIGHT)
            return fault.startswith(audit.OTHER_SIZE) and self._offer_other(photo, look)
        if norm is not None and audit.sudden(look, self.looks[-1], norm):
            return False
        self.photos.append(photo)
        self.looks.append(look)
        self._give_up_odd_ones()
        return photo in self.photos

    def _give_up_odd_ones(self) -> None:
        """Leave out photos that came first and are judged bad by those after them: nothing is to be compared with what
        does not count. Three photos are needed to tell which one is odd."""
        while len(self.looks) >= STAYS:
            norm = audit.usual(self.looks)
            odd = next((k for k, look in enumerate(self.looks) if audit.fault(look, norm)), None)
            if odd is None:
                return
            self.nights += audit.fault(self.looks[odd], norm).startswith(NIGHT)
            del self.photos[odd], self.looks[odd]

    def _offer_other(self, photo: Photo, look: audit.Look) -> bool:
        """A photo of another size: taken if so many of them are there that those of the first size are given up."""
        self.other = self.other or FirstUsable(self.most)
        if not self.other.offer(photo, look) or not len(self.other.photos) >= STAYS > len(self.photos):
            return False
        self.photos, self.looks, self.other = self.other.photos, self.other.looks, None
        return True

    def pictures(self, known: dict[str, Bytes], read: Callable[[Photo], Bytes]) -> list[Bytes]:
        """The pictures of the photos.

        Parameters
        ----------
        known
            Pictures by digest; those of photos that were given up are taken out.
        read
            Decodes one that is not known any more.
        """
        for gone in set(known) - {photo.digest for photo in self.photos}:
            del known[gone]
        for photo in self.photos:
            if photo.digest not in known:
                known[photo.digest] = read(photo)
        return [known[photo.digest] for photo in self.photos]

    @property
    def usual(self) -> audit.Usual:
        """What photos of this stand look like."""
        return audit.usual(self.looks)


def none_usable(photos: int, nights: int, folder: Path) -> PhotosError:
    """What to say where not one photo can be measured, of so many, of which so many are night pictures."""
    if 2 * nights < photos:
        return PhotosError(
            f"none of the {photos} photos can be used.",
            where=str(folder),
            remedy=f"See what is wrong with each: sproutlapse check {folder}",
        )
    return PhotosError(
        f"{nights} of the {photos} photos are night pictures without colour, as a camera takes by its own infrared "
        "lamp, and none of the others can be used. Leaves look as white as the board there, so plants cannot be "
        "measured.",
        where=str(folder),
        remedy="Take photos while the lamps are on, with the camera's night mode off or set to change by itself.",
    )


def reasons(
    photos: Sequence[Photo],
    looks: Mapping[str, tuple[str, audit.Look | None]],
    found: Callable[[str], Findings | None],
    usual: audit.Usual | None,
    views: Callable[[str], Seen | None] = lambda _: None,
) -> list[str]:
    """Why each photo is left out, in camera order; empty for those that count.

    Parameters
    ----------
    photos
        All files in camera order.
    looks
        By digest: why a file is damaged, and its numbers.
    found
        Findings by digest; None where there are none, then the numbers decide.
    usual
        The norm of the stand; None where no photo made one.
    views
        By digest the other view that a photo shows, of a camera that was set up anew; None for the first one.
    """
    return Judged().reasons(photos, looks, found, usual, views)


class Judged:
    """Reasons that were told before, so that a folder that grew is not judged from its beginning each time."""

    def __init__(self) -> None:
        self._usual: audit.Usual | None = None
        self._of: list[tuple[object, ...]] = []
        self._why: list[str] = []
        self._state: _InOrder | None = None

    def reasons(
        self,
        photos: Sequence[Photo],
        looks: Mapping[str, tuple[str, audit.Look | None]],
        found: Callable[[str], Findings | None],
        usual: audit.Usual | None,
        views: Callable[[str], Seen | None] = lambda _: None,
    ) -> list[str]:
        """As `reasons`; where photos were only added at the end, only these are judged."""
        told = [(found(photo.digest), views(photo.digest)) for photo in photos]
        of: list[tuple[object, ...]] = [
            # A photo's numbers hang on its bytes, so they need not be held against each other.
            (photo.dated.frame, photo.digest, photo.copy_of, looks.get(photo.digest, ("",))[0], *own)
            for photo, own in zip(photos, told, strict=True)
        ]
        known = len(self._of)
        if self._state is None or usual != self._usual or self._of != of[:known]:
            self._state, self._why, known = _InOrder(Seen(usual)), [], 0
        for photo, own in zip(photos[known:], told[known:], strict=True):
            self._why.append(self._state.reason(photo, *looks.get(photo.digest, ("", None)), *own))
        self._of, self._usual = of, usual
        return list(self._why)


@dataclass(frozen=True)
class Seen:
    """A view of the camera: what its photos look like, and where a camera that stood still lies on its reference."""

    usual: audit.Usual | None
    upright: tuple[float, ...] = STILL


@dataclass
class _InOrder:
    """What the photos so far tell about the next one."""

    first: Seen
    view: Seen | None = None  # which of the later views `previous` shows
    hashes: dict[str, str] = field(default_factory=dict)
    previous: audit.Look | None = None
    covered: audit.Look | None = None
    hoods: tuple[bool, ...] = ()  # which plants a cover hid in `previous`
    stood: tuple[float, ...] = STILL  # where the camera stood for `previous`
    elsewhere: str = ""  # the first photo of a run of them that show another view

    def reason(
        self, photo: Photo, damaged: str, look: audit.Look | None, told: Findings | None, view: Seen | None
    ) -> str:
        if photo.copy_of:
            return audit.duplicate_reason(photo.copy_of)
        if damaged or look is None:
            return audit.damaged_reason(damaged or "it could not be read")
        same = self.hashes.setdefault(look.pixel_hash, photo.dated.frame)
        now = view or self.first
        reason = audit.fault(look, now.usual) if told is None else told.fault
        # One black picture looks like another, and each tells that the lamps were off at its own time.
        if same != photo.dated.frame and not reason.startswith("dark"):
            return audit.duplicate_reason(same)
        matrix = STILL if told is None else told.matrix
        hoods = () if told is None else told.covered
        # A cover that is put on or taken off changes much at once, and is told by itself.
        same_view = hoods == self.hoods and view == self.view
        if same_view and not reason and self.previous is not None and now.usual is not None:
            previous = replace(self.previous, grid=as_seen_from(self.previous.grid, self.stood, look, matrix))
            usual = replace(now.usual, grid=as_seen_from(now.usual.grid, now.upright, look, matrix))
            reason = audit.sudden(look, previous, usual, before=self.covered)
        self.covered = look if reason.startswith("obstructed") else None
        if not reason:
            self.previous, self.stood, self.elsewhere, self.hoods, self.view = look, matrix, "", hoods, view
        if reason.startswith(MOVED):
            if self.elsewhere:
                return f"{MOVED}: shows another view since {self.elsewhere}"
            self.elsewhere = photo.dated.frame
        return reason


def as_seen_from(grid: list[int], stood: Sequence[float], look: audit.Look, matrix: Sequence[float]) -> list[int]:
    """A coarse picture as the camera of another photo sees it; what was out of view is taken from that photo, so that
    it makes no difference.

    Parameters
    ----------
    grid
        Coarse picture, see `audit.Look`.
    stood, matrix
        Six numbers each, the camera's place for the coarse picture and for the other photo.
    look
        The other photo.
    """
    if tuple(stood) == tuple(matrix):
        return grid
    first, then = (np.vstack([np.reshape(m, (2, 3)), [0.0, 0.0, 1.0]]) for m in (stood, matrix))
    cells = np.array([[GRID_W / look.width, 0, 0], [0, GRID_H / look.height, 0], [0, 0, 1.0]])
    cells[:2, 2] = (np.diag(cells)[:2] - 1) / 2  # from pixel centres to cell centres
    move = (cells @ np.linalg.inv(then) @ first @ np.linalg.inv(cells))[:2]
    out = np.asarray(look.grid, np.float32).reshape(GRID_H, GRID_W, 3).copy()
    picture = np.asarray(grid, np.float32).reshape(GRID_H, GRID_W, 3)
    cv2.warpAffine(picture, move, (GRID_W, GRID_H), dst=out, borderMode=cv2.BORDER_TRANSPARENT)
    return [int(value) for value in np.clip(np.round(out), 0, 255).ravel()]


def another_view(why: Sequence[str]) -> str:
    """What to tell of a camera that shows another view to the end, from the reasons in camera order; empty if it does
    not.

    Photos that were left out for other reasons since then say nothing of the view.
    """
    last = next((k for k in range(len(why) - 1, -1, -1) if not why[k]), -1)
    said = [reason for reason in why[last + 1 :] if reason.startswith(f"{MOVED}: shows another view since ")]
    if len(said) + 1 < STAYS:
        return ""
    since = said[0].rsplit(" since ", 1)[1]
    return (
        f"Since {since} the camera shows another view, in which neither pots nor mark are found where they were: "
        "photos from then on are not measured. Put the camera back about where it stood, or keep the later photos in a "
        "folder of their own."
    )


def left_between(photos: Sequence[Photo], why: Sequence[str]) -> list[str]:
    """What to tell of photos of another place or size among good ones, from the reasons in camera order."""
    last = next((k for k in range(len(why) - 1, -1, -1) if not why[k]), -1)
    frames = [photo.dated.frame for photo in photos]
    until = last + 1 if another_view(why) else len(why)
    view = [frames[k] for k in range(until) if why[k].startswith(MOVED)]
    between = sum(reason.startswith(MOVED) for reason in why[: last + 1])
    size = [frame for frame, reason in zip(frames, why, strict=True) if reason.startswith(audit.OTHER_SIZE)]
    told = []
    if between >= STAYS:
        told.append(
            f"{len(view)} photos among the others show another place ({_named(view)}): they are not measured, the rest "
            "is. If they are of another tray, keep the photos of each tray in a folder of its own."
        )
    if size:
        told.append(
            f"{_photos(len(size))} another size or another side up than most of the first ones ({_named(size)}), and "
            "is not measured. Hold the camera the same way each time, and keep the photos of another camera in another "
            "folder."
        )
    return told


def _photos(count: int) -> str:
    return "1 photo has" if count == 1 else f"Each of {count} photos has"


def _named(frames: Sequence[str]) -> str:
    return frames[0] if len(frames) == 1 else f"{frames[0]} to {frames[-1]}"
