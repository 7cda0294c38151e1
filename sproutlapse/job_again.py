"""Results that lie there already: whether this version may use them, and what is measured again of them, and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sproutlapse import __version__
from sproutlapse.errors import ResultsError
from sproutlapse.outputs_gone import what_changed
from sproutlapse.tray import Tray
from sproutlapse.vision.reference import FRAMES, measured_part
from sproutlapse.work.scan import Photo
from sproutlapse.work.store import Store

WRITTEN = "written_by"  # the latest version that ever wrote there, also one that was broken off
MOST_NAMED = 3


@dataclass(frozen=True)
class Before:
    """What the last run that came to its end left.

    Attributes
    ----------
    reference
        Of the first view; empty if no run came to its end.
    measuring, version
        The way of measuring, and the version that had it.
    tray
        As it was measured with; None where this version does not know all that stands in it.
    first
        Digests of the photos that all were compared with.
    photos
        Digests of the photos that were measured.
    """

    reference: str
    measuring: int
    version: str
    tray: Tray | None
    first: tuple[str, ...]
    photos: Set[str]

    @staticmethod
    def of(store: Store) -> Before:
        """From the store of a run that begins."""
        reference = str(store.about("reference") or "")
        return Before(
            reference,
            int(store.about("measuring") or 0),
            str(store.about("version") or ""),
            _tray(store.about("tray")),
            tuple(store.about("usual_from") or ()),
            store.digests(reference),
        )


def _tray(values: Mapping[str, Any] | None) -> Tray | None:
    try:
        return None if values is None else Tray.model_validate(values)
    except ValidationError:
        return None


def may_go_on(store: Store, measuring: int) -> None:
    """Stop a run before it writes into results that a later version wrote to: it would undo what that one knew.

    Raises
    ------
    ResultsError
        If so.
    """
    last = _last(store)
    if last[1] > measuring or _numbers(last[0]) > _numbers(__version__):
        raise _of_later(store, last[0], "Update sproutlapse, or name another folder with --out.")


def forget_other_looks(store: Store, measuring: int) -> None:
    """Forget what was seen of photos by another way of measuring: the numbers of its looks are others, and what it
    could not decode this one may.

    That this way looks now is kept at once, so that a run that is broken off loses none of its own.
    """
    if _last(store)[1] != measuring:
        store.drop_looks({WRITTEN: [__version__, measuring]})


def goes_on(store: Store, measuring: int) -> None:
    """Keep that this version writes there now."""
    store.set_about({WRITTEN: [__version__, measuring]})


def _last(store: Store) -> tuple[str, int]:
    """Version and way of measuring of the run that wrote there last, also of one that was broken off."""
    version, measuring = store.about(WRITTEN) or (store.about("version"), store.about("measuring"))
    return str(version or ""), int(measuring or 0)


def must_be_read(store: Store, results: Path, measuring: int) -> None:
    """Stop before findings of another version are taken for ours.

    Raises
    ------
    ResultsError
        If the last run here was one of a version that measures otherwise, or of a later one.
    """
    version, then = store.about("version"), store.about("measuring")
    if version is None or (then == measuring and _numbers(version) <= _numbers(__version__)):
        return
    if (then is not None and then > measuring) or _numbers(version) > _numbers(__version__):
        raise _of_later(store, version, "Update sproutlapse.")
    raise ResultsError(
        f"these photos were measured by an earlier version ({version}) and otherwise than this one ({__version__}) "
        "does, so that their numbers are not read.",
        where=str(results),
        remedy=f"Run again, which measures them anew: sproutlapse run {store.about('folder') or 'FOLDER'} --out "
        f"{results}. Where the photos are gone, use the version that wrote these results.",
    )


def _of_later(store: Store, version: str, remedy: str) -> ResultsError:
    return ResultsError(
        f"these results were written by a later version ({version}; this one is {__version__}).",
        where=str(store.path),
        remedy=remedy,
    )


def _numbers(version: str) -> tuple[int, ...]:
    """A version's leading numbers, to be compared: 0.10.0 comes after 0.9.1."""
    numbers = []
    for part in version.split("."):
        if not part.isdecimal():
            break
        numbers.append(int(part))
    return tuple(numbers)


def again_in_words(
    before: Before,
    store: Store,
    *,
    reference: str,
    tray: Tray,
    first: Sequence[Photo],
    photos: Sequence[Photo],
    measuring: int,
) -> list[str]:
    """One line that tells how many photos have to be measured again and why, or that a changed tray.toml needs none.

    Parameters
    ----------
    before
        What the last run left.
    store
        What is measured already, also by runs that were broken off since.
    reference, tray
        What this run compares photos with, and its tray.
    first
        The photos that the reference is made from.
    photos
        All photos of the folder.
    measuring
        This version's way of measuring.
    """
    there = before.photos & {photo.digest for photo in photos}
    if there and before.reference == reference:
        if before.tray is None or before.tray == tray:
            return []
        why = what_changed(before.tray.model_dump(mode="json", by_alias=True), tray)
        return [f"{why}: no photo has to be measured again for that."]
    again = len(there - store.digests(reference))
    if not again:
        return []
    told = "1 photo is" if again == 1 else f"{again} photos are"
    return [f"{told} measured again, since {_why(before, tray, first, measuring)}."]


def _why(before: Before, tray: Tray, first: Sequence[Photo], measuring: int) -> str:
    if before.measuring != measuring:
        version = f" ({before.version})" if before.version != __version__ else ""
        return f"this version of sproutlapse measures otherwise than the one before{version}"
    now = tuple(photo.digest for photo in first)
    if before.first != now:
        return _others_first(before.first, first)
    if before.tray is None:
        return "keys of tray.toml have another meaning in this version"
    was, is_now = measured_part(before.tray), measured_part(tray)
    if was != is_now:
        return what_changed(was.model_dump(mode="json", by_alias=True), is_now)
    return "what they are compared with is made otherwise now"


def _others_first(before: Sequence[str], first: Sequence[Photo]) -> str:
    now = [photo.digest for photo in first]
    if len(before) < FRAMES and now[: len(before)] == list(before):
        return f"all photos are compared with the first {FRAMES}, which were not all there yet"
    new = [photo.dated.frame for photo in first if photo.digest not in before]
    if not new:
        return f"the first {FRAMES}, with which all are compared, are others now"
    more = f" and {len(new) - MOST_NAMED} more" if len(new) > MOST_NAMED else ""
    named = ", ".join(new[:MOST_NAMED])
    return f"all are compared with the first {FRAMES}, among which there are others now ({named}{more})"
