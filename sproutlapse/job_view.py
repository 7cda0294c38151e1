"""A camera that was set up anew while a run goes on: each further view gets what its photos are compared with from its
own first photos, and the pots keep their names where these leave no doubt."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sproutlapse.errors import PhotosError, SproutlapseError
from sproutlapse.frames import decode
from sproutlapse.vision import align
from sproutlapse.vision.colour import Bytes, to_light
from sproutlapse.vision.other_view import NamesInDoubt, OldView, carried, straight_row
from sproutlapse.vision.reduced import matrix_enlarged, matrix_reduced, tray_enlarged, tray_reduced
from sproutlapse.vision.reference import FRAMES, make_reference
from sproutlapse.vision.row_depth import Row
from sproutlapse.work.asked import Asked
from sproutlapse.work.engine import Shared, picture_of
from sproutlapse.work.scan import Photo
from sproutlapse.work.settle import ViewScale
from sproutlapse.work.store import Store
from sproutlapse.work.usable import MOVED, STAYS, FirstUsable, Looks, reasons
from sproutlapse.work.views import (
    KNOWN_MM,
    LOOKED_AT,
    Measured,
    View,
    begins,
    heights_mm,
    measured,
    norms,
    past_view,
    photos_of_view,
    same_plants,
    unlike,
)  # fmt: skip

MOST_VIEWS = 8  # a camera that is set up anew more often is carried about
TRIES = 12  # photos that may begin a view; further ones only cost time
LOOKED_THROUGH = 40  # photos, for those that show the same view as its first


@dataclass(frozen=True)
class Ways:
    """What the making of a view needs from the job.

    Attributes
    ----------
    measure
        Measures photos that the store does not hold yet.
    looks
        Numbers of the photos that were looked at.
    seed
        What else the findings depend on, from the photos compared with.
    done
        Digests of the photos of which nothing more is to be learned under a reference.
    """

    measure: Callable[[Sequence[Photo], Shared], None]
    looks: Callable[[], Looks]
    seed: Callable[[Sequence[Photo]], str]
    done: Callable[[str], set[str]]


@dataclass(frozen=True)
class Views:
    """The further views, what to tell of them, and the references whose findings are to be kept."""

    views: tuple[View, ...]
    notes: tuple[str, ...]
    references: tuple[str, ...]


def further_views(photos: Sequence[Photo], store: Store, shared: Shared, first: Sequence[Photo], ways: Ways) -> Views:
    """The views that follow the first one; their photos are measured.

    Parameters
    ----------
    photos
        All photos in camera order, measured in the first view.
    shared
        What they were compared with there.
    first
        The photos that the first view's reference was made from.
    """
    asked = Asked.of(store)
    if store.with_fault(shared.reference.digest, MOVED) < STAYS:
        asked.end()
        return Views((), (), ())
    so = _SoFar(photos, shared, [], [list(first)])
    same = _SameView(asked, ways.seed([]))
    notes: list[str] = []
    refused: list[str] = []
    after = 0
    for _ in range(TRIES):
        so.read(store, ways)
        start = begins(so.why, after)
        if start is None or len(so.views) >= MOST_VIEWS:
            break
        frame = photos[start].dated.frame
        begun = _begun(
            [p for p, reason in zip(photos, so.why, strict=True) if reason.startswith(MOVED)], frame, ways, same
        )
        asked.keep()
        if len(begun.photos) < STAYS:
            after = start + 1
            continue
        try:
            made, told = _measured_there(so, start, begun, ways, asked)
        except NamesInDoubt as doubt:
            notes.append(_not_carried(frame, str(doubt)))
            if not so.can_be_told():
                break
            after = past_view(photos, so.why, start, partial(same, begun.photos[0]))
            continue
        contradict = _contradict(so, store, made, start)
        if not same_plants(contradict):
            refused.append(made.reference)
            notes.append(_not_carried(frame, "the plants there are of other heights, as if it were another tray"))
            there = frozenset(one for one, own in store.measured(made.reference).items() if not own.fault)
            after = past_view(photos, so.why, start, partial(_among, there))
            continue
        lost = tuple(int(k) for k in np.flatnonzero(contradict == 1.0))
        made = replace(made, scale=replace(made.scale, lost=lost))
        so.views.append(made)
        so.beginnings.append(list(begun.photos))
        names = [made.tray.plants[k].name for k in lost]
        notes += [_carried(frame, len(made.tray.plants), names), *told]
    asked.end()
    return Views(tuple(so.views), tuple(notes), (*(view.reference for view in so.views), *refused))


@dataclass
class _SoFar:
    """All photos, the views that are known so far with the photos that each began with, and what they tell."""

    photos: Sequence[Photo]
    shared: Shared
    views: list[View]
    beginnings: list[list[Photo]]
    told: Measured = field(default_factory=lambda: Measured({}, {}, ()))
    why: list[str] = field(default_factory=list)

    def scales(self) -> list[ViewScale]:
        """Of each view."""
        first = self.shared.reference
        return [ViewScale(self.shared.mm_per_px, first.scale.sd_share), *(view.scale for view in self.views)]

    def can_be_told(self) -> bool:
        """Whether names can go along to any other view."""
        tray = self.shared.tray
        return tray.view.from_ == "side" and bool(tray.plants) and None not in self.shared.reference.mm_per_px

    def last_before(self, start: int) -> int | None:
        """The last photo before one that counts."""
        return next((k for k in range(start - 1, -1, -1) if not self.why[k]), None)

    def stand(self, last: int) -> tuple[bool, ...]:
        """For each plant whether the photos up to one show that it stands there."""
        used = [p for p, reason in zip(self.photos[: last + 1], self.why, strict=False) if not reason][-LOOKED_AT:]
        heights = [_heights(self.told, self.scales(), photo) for photo in used]
        return tuple(bool(h >= KNOWN_MM) for h in np.nan_to_num(np.median(np.stack(heights), axis=0)))

    @cached_property
    def row(self) -> Row | None:
        """The row of pots as the first view shows it."""
        mm = [mm for mm in self.shared.reference.mm_per_px if mm is not None]
        pictures = [_picture(photo) for photo in self.beginnings[0]]
        return straight_row(pictures, self.shared.small, mm) if len(mm) == len(self.shared.tray.plants) else None

    def read(self, store: Store, ways: Ways) -> None:
        """Read again what all photos tell in these views."""
        self.told = measured(store, self.shared.reference.digest, self.views)
        looks = ways.looks()
        seen = norms(self.views, looks)
        other = {digest: seen[number - 1] for digest, number in self.told.view.items()}
        self.why = reasons(self.photos, looks, self.told.found.get, self.shared.usual, other.get)


@dataclass
class _SameView:
    """Whether photos show the same view as another one; each two are looked at once and for all."""

    asked: Asked
    measuring: str
    marks: dict[str, tuple[tuple[int, ...], align.Landmarks]] = field(default_factory=dict)

    def __call__(self, one: Photo, other: Photo) -> bool:
        question = ["same view", self.measuring, one.digest, other.digest]
        return bool(self.asked.ask(question, lambda: self._look(one, other)))

    def _look(self, one: Photo, other: Photo) -> bool:
        if one.digest not in self.marks:
            picture = _picture(one)
            self.marks = {one.digest: (picture.shape, align.landmarks(to_light(picture)))}
        shape, marks = self.marks[one.digest]
        picture = _picture(other)
        return picture.shape == shape and align.place(to_light(picture), marks) is not None


def _begun(moved: Sequence[Photo], frame: str, ways: Ways, same: _SameView) -> FirstUsable:
    """The first photos from one on that show the same view as it does."""
    first, looks = FirstUsable(FRAMES), ways.looks()
    start = next(k for k, photo in enumerate(moved) if photo.dated.frame == frame)
    for photo in moved[start : start + LOOKED_THROUGH]:
        look = looks[photo.digest][1]
        if look is None or (first.photos and not same(first.photos[0], photo)):
            continue
        first.offer(photo, look)
        if first.full:
            break
    return first


def _measured_there(so: _SoFar, start: int, begun: FirstUsable, ways: Ways, asked: Asked) -> tuple[View, Sequence[str]]:
    """A further view whose photos are measured, and what to tell of its scale.

    What photos are compared with there is made only if there is something to compare: a run that finds nothing new
    takes the view as it was kept.

    Raises
    ------
    NamesInDoubt
        If which pot is which cannot be told, or no reference can be made of its first photos.
    """
    last = so.last_before(start)
    if last is None or None in so.shared.reference.mm_per_px:
        raise NamesInDoubt("without a scale nothing in two views can be compared")
    fresh: list[Shared] = []

    def find() -> dict[str, Any]:
        try:
            made, own = _made(so, last, begun, ways)
        except PhotosError:
            raise
        except (NamesInDoubt, SproutlapseError) as doubt:
            return {"doubt": doubt.what if isinstance(doubt, SproutlapseError) else str(doubt)}
        fresh.append(own)
        return {"view": made.to_values(), "notes": list(own.reference.scale.notes)}

    answer = asked.ask(_depends_on(so, last, begun, ways), find)
    asked.keep()
    if "doubt" in answer:
        raise NamesInDoubt(answer["doubt"])
    made = View.from_values(answer["view"])
    there = photos_of_view(so.photos, so.told.found, start)
    done = ways.done(made.reference)
    if any(photo.digest not in done for photo in there):
        if not fresh:
            made, own = _made(so, last, begun, ways)
            fresh.append(own)
        ways.measure(there, fresh[0])
    return made, answer["notes"]


def _depends_on(so: _SoFar, last: int, begun: FirstUsable, ways: Ways) -> list[Any]:
    """All that a further view depends on."""
    photo = so.photos[last]
    number = so.told.view.get(photo.digest, 0)
    return [
        "view",
        ways.seed(begun.photos),
        [one.dated.frame for one in begun.photos],
        so.shared.reference.digest,
        so.shared.tray.model_dump(mode="json", by_alias=True),
        so.views[number - 1].to_values() if number else None,
        [[one.digest for one in so.beginnings[k]] for k in (0, number)],
        [photo.digest, list(so.told.found[photo.digest].matrix)],
        so.stand(last),
    ]


def _made(so: _SoFar, last: int, begun: FirstUsable, ways: Ways) -> tuple[View, Shared]:
    """A further view and what its photos are compared with; `last` is the last photo before it that counts.

    Raises
    ------
    NamesInDoubt
        If which pot is which cannot be told.
    SproutlapseError
        If no reference can be made of its first photos.
    """
    photo = so.photos[last]
    number = so.told.view.get(photo.digest, 0)
    was = so.views[number - 1] if number else None
    step = so.shared.step
    old = OldView(
        first=[_picture(photo) for photo in so.beginnings[number]],
        last=_picture(photo),
        matrix=matrix_reduced(np.reshape(so.told.found[photo.digest].matrix, (2, 3)), step),
        upright=np.eye(2, 3) if was is None else matrix_reduced(np.reshape(was.upright, (2, 3)), step),
        tray=tray_reduced(so.shared.tray if was is None else was.tray, step),
        row=so.row,
    )
    frame, pictures = begun.photos[0].dated.frame, [_picture(one) for one in begun.photos]
    new = carried(old, pictures, frame)
    known = so.stand(last)
    seed = f"{ways.seed(begun.photos)}\nview {_numbers(new.upright)} {new.depths} {known}"
    tray = tray_enlarged(new.tray, step, (begun.usual.width, begun.usual.height))
    small = tray_reduced(tray, step)
    film_mm = decode.film_mm_of(decode.read_bytes(begun.photos[0].file.path))
    reference = make_reference(pictures, small, seed, film_mm, upright=new.upright, depths=new.depths, known=known)
    if None in reference.mm_per_px:
        raise NamesInDoubt("the printed mark is not read there, so that no millimetres are known")
    own = Shared(reference, begun.usual, tray)
    made = View(
        reference=reference.digest,
        since=frame,
        tray=tray,
        scale=ViewScale(own.mm_per_px, reference.scale.sd_share),
        usual_from=tuple(photo.digest for photo in begun.photos),
        upright=_numbers(None if new.upright is None else matrix_enlarged(new.upright, step)),
        to_first=_numbers(_to_first(matrix_enlarged(new.to_old, step), was)),
    )
    return made, own


def _to_first(to_old: align.Matrix, was: View | None) -> align.Matrix:
    return to_old if was is None else align.chained(np.reshape(was.to_first, (2, 3)), to_old)


def _numbers(matrix: align.Matrix | None) -> tuple[float, ...]:
    return tuple(float(v) for v in np.ravel(np.eye(2, 3) if matrix is None else matrix))


def _picture(photo: Photo) -> Bytes:
    return picture_of(photo.file.path, photo.file.frame)


def _among(digests: frozenset[str], photo: Photo) -> bool:
    return photo.digest in digests


def _contradict(so: _SoFar, store: Store, made: View, start: int) -> NDArray[np.float64]:
    """For each plant whether the heights of the last photos before a view and of its first ones contradict each
    other, see `views.unlike`."""
    new = len(so.views) + 1
    told = measured(store, so.shared.reference.digest, [*so.views, made])
    scales = [*so.scales(), made.scale]
    used = [(k, p) for k, p in enumerate(so.photos) if p.digest in told.found and not told.found[p.digest].fault]
    before = [p for k, p in used if k < start and told.view.get(p.digest, 0) != new][-LOOKED_AT:]
    after = [p for k, p in used if k >= start and told.view.get(p.digest, 0) == new][:LOOKED_AT]
    if not before or not after:
        return np.full(len(made.tray.plants), np.nan)
    was, now = ([_heights(told, scales, p) for p in part] for part in (before, after))
    return unlike(was, now, (after[-1].dated.corrected - before[0].dated.corrected).total_seconds() / 86400)


def _heights(told: Measured, scales: Sequence[ViewScale], photo: Photo) -> NDArray[np.float64]:
    return heights_mm(told.found[photo.digest], scales[told.view.get(photo.digest, 0)])


def _carried(frame: str, pots: int, lost: Sequence[str]) -> str:
    names = f"the {pots} pots keep their names from left to right" if pots > 1 else "the pot keeps its name"
    missing = f" Too little is seen there of {', '.join(lost)}: not measured since." if lost else ""
    return (
        f"Since {frame} the camera shows another view: a new stand begins there, with a scale of its own; {names}. "
        f"Growth and canopies are not compared across it.{missing} Check the names in the pictures."
    )


def _not_carried(frame: str, why: str) -> str:
    return (
        f"The photos of another view since {frame} could not be given the old names: {why}. They can be if all pots "
        "and the printed mark are in view, upright and sharp; else keep those photos in a folder of their own, with a "
        "tray.toml that names the pots."
    )
