"""A film again from the results: nobody else writes there meanwhile, and trays side by side keep their own films."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from sproutlapse.errors import ResultsError
from sproutlapse.film.options import FilmOptions
from sproutlapse.job import film_job
from sproutlapse.progress import Silent, Stage
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
