"""Since when the person has not looked: the last photo of the page before this one."""

from __future__ import annotations

from dataclasses import replace

from sproutlapse.results import Results
from sproutlapse.work.store import Store

KEY = "looked"


def with_looked(store: Store, results: Results, *, seen: bool) -> Results:
    """The results with the last photo of the page before this one, and this page kept in mind if it is `seen`.

    A page made again for the same photos tells of the same time as before. One that was made where nobody reads along
    counts as none: so a run each hour does not use up the week.

    Parameters
    ----------
    seen
        Whether a person started this and will read it; false for `--quiet`.
    """
    used = [frame.time for frame in results.frames if frame.used]
    if not used:
        return results
    kept = store.about(KEY) or {"page": "", "before": ""}
    last = used[-1]
    before = str(kept["before"] if kept["page"] == last else kept["page"])
    if seen and kept["page"] != last:
        store.set_about({KEY: {"page": last, "before": before}})
    return replace(results, looked=before if before in used else "")
