"""Views of a camera that was set up anew: where one begins, and which view each photo is measured in."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sproutlapse.frames import audit
from sproutlapse.tray import Tray
from sproutlapse.vision import align
from sproutlapse.vision.findings import Findings
from sproutlapse.work.scan import Photo
from sproutlapse.work.settle import ViewScale
from sproutlapse.work.store import Store
from sproutlapse.work.usable import MOVED, STAYS, STILL, Looks, Seen

# Plants agree in both views if their heights differ by no more: a share, a length, and growth of so much a day. Half of
# those that are known must. Own proposals: another tray differs by more, a camera put elsewhere by a tenth of this.
AGREE_SHARE, AGREE_MM, GROWS_MM = 0.25, 5.0, 15.0
AGREEING = 0.5
KNOWN_MM = 8.0  # smaller plants tell nothing
LOOKED_AT = 3  # photos on either side
# What a photo can be told to be by a reference of another view.
BY_THE_VIEW = (MOVED, "obstructed", "hazy", "blurred")


@dataclass(frozen=True)
class View:
    """A further view, as the store keeps it.

    Attributes
    ----------
    reference
        Hash of what its photos are compared with.
    since
        Its first photo.
    tray
        With the places of its pots, in the order of the first view's.
    scale
        Millimetres per pixel.
    usual_from
        Digests of the photos that its reference was made from.
    upright
        Six numbers that turn its photos upright.
    to_first
        Six numbers that take its pixels to about those of the first view.
    """

    reference: str
    since: str
    tray: Tray
    scale: ViewScale
    usual_from: tuple[str, ...]
    upright: tuple[float, ...] = STILL
    to_first: tuple[float, ...] = STILL

    def to_values(self) -> dict[str, Any]:
        """Ready for JSON."""
        return {
            "reference": self.reference,
            "since": self.since,
            "tray": self.tray.model_dump(mode="json", by_alias=True),
            "mm_per_px": list(self.scale.mm_per_px),
            "scale_sd_share": self.scale.sd_share,
            "not_measured": list(self.scale.lost),
            "usual_from": list(self.usual_from),
            "upright": list(self.upright),
            "to_first": list(self.to_first),
        }

    @staticmethod
    def from_values(values: Mapping[str, Any]) -> View:
        """The view again from `to_values`."""
        return View(
            reference=str(values["reference"]),
            since=str(values["since"]),
            tray=Tray.model_validate(values["tray"]),
            scale=ViewScale(tuple(values["mm_per_px"]), float(values["scale_sd_share"]), tuple(values["not_measured"])),
            usual_from=tuple(values["usual_from"]),
            upright=tuple(values["upright"]),
            to_first=tuple(values["to_first"]),
        )


@dataclass(frozen=True)
class Measured:
    """What all photos told, each in the view that it shows.

    Attributes
    ----------
    found
        Findings by digest.
    view
        By digest the number of its view, from 1; photos of the first view are not among them.
    references
        By number the hash of what photos of a view are compared with.
    """

    found: Mapping[str, Findings]
    view: Mapping[str, int]
    references: tuple[str, ...]

    def reference(self, digest: str) -> str:
        """What a photo was compared with."""
        return self.references[self.view.get(digest, 0)]


def kept_views(store: Store) -> list[View]:
    """The further views of the last run."""
    return [View.from_values(values) for values in store.about("views") or []]


def measured(store: Store, first: str, views: Sequence[View]) -> Measured:
    """Findings of all photos, those of further views in theirs.

    A photo that is gone leaves its findings under a view's reference while they are new under another first one: it is
    passed over.

    Parameters
    ----------
    first
        Hash of the first view's reference.
    """
    found = store.measured(first)
    view: dict[str, int] = {}
    for number, one in enumerate(views, start=1):
        for digest, own in store.measured(one.reference).items():
            if not own.fault and digest in found and found[digest].fault:
                found[digest], view[digest] = own, number
    return Measured(found, view, (first, *(one.reference for one in views)))


def since_stand(digest: str, told: Measured, views: Sequence[View], look: audit.Look | None) -> Findings:
    """What a photo told, with the camera's movement since its view's own stand: a view that was turned upright is no
    movement.

    Parameters
    ----------
    look
        The photo's numbers, for its size.
    """
    found, number = told.found[digest], told.view.get(digest, 0)
    if not number or look is None:
        return found
    upright = views[number - 1].upright
    if tuple(found.matrix) == tuple(upright):
        return replace(found, shift_px=0.0, turn_deg=0.0)
    matrix, stood = (np.reshape(values, (2, 3)) for values in (found.matrix, upright))
    shift, turn = align.shift_and_turn(align.chained(matrix, align.inverse(stood)), (look.height, look.width))
    return replace(found, shift_px=shift, turn_deg=turn)


def norms(views: Sequence[View], looks: Looks) -> list[Seen]:
    """What the photos of each further view look like."""
    return [Seen(audit.usual(usual_looks(one.usual_from, looks)), one.upright) for one in views]


def usual_looks(digests: Sequence[str], looks: Looks) -> list[audit.Look]:
    """The numbers of photos that were looked at."""
    return [look for digest in digests if (look := looks[digest][1]) is not None]


def begins(why: Sequence[str], after: int = 0) -> int | None:
    """Where a run of photos begins that show another view, by the reasons in camera order; None if none stays so.

    Photos left out for other reasons say nothing of the view.
    """
    run: list[int] = []
    for k in range(after, len(why)):
        if not why[k]:
            run = []
        elif why[k].startswith(MOVED):
            run.append(k)
            if len(run) >= STAYS:
                return run[0]
    return None


def past_view(photos: Sequence[Photo], why: Sequence[str], start: int, shows: Callable[[Photo], bool]) -> int:
    """Where the photos end that show the same view as one of them; 3 others in a row end the looking.

    Parameters
    ----------
    photos, why
        In camera order, with the reason of each that is left out.
    start
        The number of that one.
    shows
        Whether a photo shows that view too.
    """
    end, others = start + 1, 0
    for k in range(start + 1, len(photos)):
        if why[k].startswith(MOVED):
            end, others = (k + 1, 0) if shows(photos[k]) else (end, others + 1)
        if others == STAYS:
            break
    return end


def heights_mm(found: Findings, scale: ViewScale) -> NDArray[np.float64]:
    """Each plant's height, NaN where none is seen or the scale is not known."""
    rows = [
        float("nan") if mm is None else (one.height_px or 0.0) * mm
        for one, mm in zip(found.plants, scale.mm_per_px, strict=True)
    ]
    return np.array(rows, dtype=np.float64)


def unlike(
    before: Sequence[NDArray[np.float64]], after: Sequence[NDArray[np.float64]], days: float
) -> NDArray[np.float64]:
    """For each plant whether its heights in two views contradict each other: 1 or 0, NaN where nothing is known.

    Parameters
    ----------
    before, after
        (n,) heights of the last photos of one view and of the first of the other, mm.
    days
        Between the two.
    """
    was, now = (np.nan_to_num(np.median(np.stack(rows), axis=0)) for rows in (before, after))
    least = was * (1 - AGREE_SHARE) - AGREE_MM
    most = was * (1 + AGREE_SHARE) + AGREE_MM + GROWS_MM * max(days, 0.0)
    out = np.asarray((now < least) | (now > most), dtype=np.float64)
    return np.where(np.maximum(was, now) >= KNOWN_MM, out, np.nan)


def same_plants(contradict: NDArray[np.float64]) -> bool:
    """Whether the plants in two views can be the same, from `unlike`."""
    known = contradict[np.isfinite(contradict)]
    return not len(known) or float(1 - known.mean()) >= AGREEING


def photos_of_view(photos: Sequence[Photo], found: Mapping[str, Findings], start: int) -> list[Photo]:
    """Photos from one on that may show another view: those that could not be laid over the views so far."""
    return [
        photo
        for photo in photos[start:]
        if not photo.copy_of and photo.digest in found and found[photo.digest].fault.startswith(BY_THE_VIEW)
    ]
