"""Leaves that turned yellower or paler: what to look at, for a photo cannot tell which of many causes it was."""

from __future__ import annotations

from sproutlapse.care_scene import Scene, listed, names_of, since_text
from sproutlapse.figures import amount
from sproutlapse.growth.colour import PALER, YELLOWER
from sproutlapse.results import CareItem

CAUSES = {
    YELLOWER: "Hungry, too wet, too cold, or simply the age of the seed leaves: a photo cannot tell which.",
    PALER: "Too much light too near, hungry, too cold, or simply how this kind grows up: a photo cannot tell which.",
}
TITLES = {YELLOWER: "Leaves turn yellow", PALER: "Leaves turn pale"}


def other_colour(scene: Scene) -> list[CareItem]:
    """An item for the plants whose leaves are yellower than they were, and one for those that are paler."""
    items = []
    for event in (YELLOWER, PALER):
        found = [
            s
            for s in scene.stories
            if s.fades
            and s.fades[-1].until is None
            and s.fades[-1].event == event
            and scene.to_do(event, s.track.plant, s.track.clock(s.fades[-1].since))
        ]
        if not found:
            continue
        names = names_of(found)
        worst = max(found, key=lambda s: s.fades[-1].change)
        fade = worst.fades[-1]
        unit = "degrees nearer to yellow" if event == YELLOWER else "lighter (black is 0, white 100)"
        items.append(
            CareItem(
                key=f"{event}:{','.join(names)}",
                urgency="this week",
                plants=names,
                title=f"{TITLES[event]}: {listed(names)}",
                reason=f"Their colour changed since {worst.track.clock(fade.since):%A %d %B}; that of other plants did"
                f" not. {CAUSES[event]}",
                number=f"{worst.track.plant}: {amount(fade.change, unit, fade.sd)}",
                remedy="Look which leaves it is. Only the lowest, or seed leaves: usually their age, nothing to do. All"
                " of them: feel the soil. Wet and heavy: let it dry and give air. Right to the touch and pots full of"
                " roots: pot on, or feed at the weakest rate on the packet. Bleached on top, near the lamp: raise it.",
                caution="Change one thing at a time, and wait some days: new leaves tell, old ones stay as they are.",
                since=since_text([s.track.clock(s.fades[-1].since) for s in found]),
                causes=tuple(f"{event}:{name}" for name in names),
            )
        )
    return items
