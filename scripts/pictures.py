"""Make the pictures of README.md again, out of a real run on the example: fixtures/readme/.

Run it with the Python of `.venv`, after `python3 scripts/test.py` or `scripts/demo.py` made that. Needs a Chromium on
the PATH for the two pictures of the page. Usage: python scripts/pictures.py
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import av
from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
PHOTOS = ROOT / "fixtures" / "shelf" / "photos"
OUT = ROOT / "fixtures" / "readme"
MOST_BYTES = 120_000
PHONE_PX = (390, 1240)
# The rulers are shown as on sowing day, when nobody has written a tray.toml yet.
BARE = 7


def main() -> None:
    """Run the example in a folder that is thrown away, and cut the pictures out of what it wrote."""
    OUT.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch:
        here = Path(scratch)
        results = here / "results"
        _sproutlapse("run", PHOTOS, "--out", results)
        bare = here / "my-shelf"
        bare.mkdir()
        for photo in sorted(PHOTOS.glob("*.JPG"))[:BARE]:
            shutil.copy2(photo, bare)
        _sproutlapse("tray", bare, "--out", here / "seen")
        _keep(Image.open(here / "seen" / "tray.png"), "rulers.jpg", width=1000)
        _keep(Image.open(results / "charts" / "growth-1.png"), "growth.png", width=640)
        _keep(_stills(results / "film.mp4"), "film.jpg", width=1000)
        _keep(_latest(results / "report.html", here), "latest.jpg", width=900)
        _keep(_phone(results / "report.html", here), "phone.png", width=PHONE_PX[0])


def _sproutlapse(*arguments: object) -> None:
    subprocess.run([sys.executable, "-m", "sproutlapse", *map(str, arguments)], check=True, cwd=ROOT)


def _keep(picture: Image.Image, name: str, *, width: int) -> None:
    path = OUT / name
    picture = picture.convert("RGB")
    if picture.width > width:
        height = round(picture.height * width / picture.width)
        picture = picture.resize((width, height), Image.Resampling.LANCZOS)
    if path.suffix == ".png":
        picture.quantize(64, dither=Image.Dither.NONE).save(path, optimize=True)
    else:
        picture.save(path, quality=82, optimize=True, progressive=True)
    size = path.stat().st_size
    print(f"{path.relative_to(ROOT)}: {picture.width} x {picture.height}, {size // 1000} kB")
    if size > MOST_BYTES:
        raise SystemExit(f"{name} is larger than {MOST_BYTES // 1000} kB")


def _stills(film: Path) -> Image.Image:
    """An early and the last picture of the film, side by side."""
    with av.open(str(film)) as container:
        count = container.streams.video[0].frames
        wanted = (count // 3, count - 1)
        early, late = (f.to_image() for n, f in enumerate(container.decode(video=0)) if n in wanted)
    both = Image.new("RGB", (early.width + late.width + 20, early.height), "white")
    both.paste(early, (0, 0))
    both.paste(late, (early.width + 20, 0))
    return both


def _latest(page: Path, here: Path) -> Image.Image:
    """The latest photo as the report shows it, with its labels."""
    html = page.read_text(encoding="utf-8")
    style = re.search(r"<style>.*?</style>", html, re.DOTALL)
    photo = re.search(r'<section id="latest">.*?(<div class="photo.*?)<figcaption>', html, re.DOTALL)
    assert style is not None and photo is not None
    alone = here / "latest.html"
    alone.write_text(
        f'<!doctype html><meta charset="utf-8">{style[0]}<body style="margin:0;padding:0">{photo[1]}', encoding="utf-8"
    )
    size = re.search(r'width="(\d+)" height="(\d+)"', photo[1])
    assert size is not None
    return _shot(alone, here, (900, round(900 * int(size[2]) / int(size[1]))))


def _phone(page: Path, here: Path) -> Image.Image:
    """The top of the report on a phone; a browser's own window cannot be made so narrow, a frame in it can."""
    width, height = PHONE_PX
    frame = here / "phone.html"
    frame.write_text(
        f'<!doctype html><body style="margin:0"><iframe src="{page.as_uri()}" scrolling="no" '
        f'style="width:{width}px;height:{height}px;border:0"></iframe>',
        encoding="utf-8",
    )
    return _shot(frame, here, (600, height)).crop((0, 0, width, height))


def _shot(page: Path, here: Path, size: tuple[int, int]) -> Image.Image:
    names = ("chromium", "chromium-browser", "google-chrome", "chrome")
    browser = next(filter(None, map(shutil.which, names)), None)
    if browser is None:
        raise SystemExit("The pictures of the page need a Chromium on the PATH.")
    flags = "--headless --no-sandbox --disable-gpu --no-first-run --disable-background-networking --hide-scrollbars"
    target = here / f"{page.stem}.png"
    own = (f"--user-data-dir={here / 'profile'}", f"--window-size={size[0]},{size[1]}", f"--screenshot={target}")
    subprocess.run([browser, *flags.split(), *own, page.as_uri()], check=True, capture_output=True, timeout=120)
    with Image.open(target) as picture:
        return picture.convert("RGB")


if __name__ == "__main__":
    main()
