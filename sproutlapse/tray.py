"""What stands in view (`tray.toml`) as typed models, and every threshold that judges a plant.

Reading, writing and the messages about a faulty file stand in `trayfile.py`.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, FiniteFloat

Habit = Literal["broadleaf", "rosette", "grasslike", "climber", "feathery"]
LampKind = Literal["tube", "panel", "other"]
Need = Literal["light", "dark", "cold", "soaking", "warmth"]
PositiveMm = Annotated[FiniteFloat, Field(gt=0, le=100_000)]
PositiveNumber = Annotated[FiniteFloat, Field(gt=0, le=1000)]
Share = Annotated[FiniteFloat, Field(gt=0, le=1)]
Hours = Annotated[FiniteFloat, Field(ge=0, le=10_000)]
DepthMm = Annotated[FiniteFloat, Field(ge=-100_000, le=100_000)]
Box = tuple[FiniteFloat, FiniteFloat, FiniteFloat, FiniteFloat]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)


class View(_Part):
    """How the camera looks at the tray."""

    from_: Literal["side", "above"] | None = Field(default=None, alias="from")
    pixels_of: str | None = None
    camera_to_plants_mm: PositiveMm | None = None


class Scale(_Part):
    """How pixels become millimetres: a printed marker, or two points and the length between them."""

    marker_mm: PositiveMm | None = None
    behind_plants_mm: DepthMm = 0.0
    from_px: tuple[FiniteFloat, FiniteFloat] | None = None
    to_px: tuple[FiniteFloat, FiniteFloat] | None = None
    length_mm: PositiveMm | None = None
    within_mm: PositiveMm | None = None  # marker_mm or length_mm is right within so much, 19 times of 20
    row_mm: PositiveMm | None = None  # from the middle of the first plant's pot to that of the last one


class Season(_Part):
    """Dates of the garden."""

    plant_out: date | None = None
    own_records: Annotated[str, Field(min_length=1)] | None = None  # a folder; read into own_days


class Lamp(_Part):
    """One lamp from `since` on; a later entry of the same name says that it was moved or changed."""

    name: str = Field(min_length=1)
    kind: LampKind | None = None
    above_soil_mm: PositiveMm | None = None
    keep_clear_mm: PositiveMm | None = None
    lux: Annotated[FiniteFloat, Field(gt=0, le=200_000)] | None = None  # read among the leaves, on the day of `since`
    since: datetime | None = None


class Sowing(_Part):
    """What was sown; plants of one sowing are compared with each other."""

    name: str = Field(min_length=1)
    crop: str | None = None
    variety: str | None = None
    lot: str | None = None
    sown: datetime | None = None
    seeds_per_cell: Annotated[int, Field(ge=1, le=1000)] | None = None
    seedlings_per_seed: Annotated[int, Field(ge=1, le=20)] = 1
    packet_percent: Annotated[FiniteFloat, Field(gt=0, le=100)] | None = None
    soil_c: Annotated[FiniteFloat, Field(ge=-10, le=45)] | None = None
    under_light: bool | None = None
    needs: tuple[Need, ...] = ()
    own_days: tuple[PositiveNumber, PositiveNumber] | None = None  # fewest, most that it took this grower before
    own_year: Annotated[int, Field(ge=1900, le=2200)] | None = None  # and when


class Plant(_Part):
    """One pot or cell: its place in the picture and how it grows."""

    name: str = Field(min_length=1)
    box_px: Box
    soil_y_px: FiniteFloat | None = None
    soil_within_mm: PositiveMm | None = None  # soil_y_px is right within so much, 19 times of 20
    behind_mm: DepthMm = 0.0
    mark: Annotated[int, Field(ge=0, le=49)] | None = None
    habit: Habit | None = None  # not written: told from its look, once enough of it shows
    sowing: str | None = None
    lamp: str | None = None
    place: str | None = None
    keep_per_cell: Annotated[int, Field(ge=1, le=1000)] = 1
    trim_at_mm: PositiveMm | None = None
    trim_to_mm: PositiveMm | None = None


class Judge(_Part):
    """Every threshold that judges a plant, by name; `[judge]` in tray.toml overrules any of them."""

    # Three usable frames in a row with tissue make a plant emerged: the contract of files in and out.
    emerged_frames: Annotated[int, Field(ge=1, le=100)] = 3
    # A verdict of legginess must hold this long and in this many frames, so that no passing leaf movement makes one.
    leggy_hours: Annotated[FiniteFloat, Field(ge=0)] = 12.0
    leggy_frames: Annotated[int, Field(ge=1)] = 3
    # Below this height the ratio is not judged: the contract of files in and out.
    leggy_from_mm: PositiveMm = 20.0
    # The same without a scale, in pixels: fewer bear no ratio. Own proposal, no published value.
    leggy_from_px: PositiveNumber = 40.0
    # Leggy beyond this height-to-leaf if the bare stem also takes this share of the height. Own proposal, calibrated on
    # rendered seedlings (sturdy ones stay below one or the other once their seed leaves are open); no published value.
    leggy_ratio: PositiveNumber = 5.0
    leggy_stem_share: Share = 0.65
    # And only on a bare stem this long, which is the same whichever way a plant faces. Own proposal: rendered sturdy
    # plants have 14 to 18 mm, leggy ones 50 to 56, simulated ones with all lengths varied by 15 % at most 23 and at
    # least 33; no published value.
    leggy_stem_mm: PositiveMm = 25.0
    # Two photos do instead of `leggy_frames` where the bare stem gained this much between them. Own proposal.
    leggy_stem_gains_mm: PositiveMm = 6.0
    # Leggy beyond this ratio where the stem is not measured. Own proposal, calibrated as above.
    leggy_ratio_alone: PositiveNumber = 6.0
    # Stretching from this ratio on, with the same share of bare stem. Own proposal, calibrated as above.
    stretching_ratio: PositiveNumber = 4.5
    stretching_stem_mm: PositiveMm = 20.0
    # Instead of that length, so many times the middle of its own sowing, where at least six of it were judged: handbook
    # 2.4, proposed there after a published +20 % under far-red light; never alone.
    stretching_of_sowing: PositiveNumber = 1.2
    # Fewer plants of a sowing that were judged are no measure of one of them: handbook 2.4, proposed there.
    sowing_peers: Annotated[int, Field(ge=2, le=1000)] = 6
    # Stretching too when a bare stem that had come to rest (less than `stem_rest_mm` in a day) is longer by this much,
    # in mm and as a share, with this share of bare stem and height-to-leaf at least. Own proposals, calibrated on
    # simulated seedlings; no published value.
    stem_rest_mm: PositiveMm = 1.5
    stem_gain_mm: PositiveMm = 2.5
    stem_gain_share: Share = 0.12
    stem_gain_from_share: Share = 0.45
    stem_gain_from_ratio: PositiveNumber = 3.0
    # Once its stem has lengthened again, a plant is leggy from this ratio and share on. Own proposals, calibrated on
    # simulated seedlings.
    leggy_again_ratio: PositiveNumber = 4.0
    leggy_again_share: Share = 0.5
    # A rosette stands lower for its leaf: its ratios and stems are this share of the above. Own proposal, no published
    # value.
    rosette_share: PositiveNumber = 0.8
    # Cut back: a grass-like plant loses at once more than this share of its height and more than this length; leafy
    # ones move their leaves more, so they must lose more. Own proposals, calibrated on rendered seedlings.
    trim_drop_share: Share = 0.15
    trim_drop_mm: PositiveMm = 10.0
    trim_drop_share_leafy: Share = 0.30
    # A grass-like plant that grows so fast that it makes up for a cut within a day must lose this share at once and
    # stay behind its own growth by as much as the above. Own proposal, calibrated as above.
    trim_least_loss: Share = 0.04
    # A cut takes tissue along: the silhouette must lose at least this much of the share that the height loses. Own
    # proposal, calibrated as above.
    trim_canopy_per_height: PositiveNumber = 0.45
    # Fallen: this share and length of the height lost within these hours, with this share of the silhouette still
    # there. Own proposals, no published value.
    fall_share: Share = 0.25
    fall_drop_mm: PositiveMm = 10.0
    fall_hours: Hours = 48.0
    fall_keeps_canopy: Share = 0.5
    # A leafy plant that sinks by less than that has fallen too from this share on (and `fall_drop_mm`), where it also
    # stands by this share lower than at the same hours a day before. Own proposals, tried on simulated seedlings: their
    # leaves' daily movement reaches the first, and never both.
    droop_share: Share = 0.16
    droop_below_day_before: Share = 0.08
    # Collapsed rather than flopped: more than half of the height in less than a day with area still present. The
    # handbook's picture of damping-off (6.5), proposed there without a published value.
    collapse_share: Share = 0.5
    collapse_hours: Hours = 24.0
    # Two that collapsed side by side within so many days are told as one patch that spreads. Own proposal, no
    # published value.
    patch_days: Annotated[FiniteFloat, Field(gt=0, le=365)] = 4.0
    # Wilted rather than fallen: stands again at this share of its height. Own proposal, no published value.
    wilt_recovers_share: Share = 0.9
    wilt_hours: Hours = 48.0
    # Gone: a plant that showed at least this much silhouette shows none in `emerged_frames` photos in a row. Own
    # proposal: a sprout smaller than that comes and goes.
    gone_from_mm2: PositiveNumber = 15.0
    # Another plant stands in its place where the height rises at once by so many times and so many mm. Own proposals,
    # tried on rendered shelves: no seedling grows so from one photo to the next.
    exchange_rise_times: Annotated[FiniteFloat, Field(gt=1, le=100)] = 1.4
    exchange_rise_mm: PositiveMm = 10.0
    # Leaves are called yellower when their hue has gone so many degrees from green towards yellow, and paler when they
    # are so much lighter (L of CIELAB) and have lost this share of their strength of colour, against their own past;
    # for so long and in so many frames. Own proposals: leaves of rendered seedlings that keep their colour move by at
    # most 3.6 degrees, 7 L and 0.15 (young leaves that come in between included); no published values.
    yellow_deg: PositiveNumber = 6.0
    pale_l: PositiveNumber = 8.0
    pale_share: Share = 0.2
    colour_hours: Hours = 12.0
    colour_frames: Annotated[int, Field(ge=1)] = 3
    # Growth is read over this many days before the last frame, between photos of the same hour of the day give or take
    # this much, so that the daily movement of leaves is not taken for growth. Own proposal.
    growth_days: Annotated[FiniteFloat, Field(gt=0, le=365)] = 4.0
    same_hour_h: Hours = 1.5
    # Leads or lags from this share above or below the middle of the others of its sowing on, at equal age. Own
    # proposal, beyond the usual spread of 15 to 20 % within a sowing (handbook 2.4).
    lead_share: Share = 0.2
    # Younger plants are not compared: a hook of a stem tells no size. Own proposal.
    compare_from_days: Annotated[FiniteFloat, Field(gt=0, le=365)] = 1.0
    # Fit to be used only from this share of the middle of its sowing on, at equal age. Own proposal.
    usable_share: Share = 0.5
    # The gap under a lamp must be too small in so many photos in a row before it is said. Own proposal.
    lamp_near_frames: Annotated[int, Field(ge=1, le=100)] = 3
    # Nothing up is not called overdue before this many times the table's days: handbook 4.6.
    overdue_times: Annotated[FiniteFloat, Field(ge=2)] = 2.0
    # Grass-like alliums are due for a cut at this height, to this height: handbook 6.1, a summary of gardeners' habits
    # proposed there (warn at 130 to 150 mm, cut to 80 to 100 mm), no published value.
    allium_trim_at_mm: PositiveMm = 130.0
    allium_trim_to_mm: PositiveMm = 90.0


class Tray(_Part):
    """The whole of tray.toml. Every part is optional; what is missing is found in the pictures."""

    view: View = View()
    scale: Scale = Scale()
    season: Season = Season()
    lamps: tuple[Lamp, ...] = Field(default=(), alias="lamp")
    sowings: tuple[Sowing, ...] = Field(default=(), alias="sowing")
    plants: tuple[Plant, ...] = Field(default=(), alias="plant")
    judge: Judge = Judge()

    def sowing_of(self, plant: Plant) -> Sowing | None:
        """The sowing that a plant belongs to, or None."""
        return next((s for s in self.sowings if s.name == plant.sowing), None)

    def lamp_of(self, plant: Plant, when: datetime | None = None) -> Lamp | None:
        """The lamp above a plant as it stood at `when` (the last entry if not given), or None."""
        own = [lamp for lamp in self.lamps if lamp.name == plant.lamp]
        if when is not None:
            own = [lamp for lamp in own if lamp.since is None or _wall(lamp.since) <= _wall(when)]
        return max(own, key=lambda lamp: _wall(lamp.since) if lamp.since else datetime.min, default=None)


def _wall(when: datetime) -> datetime:
    return when.replace(tzinfo=None)
