"""A film that the grower asked for in a way of their own comes again in that way with the next run."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import av
from shelf_photos import run

from sproutlapse.film.kept import SAID, asked_in_words, kept_options, kept_values
from sproutlapse.film.options import FilmOptions, Note
from sproutlapse.job import again, film_job
from sproutlapse.job_film import KEPT, film_made
from sproutlapse.progress import Silent
from sproutlapse.work.store import Store

SMALL = FilmOptions(seconds=0.25, height_px=240)
OWN = replace(SMALL, title="My shelf", heights=True, curve=True)


def pictures(film: Path) -> int:
    with av.open(str(film)) as container:
        return sum(1 for _picture in container.decode(video=0))


def test_a_run_makes_the_film_again_as_it_was_last_asked_for(shelf_run: Path):
    out = shelf_run.with_name("photos-results")
    tables = {path: path.read_bytes() for path in [*out.glob("*.csv"), out / "run.json"]}
    film_job(out, options=OWN, progress=Silent())
    (out / "film.mp4").unlink()
    made = run(shelf_run, film=True)
    assert pictures(out / "film.mp4") == 6 + 48  # a quarter of a second, and the title's two
    plain = f"the plain film: sproutlapse film {out}"
    assert f"Made with the title, heights, curve, size and length that you last asked for; {plain}" in made.lines
    assert {path: path.read_bytes() for path in tables} == tables
    made = film_job(out, options=SMALL, progress=Silent())
    assert "It took the place of the film with the title, heights, curve, size and length." in made.lines
    with Store(out) as store:
        assert kept_options(store.about(KEPT)) == SMALL


def test_a_part_that_is_no_longer_there_does_not_end_the_run(shelf_run: Path):
    out = shelf_run.with_name("photos-results")
    with Store(out) as store:
        whole = again(store, out)
        store.set_about({KEPT: {"since": "2030-01-01"}})
        path, lines = film_made(whole, store, options=None, beside=(), progress=Silent())
    assert path.is_file()
    assert lines[-1].startswith("Made plain: with the part that you last asked for it cannot be made now (")


def test_every_option_of_a_film_is_kept_and_can_be_said():
    note = Note(datetime(2026, 3, 5, 14), "potted on")
    other = FilmOptions(
        fps=12.5, seconds=3.0, height_px=480, caption=False, gaps="blend", night="hold", smooth=True, calm=True,
        since="2", until="2026-03-09", steady=False, even=False, heights=True, outlines=True, curve=True,
        moments=True, notes=(note,), title="My shelf", end_card=True, shape="9:16", then_and_now=True,
    )  # fmt: skip
    assert kept_options(kept_values(other)) == other
    assert kept_values(FilmOptions()) == {}
    assert kept_options(None) == kept_options({"of a later version": 1}) == FilmOptions()
    assert asked_in_words(FilmOptions()) == ""
    # What names another film, and what diary and sowing give anew, is not kept.
    others = {"plants", "kind", "in_step", "day_zero", "day_words"}
    assert set(FilmOptions.__dataclass_fields__) == set(SAID) | others
