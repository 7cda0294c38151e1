"""Many photos measured: each in full, whatever the order and the number of workers."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from few_tasks import by_frame, tasks_of
from shelf_photos import FEW

from sproutlapse.errors import PhotosError
from sproutlapse.work.crew import LocalCrew
from sproutlapse.work.engine import Shared, measure_photo


@pytest.fixture(scope="module")
def crews() -> Iterator[dict[int, LocalCrew]]:
    """By how many they are; the two are ready."""
    with LocalCrew(1) as one, LocalCrew(2) as two:
        two.get_ready(len(FEW))
        yield {1: one, 2: two}


def test_two_workers_find_the_same_as_one(few_photos: Path, shared: Shared, crews):
    tasks = tasks_of(few_photos)
    alone, together = (by_frame(list(crews[n].measure(tasks, shared))) for n in (1, 2))
    assert together == alone
    assert set(alone) == set(FEW)


def test_plants_are_found_where_they_stand_and_not_on_bare_soil(few_photos: Path, shared: Shared):
    first, last = (measure_photo(task, shared) for task in tasks_of(few_photos, [FEW[0], FEW[-1]]))
    assert first.found is not None
    assert last.found is not None
    assert [plant.tissue_px for plant in first.found.plants] == [0.0] * 5
    assert all(plant.tissue_px > 50 for plant in last.found.plants)


def test_a_damaged_photo_is_told_and_the_others_go_on(shelf: Path, shared: Shared, crews):
    (shelf / FEW[2]).write_bytes(b"nothing")
    told = by_frame(list(crews[2].measure(tasks_of(shelf, FEW[:4]), shared)))
    assert [frame for frame, one in told.items() if one.damaged] == [FEW[2]]
    assert sum(one.found is not None for one in told.values()) == 3


def test_a_photo_that_changed_since_it_was_entered_is_not_measured_under_the_old_name(
    shelf: Path, shared: Shared, crews
):
    tasks = tasks_of(shelf, FEW[:2])
    (shelf / FEW[1]).write_bytes((shelf / FEW[0]).read_bytes())
    with pytest.raises(PhotosError, match="changed while it was looked at"):
        list(crews[1].measure(tasks, shared))


@pytest.mark.parametrize("workers", [1, 2])
def test_a_photo_that_went_ends_in_a_message_with_its_name(shelf: Path, shared: Shared, workers: int, crews):
    tasks = tasks_of(shelf, FEW[:3])
    (shelf / FEW[1]).unlink()
    with pytest.raises(PhotosError, match=FEW[1]) as caught:
        list(crews[workers].measure(tasks, shared))
    assert caught.value.remedy


def test_a_dark_photo_is_not_measured(few_photos: Path, shared: Shared):
    bright = replace(shared, usual=replace(shared.usual, white=50.0))
    told = measure_photo(tasks_of(few_photos, FEW[:1])[0], bright)
    assert told.found is not None
    assert told.found.fault.startswith("dark")


def test_nothing_to_measure_is_no_error(shared: Shared, crews):
    assert list(crews[2].measure([], shared)) == []
