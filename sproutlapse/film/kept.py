"""How the grower last wanted the film: kept from one time to the next, so that a run makes it again in that way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any, Final

from sproutlapse.film.options import FilmOptions, Note
from sproutlapse.film.words import joined

PLAIN: Final = FilmOptions()
# What is said of each option that is not as usual; several may be said by one word. Nothing for what the diary and the
# sowing give anew each time.
SAID: Final[dict[str, str]] = {
    "title": "title", "heights": "heights", "outlines": "outlines", "curve": "curve", "moments": "moments",
    "notes": "notes", "end_card": "end card", "then_and_now": "then and now", "shape": "shape", "height_px": "size",
    "seconds": "length", "fps": "speed", "since": "part", "until": "part", "start_at": "beginning",
    "caption": "bare picture", "gaps": "gaps", "night": "nights", "smooth": "smooth steps", "calm": "calm days",
    "steady": "shake", "even": "changes of light",
}  # fmt: skip


def kept_values(options: FilmOptions) -> dict[str, Any]:
    """What differs from the plain film, as plain values for the store; empty for the plain film."""
    made = {name: getattr(options, name) for name in SAID if getattr(options, name) != getattr(PLAIN, name)}
    if "notes" in made:
        made["notes"] = [[note.when.isoformat(), note.text] for note in options.notes]
    return made


def kept_options(values: Mapping[str, Any] | None) -> FilmOptions:
    """The options that were kept; those of the plain film where there are none or they are of another version."""
    known = {field.name for field in fields(FilmOptions)} & set(SAID)
    given = {name: value for name, value in (values or {}).items() if name in known}
    if "notes" in given:
        given["notes"] = tuple(Note(datetime.fromisoformat(when), text) for when, text in given["notes"])
    return FilmOptions(**given)


def asked_in_words(options: FilmOptions) -> str:
    """What was asked for beyond the plain film: "title, heights and curve"; nothing for the plain film."""
    return joined(list(dict.fromkeys(SAID[name] for name in SAID if name in kept_values(options))))
