"""The example that comes with sproutlapse: sixty photos of a shelf with five pots, and their tray.toml.

There is one copy of it: in `fixtures/shelf` of the repository, which a built package carries as `sproutlapse/example`.
"""

from __future__ import annotations

import shutil
from importlib.resources import files
from pathlib import Path

from sproutlapse.errors import PhotosError

PHOTOS = "photos"


def fixture_folder() -> Path:
    """The folder with the example's photos and tray.toml. It is for reading only.

    Raises
    ------
    PhotosError
        The example did not come with this installation.
    """
    package = Path(str(files("sproutlapse")))
    in_package, in_clone = package / "example", package.parent / "fixtures" / "shelf"
    for place in (in_package, in_clone):
        if (place / PHOTOS / "tray.toml").is_file():
            return place / PHOTOS
    raise PhotosError(
        "the example's photos are not here", where=str(in_package), remedy="Install sproutlapse again, from its wheel."
    )


def write_demo(out: Path) -> Path:
    """Copy the example's photos and tray.toml, with their file times, into a folder of the user's choice.

    Parameters
    ----------
    out
        The folder to make, or to use if it is there. A photo of an earlier example is left as it is.

    Returns
    -------
    Path
        `out/photos`, ready for `sproutlapse run`.

    Raises
    ------
    PhotosError
        `out` or `out/photos` is a file, or `out/photos` holds something else than the example.
    """
    source, target = fixture_folder(), out / PHOTOS
    for place in (out, target):
        if place.exists() and not place.is_dir():
            raise PhotosError("is a file, not a folder", where=str(place), remedy="Name another place with --out.")
    ours = {path.name for path in source.iterdir() if path.is_file()}
    there = {path.name for path in target.iterdir()} if target.is_dir() else set()
    # Desktops leave files of their own in every folder that they have shown.
    strangers = sorted(name for name in there - ours if name[0] != "." and name not in ("Thumbs.db", "desktop.ini"))
    if strangers:
        raise PhotosError(
            f"holds something else than the example: {strangers[0]}",
            where=str(target),
            remedy="Name an empty or a new folder with --out.",
        )
    target.mkdir(parents=True, exist_ok=True)
    for name in sorted(ours):
        if not (target / name).exists():
            # Copied beside and renamed, so that a copy that was broken off is not taken for a photo next time.
            part = out / f".{name}.part"
            shutil.copy2(source / name, part)
            part.replace(target / name)
    return target
