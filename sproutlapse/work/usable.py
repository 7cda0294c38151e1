"""Which photos count, judged in camera order: the first ones that make the reference, and the reason of each left out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from sproutlapse.frames import audit
from sproutlapse.vision.findings import Findings
from sproutlapse.work.scan import Photo


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


def reasons(photos: Sequence[Photo], looks: Mapping[str, tuple[str, audit.Look | None]],
            found: Callable[[str], Findings | None], usual: audit.Usual) -> list[str]:
    """Why each photo is left out, in camera order; empty for those that count.

    Parameters
    ----------
    photos
        All files in camera order.
    looks
        By digest: why a file is damaged, and its numbers.
    found
        Findings by digest.
    usual
        The norm of the stand.
    """
    out = []
    hashes: dict[str, str] = {}
    previous: audit.Look | None = None
    covered: audit.Look | None = None
    for photo in photos:
        damaged, look = looks.get(photo.digest, ("it could not be read", None))
        reason = ""
        if photo.copy_of:
            reason = audit.duplicate_reason(photo.copy_of)
        elif damaged or look is None:
            reason = audit.damaged_reason(damaged)
        elif look.pixel_hash in hashes:
            reason = audit.duplicate_reason(hashes[look.pixel_hash])
        else:
            hashes[look.pixel_hash] = photo.dated.frame
            told = found(photo.digest)
            reason = told.fault if told is not None else audit.fault(look, usual)
            if not reason and previous is not None:
                reason = audit.sudden(look, previous, usual, before=covered)
            covered = look if reason.startswith("obstructed") else None
            previous = previous if reason else look
        out.append(reason)
    return out
