"""One photo from its file to a short list of what is right and what to mend."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sproutlapse.errors import PhotosError
from sproutlapse.first.bands import bands
from sproutlapse.first.board import behind_the_row, brightness, evenness
from sproutlapse.first.depth import in_the_row
from sproutlapse.first.focus import focus
from sproutlapse.first.level import level
from sproutlapse.first.mark import fineness, print_size, readable
from sproutlapse.first.room import headroom, needed_px
from sproutlapse.first.season import Plan, season
from sproutlapse.first.sight import Sight, sight
from sproutlapse.first.verdict import Line, mend, passed
from sproutlapse.frames.decode import Damaged, decode, read_bytes
from sproutlapse.tray import Tray
from sproutlapse.trayfile import read_tray
from sproutlapse.vision.colour import Bytes

# Below this brightness (share of full scale) nothing else can be judged. Own proposal, no source.
DARK = 0.15


@dataclass(frozen=True)
class FirstCheck:
    """The findings, and the lines that are printed; `ok` is false if something is to be mended."""

    findings: list[Line]
    lines: list[str]

    @property
    def ok(self) -> bool:
        """Whether the photo passes."""
        return passed(self.findings)


def check_first(photo: Path, *, tray: Path | None, plan: Plan, row_mm: float | None) -> FirstCheck:
    """Judge the first photo.

    Parameters
    ----------
    photo
        The file; a tray.toml beside it is used unless `tray` names another.
    tray
        What stands in view, or None.
    plan
        Interval, days and room on the card, as far as told.
    row_mm
        From the middle of the first pot to the middle of the last, measured, or None.

    Raises
    ------
    PhotosError
        If the photo cannot be read or decoded.
    TrayError
        If tray.toml is broken.
    """
    if photo.is_dir():
        raise PhotosError(
            "this is a folder.",
            where=str(photo),
            remedy="Name one photo of it with --first; without --first a whole folder is looked through.",
        )
    data = read_bytes(photo)
    try:
        picture = decode(data, photo.name)
    except Damaged as error:
        raise PhotosError(str(error), where=str(photo), remedy="Take another photo and check that one.") from error
    beside = photo.with_name("tray.toml")
    path = tray if tray is not None else beside if beside.is_file() else None
    findings = judge(picture, Tray() if path is None else read_tray(path), row_mm=row_mm)
    findings += season(plan, len(data))
    return FirstCheck(findings, [text for line in findings for text in line.text()] + [_verdict(findings)])


def judge(picture: Bytes, tray: Tray, *, row_mm: float | None = None) -> list[Line]:
    """Every finding on one decoded photo.

    Parameters
    ----------
    picture
        (H, W, 3) 8-bit sRGB, upright.
    tray
        What the person told; may be empty.
    row_mm
        See `check_first`.
    """
    seen = sight(picture, tray)
    light = brightness(seen)
    if float(seen.picture[::8, ::8].max(axis=-1).mean()) / 255 < DARK:
        return light[:1]
    findings = pots_in_view(seen) + light + evenness(seen) + behind_the_row(seen, needed_px(seen)) + bands(seen)
    sharpness = focus(seen)
    findings += sharpness + readable(seen, sharp=passed(sharpness)) + in_the_row(seen) + print_size(seen, row_mm)
    return findings + fineness(seen) + headroom(seen) + level(seen)


def pots_in_view(seen: Sight) -> list[Line]:
    """Whether any pot, cell or plant is in view."""
    if seen.grid is not None:
        rows, columns = len(seen.grid.ys) - 1, len(seen.grid.xs) - 1
        return [Line("View", "OK", f"from above, {rows} rows of {columns} cells")]
    if seen.pots:
        return [Line("View", "OK", f"from the side, {len(seen.pots)} pot{'s' if len(seen.pots) > 1 else ''}")]
    if seen.tray.plants:
        return [Line("View", "OK", f"{len(seen.tray.plants)} plants as tray.toml says")]
    fix = "Are they all in view, and apart from what is behind? `sproutlapse tray` helps to name their places."
    return [mend("View", "neither pots nor cells were made out", fix)]


def _verdict(findings: list[Line]) -> str:
    count = sum(line.grade == "MEND" for line in findings)
    if count == 0 and any(line.grade == "LOOK" for line in findings):
        return "Nothing to mend. Do what is marked LOOK first; then go on like this, and change nothing any more."
    if count == 0:
        return "The photo is good: go on like this, and change nothing any more."
    return f"{count} thing{'s' if count > 1 else ''} to mend; then take the photo again and check that one."
