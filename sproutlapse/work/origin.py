"""Findings made elsewhere: what is kept of machines that measured and are not like the one that keeps the results."""

from __future__ import annotations

from collections.abc import Sequence

from sproutlapse.work.store import Store

_KEY = "unlike"
AGREE_MM = 0.05  # heights by other libraries or vector instructions; `scripts/on_cluster.py` measures it


def keep_origin(store: Store, reference: str, unlike: Sequence[str]) -> None:
    """Keep that findings under a reference come from machines that differ in this; called before they are kept."""
    kept = store.about(_KEY) or {} if unlike else {}
    if not set(unlike) <= set(kept.get(reference, ())):
        store.set_about({_KEY: kept | {reference: sorted({*kept.get(reference, ()), *unlike})}})


def origin_in_words(store: Store, *references: str) -> list[str]:
    """What to say of findings under these references; those of others are forgotten."""
    kept = store.about(_KEY) or {}
    held = {reference: kept[reference] for reference in references if reference in kept}
    if held != kept:
        store.set_about({_KEY: held})
    ways = sorted({way for ways in held.values() for way in ways})
    if not ways:
        return []
    return [
        f"Some photos were measured by machines that are not like the one that keeps these results "
        f"({'; '.join(ways)}). Heights agree to {AGREE_MM} mm, but last digits may differ from those of a run on one "
        "machine; for such a run name another folder with --out."
    ]
