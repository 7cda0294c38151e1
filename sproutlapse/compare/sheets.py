"""A page for each sowing or lot, for those who must show others what came up: counts, curve, and the photos that prove
each of them."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from sproutlapse.compare.charts import group_chart
from sproutlapse.compare.proofs import Pieces, Proof, proofs_of
from sproutlapse.compare.words import promise_told
from sproutlapse.growth.compared import Compared, Group, promises
from sproutlapse.growth.fair_pots import SeenTray
from sproutlapse.report.page import inline_svg
from sproutlapse.report.templates import environment, style
from sproutlapse.report.words import between, clock, counted, dated, day, named, rounded
from sproutlapse.results import Results


@dataclass(frozen=True)
class Sheet:
    """One page, with a line for the terminal."""

    name: str
    line: str
    html: str


def sheets_of(c: Compared, seen: Sequence[tuple[SeenTray, Results]]) -> Iterator[Sheet]:
    """The pages, in the order of the groups; photos that are gone are missing in them, and that is said."""
    made = environment("sproutlapse.compare")
    css, pieces = style(made), Pieces({tray.name: results for tray, results in seen})
    for group in c.groups:
        proofs = proofs_of(group, c.by, seen)
        html = made.get_template("sheet.html").render(
            css=css,
            title=group.name,
            by=c.by,
            span=_span([results for tray, results in seen if tray.name in {p.tray for p in group.pots}]),
            facts=_facts(group),
            count=_count(group),
            promised=[promise_told(p) for p in promises(group.pots)],
            chart=inline_svg(group_chart(group, _last_day(group))) if group.up_at_all else None,
            proofs=[_shown(p, pieces, several=len(seen) > 1) for p in proofs],
            missing=_missing(group),
        )
        yield Sheet(group.name, f"{group.name}: {group.up_at_all} of {group.sown} up.", html)


def _last_day(group: Group) -> float:
    return max(p.watched for p in group.pots)


def _span(results: Sequence[Results]) -> str:
    times = sorted(frame.time for whole in results for frame in whole.frames if frame.used)
    return f"Photos of {dated(times[0])} to {dated(times[-1])}, the camera's own clock." if times else ""


def _facts(group: Group) -> list[tuple[str, str]]:
    """What was sown, as it was written down; several values where the group holds several."""
    sowings = [p.sowing for p in group.pots]
    sown = sorted({s.sown.replace(tzinfo=None) for s in sowings if s.sown is not None})
    rows = [
        ("Crop", _told(s.crop for s in sowings)),
        ("Variety", _told(s.variety for s in sowings)),
        ("Lot", _told(s.lot for s in sowings)),
        ("Sown", named([_dated(when) for when in sown])),
        ("Soil", _told(None if s.soil_c is None else f"{round(s.soil_c, 1):g} °C" for s in sowings)),
        ("Packet promises", _told(None if s.packet_percent is None else f"{s.packet_percent:g} %" for s in sowings)),
        ("Lamp", _told(p.lamp for p in group.pots)),
        ("Tray", _told(p.tray for p in group.pots)),
        ("Pots or cells", str(len(group.pots))),
    ]
    return [(name, value) for name, value in rows if value]


def _dated(when: datetime) -> str:
    return f"{day(when)} {when.year}"


def _told(values: Any) -> str:
    return named(list(dict.fromkeys(str(v) for v in values if v)))


def _count(group: Group) -> str:
    unit = "seed" if group.pots[0].per_seed else "pot"
    text = f"{group.up_at_all} of {counted(group.sown, unit)} up by the last photo, day {rounded(_last_day(group), 0)}"
    return text + (" after sowing." if group.pots[0].sowing.sown is not None else ".")


def _missing(group: Group) -> str:
    """Which pots show nothing."""
    names = [p.plant for p in group.pots if not np.isfinite(p.by).any()]
    return f"Nothing came up in {named(names)}." if names else ""


def _shown(proof: Proof, pieces: Pieces, *, several: bool) -> dict[str, Any]:
    before, at = pieces.of(proof)
    where = f"{proof.tray}, {proof.plant.name}" if several else proof.plant.name
    nth = "" if proof.nth == 1 else f", seedling {proof.nth}"
    if proof.before is None:
        when = f"there by {clock(proof.at.time)}; since when is not known"
    else:
        when = between(proof.before.time, proof.at.time)
    return {
        "name": f"{where}{nth}",
        "when": when,
        "before": _src(before),
        "at": _src(at),
        "without": "" if proof.before is None else proof.before.frame,
        "photo": proof.at.frame,
        "fingerprint": proof.fingerprint[:16],
    }


def _src(jpeg: bytes | None) -> str:
    return "" if jpeg is None else "data:image/jpeg;base64," + base64.b64encode(jpeg).decode("ascii")
