"""Which photos count, judged in camera order: the first ones that make the reference, and why others are left out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from sproutlapse.frames import audit
from sproutlapse.vision.findings import Findings
from sproutlapse.work.scan import Photo

MOVED = "camera moved"  # how the reason of a photo begins that could not be aligned
STAYS = 3  # so many photos in a row that show another view: the camera stays there

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
    """

    most: int
    photos: list[Photo] = field(default_factory=list)
    looks: list[audit.Look] = field(default_factory=list)
    hashes: dict[str, str] = field(default_factory=dict)

    @property
    def full(self) -> bool:
        """Whether no more are wanted."""
        return len(self.photos) >= self.most

    def offer(self, photo: Photo, look: audit.Look) -> bool:
        """Take a photo if it is usable; says whether it was taken."""
        if look.pixel_hash in self.hashes:
            return False
        self.hashes[look.pixel_hash] = photo.dated.frame
        norm = audit.usual(self.looks) if self.looks else None
        if audit.fault(look, norm):
            return False
        if norm is not None and audit.sudden(look, self.looks[-1], norm):
            return False
        self.photos.append(photo)
        self.looks.append(look)
        return True

    @property
    def usual(self) -> audit.Usual:
        """What photos of this stand look like."""
        return audit.usual(self.looks)


def reasons(
    photos: Sequence[Photo],
    looks: Mapping[str, tuple[str, audit.Look | None]],
    found: Callable[[str], Findings | None],
    usual: audit.Usual | None,
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
    """
    judged = _InOrder(usual)
    return [judged.reason(photo, *looks.get(photo.digest, ("", None)), found(photo.digest)) for photo in photos]


@dataclass
class _InOrder:
    """What the photos so far tell about the next one."""

    usual: audit.Usual | None
    hashes: dict[str, str] = field(default_factory=dict)
    previous: audit.Look | None = None
    covered: audit.Look | None = None
    elsewhere: str = ""  # the first photo of a run of them that show another view

    def reason(self, photo: Photo, damaged: str, look: audit.Look | None, told: Findings | None) -> str:
        if photo.copy_of:
            return audit.duplicate_reason(photo.copy_of)
        if damaged or look is None:
            return audit.damaged_reason(damaged or "it could not be read")
        same = self.hashes.setdefault(look.pixel_hash, photo.dated.frame)
        if same != photo.dated.frame:
            return audit.duplicate_reason(same)
        reason = audit.fault(look, self.usual) if told is None else told.fault
        if not reason and self.previous is not None and self.usual is not None:
            reason = audit.sudden(look, self.previous, self.usual, before=self.covered)
        self.covered = look if reason.startswith("obstructed") else None
        if not reason:
            self.previous, self.elsewhere = look, ""
        if reason.startswith(MOVED):
            if self.elsewhere:
                return f"{MOVED}: shows another view since {self.elsewhere}"
            self.elsewhere = photo.dated.frame
        return reason


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
