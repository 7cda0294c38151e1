"""The steps of a run in their order: `run` takes them once, `watch` again whenever photos came.

What is costly and stays the same while photos come is kept in memory between two rounds: what photos are compared with,
the pictures that it is made from while it is not complete, and the further views of a camera that was set up anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sproutlapse import __version__, spent
from sproutlapse.frames import audit, decode
from sproutlapse.frames.find import PhotoFile
from sproutlapse.frames.reel_times import FilmTimes
from sproutlapse.job_again import Before, again_in_words, forget_other_looks, goes_on, may_go_on
from sproutlapse.job_cover import STAYS_OFF, Beginning, tray_uncovered, uncovered
from sproutlapse.job_looked import with_looked
from sproutlapse.job_reel import keep_times, notes_of
from sproutlapse.job_tray import Given, complete_tray, corrected_before, must_not_lose_edits, put_tray, tray_beside
from sproutlapse.job_view import Ways, further_views
from sproutlapse.progress import Progress
from sproutlapse.vision.colour import Bytes
from sproutlapse.vision.reduced import tray_reduced
from sproutlapse.vision.reference import FRAMES, make_reference
from sproutlapse.work.crew import Crew
from sproutlapse.work.engine import Shared, Task, look_at, picture_of, step_of
from sproutlapse.work.leftovers import clear_leftovers
from sproutlapse.work.origin import keep_origin, origin_in_words
from sproutlapse.work.place import must_be_of, ways_to
from sproutlapse.work.scan import Photo, Scan, scan
from sproutlapse.work.store import Scanned, Store
from sproutlapse.work.usable import FirstUsable, Judged, Looks, none_usable
from sproutlapse.work.views import kept_views, measured, norms, usual_looks

if TYPE_CHECKING:
    from sproutlapse.results import Results

# ruff: noqa: PLC0415 - tables are imported when their turn comes, so that measuring starts at once

MEASURING = 17  # raised when photos would be measured otherwise than before


@dataclass(frozen=True)
class Begun:
    """What the photos of a folder are compared with.

    Attributes
    ----------
    shared
        For the workers.
    first
        The photos that are usual for the run.
    notes
        What was taken for granted of the tray.
    complete
        Whether photos that come later change nothing in it.
    """

    shared: Shared
    first: FirstUsable
    notes: tuple[str, ...]
    complete: bool


@dataclass
class Remembered:
    """What need not be made again in the next round.

    Attributes
    ----------
    begun
        With all that it was made from.
    pictures
        Of the first photos by digest, while not all of them are there.
    scanned
        Files by frame that were read and are not in the store yet.
    judged
        Why photos are left out.
    """

    begun: tuple[list[Any], Begun] | None = None
    pictures: dict[str, Bytes] = field(default_factory=dict)
    scanned: dict[str, Scanned] = field(default_factory=dict)
    judged: Judged = field(default_factory=Judged)


@dataclass(frozen=True)
class Round:
    """One round: the folder as it stands, the tray that the person wrote, what photos are compared with, and what to
    say of it."""

    scanned: Scan
    given: Given
    begun: Begun
    said: tuple[str, ...] = ()


@dataclass(frozen=True)
class Steps:
    """The steps of one tray.

    Attributes
    ----------
    store
        Open.
    folder, out, tray_path
        Photos, results, and the tray.toml that was asked for.
    film_times
        When the frames were taken, where `folder` is a film; see `times_of`.
    """

    store: Store
    folder: Path
    out: Path
    tray_path: Path | None
    crew: Crew
    progress: Progress
    remembered: Remembered = field(default_factory=Remembered)
    film_times: FilmTimes | None = None

    def take_up(self) -> None:
        """Before the first round: results of a later version are left alone, looks of an earlier way of measuring are
        forgotten, what a broken run left beside is cleared.

        Raises
        ------
        ResultsError
            If a later version wrote there.
        """
        may_go_on(self.store, MEASURING)
        forget_other_looks(self.store, MEASURING)
        clear_leftovers(self.out)

    def begin(self, files: Sequence[PhotoFile], given: Given) -> Round:
        """Date the photos and make what they are compared with, as far as it is not remembered.

        Parameters
        ----------
        files
            The photos of the folder.
        given
            What the person wrote, see `given_tray`.

        Raises
        ------
        SproutlapseError
            If nothing can be measured, with the reason.
        """
        last = Before.of(self.store)
        given, said = corrected_before(self.store, self.out, given, asked=self.tray_path is not None)
        must_not_lose_edits(self.store, self.out, given)
        scanned = self._scanned(files)
        self.crew.get_ready(self._not_seen(scanned.photos))
        goes_on(self.store, MEASURING)
        begun = self._begun(given, scanned)
        again = again_in_words(
            last, self.store, reference=begun.shared.reference.digest, tray=begun.shared.tray, first=begun.first.photos,
            photos=scanned.photos, measuring=MEASURING,
        )  # fmt: skip
        for line in again:
            self.progress.say(line)
        return Round(scanned, given, begun, (*said, *again))

    def measure(self, photos: Sequence[Photo], shared: Shared) -> None:
        """Measure what the store does not hold yet; each finding is safe as soon as it is there."""
        reference = shared.reference.digest
        known = done(self.store, reference)
        tasks = [Task(p.file.frame, p.file.path, p.digest) for p in photos if not p.copy_of and p.digest not in known]
        if not tasks:
            return
        shared = replace(shared, timed=spent.wanted())
        with spent.part("measuring photos"), self.progress.stage("measuring photos", len(tasks)) as stage:
            for told in self.crew.measure(tasks, shared):
                with spent.part("storing"):
                    keep_origin(self.store, reference, self.crew.unlike)
                    self.store.keep(told.task.digest, told.damaged, told.look, reference, told.found)
                spent.told(told.spent)
                stage.advance()

    def finish(self, now: Round) -> tuple[Results, list[str]]:
        """Further views, tables in memory, and the tray.toml of the results; with what to say of it.

        All photos of the round are measured in the first view.
        """
        with spent.part("start"):
            from sproutlapse.outputs_gone import events_told, gone_in_words, what_changed

        store, shared, scanned = self.store, now.begun.shared, now.scanned
        ways = Ways(self.measure, lambda: looks_of(store), seed, lambda reference: done(store, reference))
        with spent.part("further views"):
            later = further_views(scanned.photos, store, shared, now.begun.first.photos, ways)
        notes = [
            *now.begun.notes,
            *shared.reference.notes,
            *later.notes,
            *notes_of(self.folder, self.film_times),
            *scanned.messages,
        ]
        notes += origin_in_words(store, shared.reference.digest, *later.references)
        before = store.about("tray"), events_told(self.out / "events.csv")
        ways_there = ways_to(self.folder, self.out)
        # All at once, and only then is forgotten what held before: whoever reads them finds one run or the other whole.
        told = {"views": [view.to_values() for view in later.views], **_about(shared, now.begun.first, notes)}
        store.set_about({"folder": str(self.folder), "ways": ways_there, **told})
        store.drop_other_references(shared.reference.digest, *later.references)
        whole = assembled(store, self.folder, self.out, scanned, self.remembered.judged)
        put_tray(store, shared.tray, self.out, now.given, told=whole.tray, beside=tray_beside(self.folder))
        retimed = keep_times(store, self.folder, self.film_times)
        why = "the film's times were told otherwise" if retimed else what_changed(before[0], shared.tray)
        return with_looked(store, whole), [*now.said, *retimed, *gone_in_words(before[1], whole.events, why)]

    def _scanned(self, files: Sequence[PhotoFile]) -> Scan:
        with spent.part("dates and hashes"), self.progress.stage("reading dates", len(files)) as stage:
            known = self.store.scanned()
            for file in files:
                read = self.remembered.scanned.get(file.frame)
                if read is not None and (read.size, read.mtime_ns) == (file.size_bytes, file.mtime_ns):
                    known[file.frame] = read
            scanned = scan(files, known, stage.advance)
        must_be_of(self.store, self.folder, self.out, scanned.scanned)
        self.store.set_scanned(scanned.scanned)
        return scanned

    def _not_seen(self, photos: Sequence[Photo]) -> int:
        """How many photos nobody looked at so far."""
        looks = self.store.looks()
        return sum(not photo.copy_of and photo.digest not in looks for photo in photos)

    def _begun(self, given: Given, scanned: Scan) -> Begun:
        """What photos are compared with; taken from memory where nothing that it depends on changed."""
        photos = scanned.photos
        frames = {photo.file.frame: photo for photo in photos}
        named = frames.get(given.tray.view.pixels_of or "")
        kept = self.remembered.begun
        if kept is not None:
            of, begun = kept
            if of == [given, named and named.digest, *_told_apart(photos[: len(of) - 2])]:
                return begun
        self.remembered.begun = None  # two at once would need twice the memory
        begun, last = self._made(given, scanned)
        if begun.complete:
            of = [given, named and named.digest, *_told_apart(photos[: last + 1])]
            self.remembered.begun, self.remembered.pictures = (of, begun), {}
        return begun

    def _made(self, given: Given, scanned: Scan) -> tuple[Begun, int]:
        """What photos are compared with, and the number of the last photo that has a part in it."""
        photos = scanned.photos
        with spent.part("first photos"):
            first, pictures = self._first_usable(photos)
        if not first.photos:
            raise none_usable(len(photos), first.nights, self.folder)
        frames = {photo.file.frame: photo.file.path for photo in photos}
        size = first.usual.width, first.usual.height
        with spent.part("tray"):
            tray, notes = complete_tray(given, pictures, first.photos[0].dated.frame, frames, size)
            was = Beginning(first, pictures, tuple(first.photos))
            begun = uncovered(photos, self.store, tray, was, lambda: looks_of(self.store))
            tray, notes = tray_uncovered(given, (tray, notes), was, begun, frames)
            small = tray_reduced(tray, step_of(begun.first.usual))
        with spent.part("reference"):
            reference = make_reference(begun.pictures, small, seed(begun.compared), _film_mm(begun.first))
        last = max(k for k, photo in enumerate(photos) if photo in begun.compared)
        if begun is not was:
            last += STAYS_OFF  # so many after it were looked at, for the cover
        complete = first.full and begun.complete
        return Begun(Shared(reference, begun.first.usual, tray), begun.first, tuple(notes), complete), last

    def _first_usable(self, photos: Sequence[Photo]) -> tuple[FirstUsable, list[Bytes]]:
        """The photos that make the reference, and their pictures."""
        looks = looks_of(self.store)
        first = FirstUsable(FRAMES)
        pictures: dict[str, Bytes] = {}
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
                self.store.keep(photo.digest, told.damaged, told.look, "", None)
                if picture is None:
                    continue
                look = audit.Look(**told.look)
            if first.offer(photo, look):
                if picture is not None:
                    pictures[photo.digest] = picture
                first.pictures(pictures, self._picture)
        self.remembered.pictures = {} if first.full else dict(pictures)
        return first, first.pictures(pictures, self._picture)

    def _picture(self, photo: Photo) -> Bytes:
        known = self.remembered.pictures.get(photo.digest)
        return picture_of(photo.file.path, photo.file.frame) if known is None else known


def _told_apart(photos: Sequence[Photo]) -> list[Any]:
    """All of some photos that what they make depends on."""
    return [(photo.file.frame, photo.digest, photo.dated) for photo in photos]


def _film_mm(first: FirstUsable) -> float | None:
    """The focal length that the camera wrote into the first photo, as on 36 x 24 mm film."""
    return decode.film_mm_of(decode.read_bytes(first.photos[0].file.path))


def seed(compared: Sequence[Photo]) -> str:
    """What else the findings depend on, besides the tray: the way of measuring and the photos compared with."""
    return "\n".join([str(MEASURING), *(photo.digest for photo in compared)])


def done(store: Store, reference: str) -> set[str]:
    """Digests of which nothing more is to be learned: measured under the reference, or not to be decoded."""
    return set(store.measured(reference)) | {digest for digest, (damaged, _look) in store.looks().items() if damaged}


def looks_of(store: Store) -> Looks:
    """Numbers of the photos that were looked at."""
    return {digest: (why, audit.Look(**look) if look else None) for digest, (why, look) in store.looks().items()}


def _about(shared: Shared, first: FirstUsable, notes: list[str]) -> Mapping[str, Any]:
    """What the tables are made from besides the findings."""
    reference = shared.reference
    return {
        "version": __version__,
        "measuring": MEASURING,
        "reference": reference.digest,
        "tray": shared.tray.model_dump(mode="json", by_alias=True),
        "mm_per_px": list(shared.mm_per_px),
        "scale_sd_share": reference.scale.sd_share,
        "size": [first.usual.width, first.usual.height],
        "notes": notes,
        "usual_from": [photo.digest for photo in first.photos],
    }


def assembled(store: Store, folder: Path, out: Path, scanned: Scan, judged: Judged | None = None) -> Results:
    """Everything above the measuring, from the store; `judged` may hold what was told of the photos before."""
    with spent.part("judging"):
        return _assembled(store, folder, out, scanned, judged)


def _assembled(store: Store, folder: Path, out: Path, scanned: Scan, judged: Judged | None) -> Results:
    from sproutlapse.outputs import assemble

    views = kept_views(store)
    told = measured(store, str(store.about("reference")), views)
    looks = looks_of(store)
    norm, later = audit.usual(usual_looks(store.about("usual_from"), looks)), norms(views, looks)
    other = {digest: later[number - 1] for digest, number in told.view.items()}
    why = (judged or Judged()).reasons(scanned.photos, looks, told.found.get, norm, other.get)
    sizes = {digest: look for digest, (_why, look) in looks.items()}
    return assemble(store, folder, out, photos=scanned.photos, why=why, looks=sizes, told=told, views=views)
