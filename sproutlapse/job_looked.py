"""Since when the person has not looked: the last photo of the page before this one."""

from __future__ import annotations

from dataclasses import replace

from sproutlapse.results import Results
from sproutlapse.work.store import Store

KEY = "looked"


def with_looked(store: Store, results: Results) -> Results:
    """The results with the last photo of the page before this one.

    A page made again for the same photos tells of the same time as before.
    """
    used = [frame.time for frame in results.frames if frame.used]
    before = _before(store, used[-1]) if used else ""
    return replace(results, looked=before if before in used else "")


def keep_looked(store: Store, results: Results) -> None:
    """Keep in mind that the page of these results was made, once it is there, for a person who will read it.

    One that was made where nobody reads along (`--quiet`) is not to be kept: so a run each hour does not use up the
    week.
    """
    used = [frame.time for frame in results.frames if frame.used]
    if used and (store.about(KEY) or {}).get("page") != used[-1]:
        store.set_about({KEY: {"page": used[-1], "before": _before(store, used[-1])}})


def _before(store: Store, last: str) -> str:
    kept = store.about(KEY) or {"page": "", "before": ""}
    return str(kept["before"] if kept["page"] == last else kept["page"])
