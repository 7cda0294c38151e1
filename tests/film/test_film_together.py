"""A film again from the results: nobody else writes there meanwhile, and trays side by side keep their own films."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from sproutlapse.errors import ResultsError
from sproutlapse.film.beside import film_name
from sproutlapse.film.options import FilmOptions
from sproutlapse.job import film_job, open_results
from sproutlapse.job_film import from_sowing
from sproutlapse.progress import Silent, Stage
from sproutlapse.tray import Tray
from sproutlapse.work.store import Store

SMALL = FilmOptions(seconds=1, height_px=240, then_and_now=True)


class _Another(Silent):
    """Another run that begins while the film is made."""

    def __init__(self, out: Path) -> None:
        self.out = out
        self.refused = ""

    @contextmanager
    def stage(self, words: str, total: int) -> Iterator[Stage]:
        with pytest.raises(ResultsError) as refused:
            Store(self.out)
        self.refused = str(refused.value)
        with super().stage(words, total) as stage:
            yield stage


def test_results_are_locked_while_their_film_is_made(shelf_run: Path):
    out = shelf_run.with_name("photos-results")
    another = _Another(out)
    film_job(out, options=SMALL, progress=another)
    assert "in use by another run" in another.refused
    with Store(out):
        pass  # and free again


def test_a_film_of_several_leaves_the_trays_own_film(shelf_run: Path):
    out = shelf_run.with_name("photos-results")
    own = ("film.mp4", "film.jpg", "film.vtt", "then-and-now.jpg")
    for name in own:
        (out / name).write_bytes(b"its own")
    made = film_job(out, options=SMALL, progress=Silent(), beside=[out])
    assert made.film == out / "film-together.mp4"
    assert any(
        line.startswith(f"Film of all together, each one's own film stays: {out / 'film-together.mp4'}")
        for line in made.lines
    )
    assert all((out / name).read_bytes() == b"its own" for name in own)
    there = {path.name for path in out.iterdir() if "together" in path.name}
    assert there == {"film-together.mp4", "film-together.jpg", "film-together.vtt", "then-and-now-together.jpg"}


def test_a_film_of_one_plant_or_for_a_chat_leaves_the_trays_own_film(shelf_run: Path):
    out = shelf_run.with_name("photos-results")
    own = ("film.mp4", "film.jpg", "film.vtt", "then-and-now.jpg")
    for name in own:
        (out / name).write_bytes(b"its own")
    plant = open_results(out).tray.plants[0].name
    made = film_job(out, options=replace(SMALL, plants=(plant,)), progress=Silent())
    assert made.film == out / f"film-{plant}.mp4"
    chat = film_job(out, options=replace(SMALL, kind="webp", fps=12.5, then_and_now=False), progress=Silent())
    assert "Made earlier, and left as it was: film.mp4" in chat.lines
    assert all((out / name).read_bytes() == b"its own" for name in own)
    assert (out / "film.webp").is_file()
    assert (out / f"then-and-now-{plant}.jpg").is_file()


def test_a_plants_name_becomes_a_files_name():
    assert film_name((), together=False) == "film"
    assert film_name((), together=True) == "film-together"
    assert film_name(("A",), together=False, among=("A", "B")) == "film-A"
    assert film_name(("r1c1",), together=True) == "film-together-r1c1"
    assert film_name(("A/1", "B"), together=False) == "film-A_1-a5b3d2+B"


def test_no_two_films_share_a_file_on_any_disk():
    long = "the basil on the sill of the kitchen that my neighbour gave me "
    plants = ("A/1", "A_1", "A 1", "A-B", "A+B", "A", "B", "a", "Ä", "A\u0308", "together", "together-B", "..", "*",
              long + "in spring", long + "in autumn", "\u82bd" * 90, "A_1-a5b3d2")  # fmt: skip
    asked = [((plant,), False) for plant in plants]
    asked += [((), False), ((), True), (("A", "B"), False), (("B",), True), (plants[:3], False)]
    names = [film_name(of, together=together, among=plants) for of, together in asked]
    # Disks of Windows and macOS take these for one name.
    assert len({unicodedata.normalize("NFC", name).casefold() for name in names}) == len(names)
    assert max(len(f"then-and-now-{name}.jpg.4194304.part".encode()) for name in names) < 255
    assert not any(set(name) & set('<>:"/\\|?*') for name in names)


def test_days_count_from_the_sowing_that_is_shown_and_several_are_said():
    sowings = [{"name": "early", "sown": "2026-03-01"}, {"name": "late", "sown": "2026-03-05"}]
    plants = [{"name": name, "box_px": (0, 0, 9, 9), "sowing": of} for name, of in (("A", "early"), ("B", "late"))]
    tray = Tray.model_validate({"view": {"from": "side"}, "plant": plants, "sowing": sowings})
    of_all, of_b = (from_sowing(FilmOptions(plants=names), tray) for names in ((), ("B",)))
    assert (of_all.day_zero, of_all.day_words) == (date(2026, 3, 1), "since first sowing")
    assert (of_b.day_zero, of_b.day_words) == (date(2026, 3, 5), "")
