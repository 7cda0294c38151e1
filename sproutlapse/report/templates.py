"""Templates of a room that makes pages, and the style that all pages share."""

from __future__ import annotations

from importlib.resources import files
from typing import Final

import jinja2
from markupsafe import Markup

from sproutlapse.report.colours import SERIES, SERIES_DARK

STYLE: Final = "page.css"


def environment(room: str) -> jinja2.Environment:
    """Templates that lie in a room, such as `sproutlapse.season`."""
    own, shared = files(room), files("sproutlapse.report")

    def text(name: str) -> str:
        return (shared if name == STYLE else own).joinpath(name).read_text(encoding="utf-8")

    return jinja2.Environment(
        loader=jinja2.FunctionLoader(text),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def style(made: jinja2.Environment) -> Markup:
    """The style of the report's page."""
    return Markup(made.get_template(STYLE).render(light=SERIES, dark=SERIES_DARK))
