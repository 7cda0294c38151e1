"""Room above the pots for the height to be expected, in one photo."""

from __future__ import annotations

from sproutlapse.crops import is_allium
from sproutlapse.first.sight import Sight
from sproutlapse.first.verdict import Line, fine, look, mend
from sproutlapse.tray import Habit, Plant, Tray

# How tall seedlings stand by the time they are potted on or planted out, mm. Own proposal, no published table at hand.
USUAL_MM: dict[Habit, float] = {
    "broadleaf": 130.0,
    "rosette": 80.0,
    "grasslike": 160.0,
    "climber": 250.0,
    "feathery": 130.0,
}
# Leaves stand above the cut, and the camera may be bumped.
SPARE_MM = 15.0


def needed_mm(tray: Tray) -> float:
    """Height above the soil to keep in view: what the crop will reach, unless cut back or under a lower lamp."""
    return SPARE_MM + max((_of_plant(tray, plant) for plant in tray.plants), default=USUAL_MM["broadleaf"])


def _of_plant(tray: Tray, plant: Plant) -> float:
    usual = USUAL_MM[plant.habit or "broadleaf"]
    sowing, lamp = tray.sowing_of(plant), tray.lamp_of(plant)
    if plant.trim_at_mm is not None:
        usual = float(plant.trim_at_mm)
    elif sowing is not None and is_allium(sowing.crop):
        usual = tray.judge.allium_trim_at_mm
    return usual if lamp is None or lamp.above_soil_mm is None else min(usual, float(lamp.above_soil_mm))


def headroom(sight: Sight) -> list[Line]:
    """Whether the picture reaches high enough above the soil."""
    if sight.view == "above" or sight.row is None:
        return []
    there = sight.in_mm(sight.row.soil_y)
    need = needed_mm(sight.tray)
    if there is None:
        share = sight.row.soil_y / sight.light.shape[0]
        return [look("Headroom", f"{share:.0%} of the picture is above the soil".replace("%", " %"), "Is that enough?")]
    says = f"{there:.0f} mm above the soil in view, about {need:.0f} mm will be needed"
    if there < need:
        return [mend("Headroom", says, "Tilt or raise the camera so that the pots stand lower, or go farther off.")]
    return [fine("Headroom", says)]


def needed_px(sight: Sight) -> float | None:
    """`needed_mm` in pixels of the small picture, or None without a scale."""
    mm = sight.in_mm(1.0)
    return None if mm is None else needed_mm(sight.tray) / mm
