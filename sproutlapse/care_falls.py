"""How plants went down, in words: at once or slowly, alone or in a patch that spreads to those beside it."""

from __future__ import annotations

from dataclasses import dataclass

from sproutlapse.care_scene import Scene, listed
from sproutlapse.growth.judge import Story
from sproutlapse.growth.patches import Patch, patches_now
from sproutlapse.results import Urgency


@dataclass(frozen=True)
class Fall:
    """What is said of plants that are down: how urgent, why, and what is to be done about those beside them."""

    urgency: Urgency
    reason: str
    more: str


def how_they_fell(scene: Scene, found: list[Story]) -> Fall:
    """The words for these plants; calmer where all of them only sank by less than a fall takes.

    A leaf that grows long arches over and looks the same as one that wants water, so a slow sinking is to be looked at
    and no more.
    """
    share = scene.tray.judge.fall_share
    if all(s.drops[-1].event == "flopped" and _lost(s) <= share for s in found):
        return Fall(
            "today",
            "Hangs lower than at the same hours a day before, with the leaf still there: thirst, drowned roots, or only"
            " a long leaf that arches over.",
            "",
        )
    reason = "Lost much of the height while the leaf is still there: thirst, drowned roots, or rot at the soil line."
    names = {s.track.plant for s in found}
    patches = [p for p in patches_now([(s.track, s.drops) for s in scene.stories], scene.tray) if names & set(p.plants)]
    told = [_spreads(p) if len(p.plants) > 1 else _alone(p) for p in patches]
    above = scene.tray.view.from_ == "above"
    more = [_keep_apart(p, above=above) for p in patches if len(p.plants) > 1]
    return Fall("now", " ".join([reason, *(t for t in told if t)]), "".join(more))


def _lost(s: Story) -> float:
    drop = s.drops[-1]
    return (drop.before - drop.after) / drop.before


def _alone(patch: Patch) -> str:
    if not patch.standing:
        return ""
    stand = "stands" if len(patch.standing) == 1 else "stand"
    return f"{patch.plants[0]} is the only one so far: {listed(patch.standing)} beside it still {stand}."


def _spreads(patch: Patch) -> str:
    told = f"{listed(patch.plants)} went down side by side, one after another: what kills at the soil line spreads so"
    if patch.days <= 0:
        told = f"{listed(patch.plants)} went down side by side at once: so does what kills at the soil line, or thirst"
    if not patch.standing:
        return f"{told}."
    return f"{told}; {listed(patch.standing)} beside them still {'stands' if len(patch.standing) == 1 else 'stand'}."


def _keep_apart(patch: Patch, *, above: bool) -> str:
    """Cool damp soil, crowding and much water make it worse (Texas A&M extension), and trays carry it on (Michigan
    State Univ. extension)."""
    safe = f" Stand {listed(patch.standing)} away from them, drier and with more air." if patch.standing else ""
    if above and patch.standing:
        # Cells of one tray cannot be moved apart.
        safe = (
            " Cells cannot be moved apart: take what will not recover out with its soil, and keep"
            f" {listed(patch.standing)} drier and with more air."
        )
    return f"{safe} Do not use that soil again, nor the tray before it was scrubbed."
