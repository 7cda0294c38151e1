"""What one photo tells, before it is put in time order: plain values that travel to the store and to settling."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class PlantFinding:
    """One plant in one photo. Pixels are the reference picture's; NaN-free: what is not seen is None.

    Attributes
    ----------
    tissue_px
        Covered area in pixels.
    height_px
        Soil line at the foot to the highest tissue.
    stem_px
        Height of the lowest leaf's attachment.
    stem_width_px
        Width of the bare stem.
    width_px
        Widest extent.
    lean_deg
        Lean of the line from foot to top, to the right positive.
    seedlings
        How many stand in the pot or cell.
    cut_off
        The plant leaves the picture.
    foot_x_px, top_x_px, top_y_px
        Places on the reference.
    top_doubt_px
        How much higher something reaches that may be tissue too.
    top_slope
        How steeply the camera looks down on the top, as a tangent; None where the camera is not known.
    soil_light, soil_rough
        Light and roughness of the soil over those of the bare stage there, exposure evened out; None where too little
        of it is seen.
    leaf_l, leaf_a, leaf_b
        CIELAB colour of the leaves, the board taken for white; None where too little is seen or light does not allow.
    soil_same
        How well its crumbs and specks lie where they did on the bare stage, see `regrained.soil_pattern`.
    tips_px
        Of several seedlings from the side the height that nine of ten tips do not exceed, see `tips.tips_of`.
    patches, patch_share
        From above: of how many pieces the tissue consists, and the share of the largest.
    """

    tissue_px: float
    height_px: float | None = None
    stem_px: float | None = None
    stem_width_px: float | None = None
    width_px: float | None = None
    lean_deg: float | None = None
    seedlings: int = 0
    cut_off: bool = False
    foot_x_px: float | None = None
    top_x_px: float | None = None
    top_y_px: float | None = None
    top_doubt_px: float = 0.0
    top_slope: float | None = None
    soil_light: float | None = None
    soil_rough: float | None = None
    leaf_l: float | None = None
    leaf_a: float | None = None
    leaf_b: float | None = None
    soil_same: float | None = None
    tips_px: float | None = None
    patches: int | None = None
    patch_share: float | None = None


@dataclass(frozen=True)
class Findings:
    """One photo measured.

    Attributes
    ----------
    fault
        Why it cannot be measured, in plain words; empty if it was.
    matrix
        Six numbers, the (2, 3) matrix from its pixels to the reference's, row by row.
    gains
        Red, green, blue over the reference's light.
    plants
        In tray order.
    pots_px
        Shift of each pot from where it stood on the reference, right and down in its pixels, in tray order; from above
        that of each cell; None where the pot is not there. Empty where nothing moved.
    labels_png
        PNG of the label picture: 0 = not plant, 1..n in tray order; see `labels.labels_png`.
    covered
        Whether a cover hides each plant, in tray order: then nothing of it is measured. Empty where there is none.
    step
        How many times smaller the picture was that it was measured on; all pixels here are the photo's own.
    """

    fault: str
    matrix: tuple[float, ...] = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0)
    gains: tuple[float, float, float] = (1.0, 1.0, 1.0)
    shift_px: float = 0.0
    turn_deg: float = 0.0
    moved: bool = False
    plants: tuple[PlantFinding, ...] = ()
    labels_png: bytes = b""
    pots_px: tuple[tuple[float, float] | None, ...] = ()
    covered: tuple[bool, ...] = ()
    step: int = 1

    def stood(self, k: int) -> tuple[float, float] | None:
        """How far the pot of plant k stands from its first place; None if it is not there."""
        return self.pots_px[k] if self.pots_px else (0.0, 0.0)

    def hidden(self, k: int) -> bool:
        """Whether a cover hides plant k."""
        return bool(self.covered) and self.covered[k]

    def to_values(self) -> dict[str, Any]:
        """All but the label picture, ready for JSON."""
        values = asdict(self)
        del values["labels_png"]
        return values

    @staticmethod
    def from_values(values: dict[str, Any], labels_png: bytes) -> Findings:
        """The findings again from `to_values` and the label picture."""
        own = dict(values)
        own["plants"] = tuple(PlantFinding(**plant) for plant in own["plants"])
        own["pots_px"] = tuple(None if shift is None else tuple(shift) for shift in own.get("pots_px", ()))
        for name in ("matrix", "gains", "covered"):
            own[name] = tuple(own.get(name, ()))
        return Findings(**own, labels_png=labels_png)
