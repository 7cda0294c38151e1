"""One page that can be read without anything else: `report.html`, and the charts as files beside it."""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any, Final

import jinja2
from markupsafe import Markup

from sproutlapse.frames.find import frame_of
from sproutlapse.report.charts import charts_of, judged_habits
from sproutlapse.report.colours import INK, PAPER, RULE, SERIES, SERIES_DARK
from sproutlapse.report.drawing import Chart
from sproutlapse.report.facts import (
    LINES_PER_PANEL,
    enough_to_tell,
    from_above,
    groups_of,
    has_scale,
    measure_of,
    plant_names,
    plants_now,
    unlike_spans,
    used_frames,
)
from sproutlapse.report.pictures import Photo, contact_sheet, latest_photo
from sproutlapse.report.since import notes_of, since_looked
from sproutlapse.report.story import story_of
from sproutlapse.report.told import cautions_told, diary, left_out, methods, photo_summary
from sproutlapse.report.told_calendar import calendar
from sproutlapse.report.told_sowings import sowings_told
from sproutlapse.report.words import clock, counted, dated
from sproutlapse.results import Results
from sproutlapse.work.files import put

OPEN_ITEMS: Final = 5  # things to do that stand open; the rest is folded
CHART_KINDS: Final = ("growth", "emergence", "ratio", "photos")


@dataclass(frozen=True)
class InlinePhoto:
    """A photo as it stands in the page."""

    src: str
    photo: Photo
    alt: str
    caption: str


def write_report(results: Results, *, film: Path | None) -> Path:
    """Write `report.html` and `charts/` into the results folder.

    Parameters
    ----------
    results
        Everything one run found. The photos are read again for the pictures; where they are gone, the page says so.
    film
        The film in the results folder, or None. It is linked, not packed into the page.

    Returns
    -------
    Path of `report.html`. The same results give the same bytes.

    Raises
    ------
    ResultsError
        If a file cannot be written.
    """
    charts = charts_of(results)
    page = render(results, charts, film=film)
    _write_charts(results.out / "charts", charts)
    put(results.out / "report.html", page.encode("utf-8"))
    return results.out / "report.html"


def _write_charts(folder: Path, charts: list[Chart]) -> None:
    made = {f"{chart.name}.svg": chart.svg.encode("utf-8") for chart in charts}
    made |= {f"{chart.name}.png": chart.png for chart in charts}
    for name, data in made.items():
        put(folder / name, data)
    # Charts of an earlier run that do not belong to this one (fewer sowings, say) would mislead.
    ours = re.compile(r"(growth-\d+|emergence-\d+|height-to-leaf-\d+|brightness)\.(svg|png)")
    for path in folder.iterdir() if folder.is_dir() else ():
        if ours.fullmatch(path.name) and path.name not in made:
            path.unlink()


def render(results: Results, charts: list[Chart], *, film: Path | None) -> str:
    """The page's HTML."""
    folder = files("sproutlapse.report")
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(lambda name: folder.joinpath(name).read_text(encoding="utf-8")),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template("page.html").render(_context(results, charts, film, environment))


def _context(
    results: Results, charts: list[Chart], film: Path | None, environment: jinja2.Environment
) -> Mapping[str, Any]:
    used = used_frames(results)
    plants = plants_now(results)
    return {
        "css": Markup(environment.get_template("page.css").render(light=SERIES, dark=SERIES_DARK)),
        "folder": frame_of(results.folder.name),
        "span": _span([frame.time for frame in used]),
        "many": any(len(g.plants) > LINES_PER_PANEL for g in groups_of(results, plant_names(results))),
        "cut_off": bool(results.measurements["cut_off"].fillna(False).any()),
        "since": since_looked(results),
        "came_of": results.came_of,
        "stages": results.stages,
        "grower_notes": [{"when": clock(note.time), "text": note.text} for note in notes_of(results)],
        "results_name": frame_of(results.out.name),
        "open_items": OPEN_ITEMS,
        "care": results.care,
        "cautions": cautions_told(results.care),
        "unlike": unlike_spans(results),
        "plants": plants,
        "stories": [story_of(results, plant.name) for plant in plants],
        "up": sum(plant.up not in ("not up yet", "not known yet") for plant in plants),
        "known": enough_to_tell(results),
        "measure": measure_of(results),
        "above": from_above(results),
        "scale": has_scale(results),
        "leggy_hours": f"{results.tray.judge.leggy_hours:g}",
        "judged": bool(judged_habits(results)),
        "latest": _latest(results),
        "charts": {
            kind: [(chart, inline_svg(chart)) for chart in charts if chart.kind == kind] for kind in CHART_KINDS
        },
        "sowings": sowings_told(results),
        "calendar": calendar(results),
        "sheet": [_thumb(photo) for photo in contact_sheet(results)],
        "film": film.name if film is not None and film.exists() else None,
        "photos": photo_summary(results),
        "left_out": left_out(results),
        "diary": diary(results),
        "notes": results.notes,
        "methods": methods(results),
        "counted": counted,
    }


def _span(times: list[str]) -> str:
    if len(times) < 2:
        return "".join(dated(time) for time in times)
    return f"{dated(times[0])} to {dated(times[-1])}"


def _src(jpeg: bytes) -> str:
    return "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")


def _latest(results: Results) -> InlinePhoto | None:
    photo = latest_photo(results)
    if photo is None:
        return None
    seen = ", ".join(f"{tag.name} {tag.text}".strip() for tag in photo.tags)
    alt = f"Photo of {dated(photo.frame.time)}" + (
        f" with each plant outlined: {seen}" if seen else ", no plant up yet"
    )
    return InlinePhoto(_src(photo.jpeg), photo, alt, f"{photo.frame.frame}, {dated(photo.frame.time)}")


def _thumb(photo: Photo) -> InlinePhoto:
    when = clock(photo.frame.time)
    return InlinePhoto(_src(photo.jpeg), photo, f"Photo of {when}", when)


def inline_svg(chart: Chart) -> Markup:
    """The chart for the page: ink, paper and line colours follow the page's light or dark colours."""
    svg = chart.svg[chart.svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, flags=re.DOTALL)
    head, body = svg.split(">", 1)
    head = re.sub(r' (width|height)="[^"]*"', "", head)
    for number, colour in enumerate(SERIES, start=1):
        body = body.replace(colour, f"var(--s{number})")
    body = body.replace(INK, "currentColor").replace(PAPER, "var(--paper)").replace(RULE, "var(--rule)")
    return Markup(f'{head} role="img" aria-label="{Markup.escape(chart.alt)}">{body}')
