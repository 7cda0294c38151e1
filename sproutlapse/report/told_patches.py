"""What went down beside a plant that stands: told in its own story, since it may be next."""

from __future__ import annotations

from sproutlapse.growth.patches import Bed, Down, near_of, patch_of
from sproutlapse.report.facts import used_frames
from sproutlapse.report.words import clock, missing, named
from sproutlapse.results import Results


def beside_told(results: Results, plant: str) -> str:
    """`Beside it B and C collapsed, the first on 5 Mar, 14:00; it stands so far.`; nothing where none did.

    A neighbour that stood up again had only wilted, and counts no more.
    """
    if results.events.empty or not (results.events["event"] == "collapsed").any():
        return ""
    at = {frame.time: frame.elapsed_h for frame in reversed(used_frames(results))}
    downs = _downs(results, at)
    if plant in {d.plant for d in downs} or not _stands(results, plant):
        return ""
    bed = Bed(downs, near_of(results.tray), results.tray.judge.patch_days)
    now_h = max(at.values(), default=0.0)
    fallen = {d.plant for d in downs}
    near = [p for p in bed.near.get(plant, ()) if p in fallen]
    if not near:
        return ""
    patch = list(dict.fromkeys(p for one in near for p in patch_of(one, bed, now_h, ()).plants))
    first = min((d for d in downs if d.plant in patch), key=lambda d: d.at_h)
    when = clock(next(time for time, hours in at.items() if hours == first.at_h))
    on = f"on {when}" if len(patch) == 1 else f"the first on {when}"
    return f"Beside it {named(patch)} collapsed, {on}; it stands so far."


def _downs(results: Results, at: dict[str, float]) -> list[Down]:
    """The collapses of the tables that no standing up has followed."""
    events = results.events
    again = {(str(e["plant"]), str(e["time"])) for _, e in events[events["event"] == "wilted"].iterrows()}
    return [
        Down(str(e["plant"]), at[str(e["time"])], at.get(str(e["known"]), at[str(e["time"])]))
        for _, e in events[events["event"] == "collapsed"].iterrows()
        if (str(e["plant"]), str(e["time"])) not in again and str(e["time"]) in at
    ]


def _stands(results: Results, plant: str) -> bool:
    row = results.plants[results.plants["plant"] == plant].iloc[0]
    return not missing(row["emerged_by"]) and str(row.get("unusable_because")) not in ("gone", "down")
