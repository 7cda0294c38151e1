"""Results of several trays from their stores to a comparison or to sheets, and the files that hold them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from sproutlapse.errors import ResultsError
from sproutlapse.job import open_results, opened
from sproutlapse.progress import Progress
from sproutlapse.work.files import csv_bytes, is_device, put, told_apart

if TYPE_CHECKING:
    from sproutlapse.growth.fair_pots import By, Pot, SeenTray
    from sproutlapse.results import Results

# ruff: noqa: PLC0415 - the comparison and its charts are imported when their turn comes

# Where each kind of group gets its name, for those who have not written any.
_WRITE = {
    "sowing": "write a [[sowing]] with its name and let the plants name it (sowing = ...)",
    "crop": "write crop into each [[sowing]]",
    "variety": "write variety into each [[sowing]]",
    "lot": "write lot into each [[sowing]]",
    "lamp": "write a [[lamp]] with its name and let the plants name it (lamp = ...)",
    "place": "write place into each [[plant]]",
}


def compare_job(
    results: Sequence[Path], *, by: By, crop: str | None, out: Path | None, progress: Progress
) -> list[str]:
    """Compare what stands in one or several results folders, and write the page, tables and charts of it.

    Parameters
    ----------
    results
        Folders that `run` made; their photos need not be there.
    by
        What the groups are named by.
    crop
        Compare only this crop, or None for all.
    out
        Folder to write to; `compare-BY` in the first of them if None.

    Returns
    -------
    What to print.

    Raises
    ------
    ResultsError
        If they cannot be compared, with what to do.
    """
    seen = opened_together(results, progress)
    from sproutlapse.compare.charts import comparison_charts
    from sproutlapse.compare.page import comparison_page
    from sproutlapse.compare.tables import groups_table, pairs_table, pots_table
    from sproutlapse.compare.words import lines_of, nameless_told
    from sproutlapse.growth.compared import compared
    from sproutlapse.growth.fair_pots import pots_of

    pots = _only(crop, [pot for one, _ in seen for pot in pots_of(one)])
    _must_differ(pots, by)
    whole = compared(pots, by)
    where = out or Path(results[0]) / f"compare-{by}"
    with progress.stage("comparing", 1) as stage:
        charts = comparison_charts(whole)
        page = comparison_page(whole, pots, charts, _notes(pots))
        stage.advance()
    tables = {"compare": pairs_table(whole), "groups": groups_table(whole), "pots": pots_table(pots)}
    for name, table in tables.items():
        put(where / f"{name}.csv", csv_bytes(table))
    for chart in charts:
        put(where / f"{chart.name}.svg", chart.svg.encode("utf-8"))
        put(where / f"{chart.name}.png", chart.png)
    put(where / "compare.html", page.encode("utf-8"))
    said = [*lines_of(whole), nameless_told(pots, whole), *_notes(pots)]
    return [line for line in said if line] + [f"Page: {where / 'compare.html'}", f"Tables and charts: {where}"]


def sheets_job(
    results: Sequence[Path], *, by: Literal["sowing", "lot"], out: Path | None, csv: bool, progress: Progress
) -> list[str]:
    """Write a page for each sowing or lot, with the photos that show each seedling come up.

    Parameters
    ----------
    results, out
        As of `compare_job`; `sheets` in the first results if `out` is None.
    by
        What a page is for.
    csv
        Whether to write all its figures as tables as well.

    Returns
    -------
    What to print.

    Raises
    ------
    ResultsError
        If there is nothing to make a sheet of.
    """
    seen = opened_together(results, progress)
    from sproutlapse.compare.proofs import proofs_table
    from sproutlapse.compare.sheets import sheets_of
    from sproutlapse.compare.tables import groups_table, pots_table
    from sproutlapse.growth.compared import compared
    from sproutlapse.growth.fair_pots import pots_of

    pots = [pot for one, _ in seen for pot in pots_of(one)]
    if not any(p.group(by) for p in pots):
        raise _unnamed(by)
    whole = compared(pots, by)
    where = out or Path(results[0]) / "sheets"
    lines, taken = [], set[str]()
    with progress.stage("making sheets", len(whole.groups)) as stage:
        for sheet in sheets_of(whole, seen):
            name = _file_name(sheet.name, taken)
            put(where / f"{name}.html", sheet.html.encode("utf-8"))
            lines.append(f"{sheet.line} {where / f'{name}.html'}")
            stage.advance()
    if csv:
        tables = {"groups": groups_table(whole), "pots": pots_table(pots), "proofs": proofs_table(whole, seen)}
        for name, table in tables.items():
            put(where / f"{name}.csv", csv_bytes(table))
        lines.append(f"Tables: {where}")
    return lines


def opened_together(results: Sequence[Path], progress: Progress) -> list[tuple[SeenTray, Results]]:
    """Results of several trays, measured in one way, under names that differ.

    Raises
    ------
    ResultsError
        If one is named twice, was never finished, or was measured by another version.
    """
    from sproutlapse.growth.fair_pots import SeenTray

    paths = [Path(path) for path in results]
    twice = [path for k, path in enumerate(paths) if path.resolve() in {p.resolve() for p in paths[:k]}]
    if twice:
        raise ResultsError("named twice.", where=str(twice[0]), remedy="Name each results folder once.")
    out, ways = [], {}
    with progress.stage("reading results", len(paths)) as stage:
        for path, name in zip(paths, _names(paths), strict=True):
            whole = open_results(path)
            with opened(path, to_read=True) as store:
                ways[path] = (store.about("version"), store.about("measuring"))
            shared = whole.run["shared_uncertainty"]
            # Between trays the largest of its views' counts.
            scale_sd = max([float(shared["scale_sd_share"] or 0.0), *shared.get("later_scale_sd_shares", [])])
            out.append((SeenTray(name, whole.tray, whole.measurements, scale_sd), whole))
            stage.advance()
    other = next((path for path in paths if ways[path] != ways[paths[0]]), None)
    if other is not None:
        raise ResultsError(
            f"measured by another version than {paths[0]}, so that a difference may be the tool's.",
            where=str(other),
            remedy="Run both photo folders again with this version, then compare.",
        )
    return out


def _names(paths: Sequence[Path]) -> list[str]:
    """A name for each tray: its folder's, with as many of the folders above as it takes to tell them apart."""
    parts = [(*path.resolve().parent.parts, path.resolve().name.removesuffix("-results")) for path in paths]
    told: list[str] = []
    for own in parts:
        others = [other for other in parts if other is not own]
        long = next((n for n in range(1, len(own)) if all(other[-n:] != own[-n:] for other in others)), len(own))
        told.append("/".join(own[-long:]))
    return [name if told.count(name) == 1 else f"{name} ({told[: k + 1].count(name)})" for k, name in enumerate(told)]


def _only(crop: str | None, pots: list[Pot]) -> list[Pot]:
    if crop is None:
        return pots
    from sproutlapse.crops import crop_name

    name = crop_name(crop) or " ".join(crop.casefold().split())
    own = [p for p in pots if p.group("crop") == name]
    if not own:
        known = sorted({p.sowing.crop for p in pots if p.sowing.crop})
        raise ResultsError(
            f"nobody named a crop “{crop}” here.",
            remedy=f"Name one of: {', '.join(known)}." if known else "Write crop into each [[sowing]], and run again.",
        )
    return own


def _must_differ(pots: Sequence[Pot], by: By) -> None:
    names = list(dict.fromkeys(name for p in pots if (name := p.group(by))))
    if not names:
        raise _unnamed(by)
    if len(names) == 1:
        raise ResultsError(
            f"there is only one {by} here, “{names[0]}”: nothing to hold it against.",
            remedy="Name the results of several trays, or compare by something else."
            if by == "tray"
            else f"Compare by something else, name further RESULTS, or {_WRITE[by]} in tray.toml and run again.",
        )


def _unnamed(by: str) -> ResultsError:
    return ResultsError(f"no plant has a {by} named.", remedy=f"In tray.toml {_WRITE[by]}, and run again.")


def _notes(pots: Sequence[Pot]) -> list[str]:
    notes = []
    bare = sorted({p.tray for p in pots if not p.in_mm})
    if bare:
        notes.append(f"No scale is known in {', '.join(bare)}: sizes there stand in pixels and are not held against "
                     "those of another tray.")  # fmt: skip
    if any(p.sowing.packet_percent is not None and not p.per_seed for p in pots):
        notes.append("A packet's promise is of seeds: write seeds_per_cell to have it held against what came up.")
    return notes


def _file_name(name: str, taken: set[str]) -> str:
    """A name that every disk takes, and that no other sheet has."""
    plain = re.sub(r"[^\w-]+", "-", name.strip()).strip("-")[:60] or "sheet"
    own = told_apart(plain, name) if is_device(plain) or plain.casefold() in taken else plain
    taken.add(own.casefold())
    return own
