"""Green that lies scattered over cells: to be looked at, for it may be algae and no seedling."""

from __future__ import annotations

from sproutlapse.care_scene import Scene, listed, names_of, since_text
from sproutlapse.growth.scattered import scattered
from sproutlapse.results import CareItem


def scattered_green(scene: Scene) -> list[CareItem]:
    """One item for all cells whose green lies scattered."""
    if scene.tray.view.from_ != "above":
        return []
    found, since = [], []
    for s in scene.here():
        sowing = scene.sowing(s.track)
        most = (
            1.0
            if sowing is None or sowing.seeds_per_cell is None
            else sowing.seeds_per_cell * sowing.seedlings_per_seed
        )
        row = scattered(s.track, most)
        if row is not None and scene.to_do("scattered", s.track.plant, s.track.clock(row)):
            found.append(s)
            since.append(s.track.clock(row))
    if not found:
        return []
    names = names_of(found)
    return [
        CareItem(
            key=f"scattered:{','.join(names)}",
            urgency="this week",
            plants=names,
            title=f"Scattered green, perhaps no seedling: {listed(names)}",
            reason="What is green there lies in many small pieces, as algae or moss on wet soil do, or several small"
            " seedlings. It was counted as up; a photo cannot tell.",
            number=f"{len(names)} cell{'s' if len(names) > 1 else ''} to look at",
            remedy="Look closely. Algae: count these as not up, let the surface dry between waterings, water from below"
            " and give air. Several seedlings: write seeds_per_cell below their [[sowing]].",
            caution="",
            since=since_text(since),
            causes=tuple(f"scattered:{name}" for name in names),
        )
    ]
