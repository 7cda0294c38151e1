"""The tray of a run: what the person wrote, completed from the pictures, and written to the results to be corrected."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from sproutlapse.errors import ResultsError, TrayError
from sproutlapse.tray import Tray
from sproutlapse.trayfile import check_against_picture, read_tray, write_tray
from sproutlapse.vision.colour import Bytes
from sproutlapse.vision.reference import brought_together, to_pictures
from sproutlapse.vision.scout import scout
from sproutlapse.work.files import not_written, put
from sproutlapse.work.store import Store

NAME = "tray.toml"
MOST_PLANTS = 255  # a label picture has 8 bits a pixel, and 0 is no plant


@dataclass(frozen=True)
class Given:
    """What the person wrote, and where; an empty tray and None if nothing was written."""

    tray: Tray
    path: Path | None


def given_tray(folder: Path, tray_path: Path | None) -> Given:
    """The tray.toml asked for, else the one in the photo folder, else an empty tray.

    Raises
    ------
    TrayError
        If it cannot be read or contradicts itself.
    """
    path = tray_path if tray_path is not None or not (folder / NAME).exists() else folder / NAME
    if path is None:
        return Given(Tray(), None)
    tray = read_tray(path)
    if len(tray.plants) > MOST_PLANTS:
        raise TrayError(
            f"{len(tray.plants)} plants are more than one picture can tell apart.",
            where=str(path),
            remedy=f"Write at most {MOST_PLANTS} [[plant]] entries.",
        )
    return Given(tray, path)


def complete_tray(
    given: Given, pictures: Sequence[Bytes], first: str, frames: Collection[str]
) -> tuple[Tray, list[str]]:
    """The tray with everything that was missing found in the pictures, and what was taken for granted.

    Parameters
    ----------
    given
        What the person wrote.
    pictures
        The first usable photos.
    first
        The frame of the first of them.
    frames
        All frames of the folder.
    """
    tray = given.tray
    if given.path is not None:
        check_against_picture(tray, (pictures[0].shape[1], pictures[0].shape[0]), path=given.path)
    side = tray.view.from_ == "side"
    complete = tray.view.from_ is not None and bool(tray.plants)
    if side and any(plant.soil_y_px is None for plant in tray.plants):
        complete = False
    notes: list[str] = []
    if not complete:
        found = scout(to_pictures(brought_together(pictures)), given=tray)
        tray, notes = found.tray, list(found.notes)
    if tray.view.pixels_of is None:
        tray = tray.model_copy(update={"view": tray.view.model_copy(update={"pixels_of": first})})
    elif tray.view.pixels_of not in frames:
        notes.append(
            f"tray.toml says that its pixels are those of {tray.view.pixels_of}, which is not among the photos; they "
            f"were taken for those of {first}."
        )
    return tray, notes


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


def put_tray(store: Store, tray: Tray, out: Path, given: Given) -> None:
    """Write the complete tray to the results. Where the person's own file stands there and says the same, it stays."""
    target, beside = out / NAME, out / (NAME + ".new")
    if target.is_file() and _same(target, given.path) and given.tray == tray:
        return
    try:
        write_tray(tray, beside)
        data = beside.read_bytes()
        # Both texts are known as ours before the new one is in place, so that a crash between leaves no doubt.
        ours = [hashlib.sha256(data).hexdigest(), *([_digest(target)] if target.is_file() else [])]
        beside.unlink()
    except OSError as error:
        raise not_written(target, error) from error
    store.set_about({"tray_texts": ours})
    put(target, data)


def _same(target: Path, path: Path | None) -> bool:
    return path is not None and path.exists() and target.samefile(path)


def _digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
