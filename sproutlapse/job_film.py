"""The film of a job: named, made as the grower last wanted it, and told."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sproutlapse.errors import ResultsError
from sproutlapse.film.beside import film_name, other_films
from sproutlapse.film.kept import PLAIN, asked_in_words, kept_options, kept_values
from sproutlapse.film.make import make_film
from sproutlapse.film.options import FilmOptions, FilmSummary, with_diary
from sproutlapse.film.plan import Side
from sproutlapse.film.told import Told
from sproutlapse.frames.find import frame_of
from sproutlapse.progress import Progress
from sproutlapse.work.store import Store

if TYPE_CHECKING:
    from sproutlapse.results import Results
    from sproutlapse.tray import Tray

KEPT = "film"  # in the store


def film_made(
    results: Results, store: Store, *, options: FilmOptions | None, beside: Sequence[Results], progress: Progress
) -> tuple[Path, list[str]]:
    """Make the film and keep how it was wanted.

    Parameters
    ----------
    options
        How the film is to be; None makes it as it was last asked for.
    beside
        Further trays.

    Returns
    -------
    The film's file, and what to print.
    """
    if options is None:
        return film_as_kept(results, store.about(KEPT), progress)
    before = kept_options(store.about(KEPT))
    words = asked_in_words(before)
    path, lines = _one(results, options, beside, progress)
    if path.name == "film.mp4":
        store.set_about({KEPT: kept_values(options)})
        if words and before != options:
            lines.append(f"It took the place of the film with the {words}.")
    return path, lines


def film_as_kept(results: Results, kept: Any, progress: Progress) -> tuple[Path, list[str]]:
    """Make the film as it was last asked for, which `kept` tells as the store has it.

    Returns
    -------
    The film's file, and what to print.
    """
    before = kept_options(kept)
    words = asked_in_words(before)
    if not words:
        return _one(results, PLAIN, (), progress)
    try:
        path, lines = _one(results, before, (), progress)
    except ResultsError as error:
        # The tray or its photos are others now: no reason for a run to end without a film.
        path, lines = _one(results, PLAIN, (), progress)
        return path, [*lines, f"Made plain: with the {words} that you last asked for it cannot be made now ({error})"]
    plain = f"the plain film: sproutlapse film {results.out}"
    return path, [*lines, f"Made with the {words} that you last asked for; {plain}"]


def _one(
    results: Results, options: FilmOptions, beside: Sequence[Results], progress: Progress
) -> tuple[Path, list[str]]:
    asked = with_diary(from_sowing(options, results.tray), results.diary)
    among = {plant.name for one in (results, *beside) for plant in one.tray.plants}
    path = results.out / f"{film_name(asked.plants, together=bool(beside), among=among)}.{asked.kind}"
    used = sum(frame.used for frame in results.frames)
    with progress.stage("making the film", used) as stage:
        made = make_film(
            results.frames,
            path,
            options=asked,
            progress=lambda _done, _all: stage.advance(),
            known=told_of(results),
            beside=[Side(other.frames, told_of(other)) for other in beside],
        )
    return path, _lines(made, together=bool(beside))


def _lines(made: FilmSummary, *, together: bool) -> list[str]:
    head = "Film of all together, each one's own film stays" if together else "Film"
    lines = [f"{head}: {made.path} ({made.sentence})", *made.notes]
    lines += [f"Beside it: {', '.join(path.name for path in made.beside)}"] if made.beside else []
    older = other_films(made.path)
    lines += [f"Made earlier, and left as it was: {', '.join(older)}"] if older else []
    return lines


def from_sowing(options: FilmOptions, tray: Tray) -> FilmOptions:
    """The film's days counted from the sowing of what it shows, where its date is known and no other was asked for.

    Of several dates the first counts, which is then said beside the day.
    """
    shown = {plant.sowing for plant in tray.plants if plant.name in options.plants}
    own = [sowing for sowing in tray.sowings if not shown or sowing.name in shown]
    sown = {sowing.sown.date() for sowing in own if sowing.sown is not None}
    if not sown or options.day_zero is not None:
        return options
    return replace(options, day_zero=min(sown), day_words="since first sowing" if len(sown) > 1 else "")


def told_of(results: Results) -> Told:
    """What the tables tell a film."""
    name = frame_of(results.out.name).removesuffix("-results")
    scale = results.run["mm_per_px"]
    return Told(name, results.tray, results.measurements, results.events, results.plants, scale)
