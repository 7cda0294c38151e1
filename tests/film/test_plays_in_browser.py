"""The film played in a real browser: it runs, no error comes, and a picture of it shows the plant."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from film_photos import Photo, take
from PIL import Image

from sproutlapse.film.make import make_film
from sproutlapse.film.options import FilmOptions

BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome", "chrome"))), None)
QUIETLY = ("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
           "--autoplay-policy=no-user-gesture-required", "--virtual-time-budget=9000", "--hide-scrollbars")  # fmt: skip

PAGE = """<!doctype html><meta charset="utf-8"><title>film</title><style>body{margin:0}video{width:360px}</style>
<video src="film.mp4" muted autoplay playsinline></video><pre id="said">nothing</pre>
<script>
const film = document.querySelector("video"), seen = {error: null, times: []};
film.addEventListener("error", () => { seen.error = film.error && film.error.message || "error"; });
film.addEventListener("timeupdate", () => seen.times.push(film.currentTime));
setInterval(() => {
  seen.width = film.videoWidth; seen.height = film.videoHeight; seen.length = film.duration; seen.ended = film.ended;
  document.querySelector("#said").textContent = JSON.stringify(seen);
}, 50);
</script>"""


@pytest.mark.skipif(BROWSER is None, reason="no browser here")
def test_the_film_plays_to_its_end_in_a_browser(tmp_path: Path):
    made = make_film(take(tmp_path, [Photo(plant_px=20 * n) for n in range(1, 5)]), tmp_path / "film.mp4",
                     options=FilmOptions(seconds=1.0))  # fmt: skip
    (tmp_path / "play.html").write_text(PAGE, encoding="utf-8")
    command = [str(BROWSER), *QUIETLY, f"--user-data-dir={tmp_path / 'profile'}"]
    page = (tmp_path / "play.html").as_uri()
    told = subprocess.run([*command, "--dump-dom", page], check=True, capture_output=True, timeout=120).stdout.decode(
        "utf-8"
    )
    found = re.search(r'<pre id="said">(.*?)</pre>', told, re.S)
    assert found is not None
    seen = json.loads(found[1])
    assert seen["error"] is None
    assert (seen["width"], seen["height"]) == (made.width, made.height)
    assert seen["length"] == pytest.approx(made.seconds, abs=0.05)
    assert len(set(seen["times"])) > 1
    assert max(seen["times"]) > 0.5
    shot = tmp_path / "shot.png"
    subprocess.run(
        [*command, f"--screenshot={shot}", "--window-size=360,400", page], check=True, capture_output=True, timeout=120
    )
    with Image.open(shot) as image:
        picture = np.asarray(image.convert("RGB")).astype(int)
    green = (picture[:, :, 1] - picture[:, :, 0] > 25) & (picture[:, :, 0] < 100)
    assert green.sum() > 200
