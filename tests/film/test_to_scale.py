"""Side by side a millimetre is as long in one picture as in the other, or it is said that it is not."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from film_photos import Photo, take
from test_telling import HEIGHTS, MM_PER_PX, known

from sproutlapse.film.options import FilmOptions
from sproutlapse.film.plan import Plan, Side, film_plan
from sproutlapse.film.to_scale import to_scale
from sproutlapse.film.told import Told, mm_per_px
from sproutlapse.results import FrameRecord
from sproutlapse.tray import Plant, Tray, View


@pytest.fixture(scope="module")
def grown(tmp_path_factory: pytest.TempPathFactory) -> tuple[list[FrameRecord], Told]:
    records = take(tmp_path_factory.mktemp("photos"), [Photo(plant_px=height) for height in HEIGHTS])
    return records, known(records)


def coarser(told: Told, times: float) -> Told:
    """The same tray, seen by a camera that stands so many times as far away."""
    table = told.measurements.assign(height_mm=told.measurements["height_mm"] * times)
    return dataclasses.replace(told, name="window", measurements=table)


def film_mm_per_px(plan: Plan) -> list[float]:
    return [
        mm_per_px(side.side.told, side.side.plant) / float(np.hypot(*view[:, 0]))
        for side in plan.sides
        for view in (side.views[0], side.views[-1])
    ]


@pytest.mark.parametrize("shape", ["source", "9:16", "16:9"])
def test_trays_side_by_side_are_of_one_scale_and_none_is_enlarged(grown, shape):
    records, told = grown
    options = FilmOptions(shape=shape)
    plan = film_plan([Side(records, told), Side(records, coarser(told, 1.4))], options)
    assert np.ptp(film_mm_per_px(plan)) < 0.01 * MM_PER_PX
    assert min(film_mm_per_px(plan)) >= 0.995 * MM_PER_PX * 1.4
    assert not plan.notes
    (left, top, width, height), (right, other_top, other_width, other_height) = plan.place.pictures
    if shape != "9:16":
        assert top + height == other_top + other_height
        assert left + width <= right
    assert other_width / width == pytest.approx(1.4, rel=0.01)
    assert all(side % 2 == 0 for side in (*plan.place.size, width, height, other_width, other_height))


def test_plants_followed_side_by_side_are_of_one_scale_from_first_to_last(grown):
    records, told = grown
    near = Plant(name="A", box_px=(240, 0, 400, 300), soil_y_px=300)
    far = Plant(name="B", box_px=(0, 0, 160, 300), soil_y_px=300)
    tray = Tray(view=View.model_validate({"from": "side"}), plant=(near, far))
    low = told.measurements.assign(plant="B", height_mm=told.measurements["height_mm"] * 0.6, height_px=10.0)
    low["height_mm"] = np.where(low["height_mm"].notna(), 10.0 * MM_PER_PX * 1.2, np.nan)
    table = type(low)(np.vstack([told.measurements, low]), columns=low.columns).infer_objects()
    ups = type(low)(np.vstack([told.plants, told.plants.assign(plant="B")]), columns=told.plants.columns)
    both = dataclasses.replace(told, tray=tray, measurements=table, plants=ups)
    plan = film_plan([Side(records, both, "A"), Side(records, both, "B")], FilmOptions(plants=("A", "B")))
    assert np.ptp(film_mm_per_px(plan)) < 0.02 * min(film_mm_per_px(plan))


def test_pictures_that_cannot_be_of_one_scale_say_so(grown):
    records, told = grown
    bare = dataclasses.replace(told, name="bare", measurements=told.measurements.assign(height_mm=np.nan))
    plan = film_plan([Side(records, told), Side(records, bare)], FilmOptions())
    assert plan.notes == ("No scale is known of bare, so the pictures side by side cannot be brought to one.",)
    assert plan.place.pictures[0][3] == plan.place.pictures[1][3]
    plan = film_plan([Side(records, told), Side(records, coarser(told, 5))], FilmOptions())
    assert "very different scales" in plan.notes[0]
    assert to_scale([(100, 100), (100, 100)], [1.0, 2.0]) == [(50, 50), (100, 100)]
