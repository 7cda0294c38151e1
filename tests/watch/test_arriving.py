"""Photos as they arrive: copied slowly, moved into place, replaced, missing for a moment, never coming to their end."""

from itertools import pairwise
from pathlib import Path

from sproutlapse.frames.find import PhotoFile
from sproutlapse.watch.arriving import GIVEN_UP_S, MISSING_S, Arrivals, Stamp


def photo(name: str = "a.jpg", size: int = 100, mtime: int = 1) -> PhotoFile:
    return PhotoFile(name, Path("photos") / name, size, mtime)


def names(files: list[PhotoFile]) -> list[str]:
    return [file.frame for file in files]


def test_a_photo_that_was_moved_into_place_is_looked_at_when_it_is_first_seen():
    arrivals = Arrivals({})
    arrivals.see([photo()], 0.0)
    assert names(arrivals.due(0.0)) == ["a.jpg"]
    assert arrivals.counted == []
    arrivals.whole([photo()])
    arrivals.see([photo()], 0.3)
    assert (arrivals.due(0.3), names(arrivals.counted), arrivals.coming) == ([], ["a.jpg"], 0)


def test_one_that_grows_is_left_alone_until_it_stands_still():
    arrivals = Arrivals({})
    arrivals.see([photo(size=10)], 0.0)
    arrivals.not_whole(photo(size=10), 0.0)
    for step in range(1, 40):
        now = 0.3 * step
        arrivals.see([photo(size=10 + step)], now)
        assert arrivals.due(now) == []
    arrivals.see([photo(size=49)], 12.0)
    assert [file.size_bytes for file in arrivals.due(12.4)] == [49]


def test_one_that_has_its_whole_size_from_the_start_is_tried_again_though_nothing_is_seen_to_change():
    arrivals = Arrivals({})
    arrivals.see([photo()], 0.0)
    tries = []
    for tenth in range(600):
        now = tenth / 10
        arrivals.see([photo()], now)
        if arrivals.due(now):
            tries.append(now)
            arrivals.not_whole(photo(), now)
    assert tries[:5] == [0.0, 0.5, 1.5, 3.5, 7.5]
    assert max(late - early for early, late in pairwise(tries)) < 8.2


def test_one_that_stands_still_for_a_minute_counts_as_damaged_and_is_judged_again_if_it_changes():
    arrivals = Arrivals({})
    arrivals.see([photo()], 0.0)
    arrivals.not_whole(photo(), 0.0)
    assert not arrivals.see([photo()], GIVEN_UP_S - 0.1)
    assert arrivals.see([photo()], GIVEN_UP_S)
    assert (names(arrivals.counted), arrivals.due(GIVEN_UP_S)) == (["a.jpg"], [])
    arrivals.see([photo(size=200)], 90.0)
    assert [file.size_bytes for file in arrivals.due(90.0)] == [200]
    assert [file.size_bytes for file in arrivals.counted] == [100]


def test_a_change_of_size_gives_it_another_minute():
    arrivals = Arrivals({})
    arrivals.see([photo()], 0.0)
    arrivals.not_whole(photo(), 0.0)
    arrivals.see([photo(size=101)], 50.0)
    arrivals.not_whole(photo(size=101), 50.5)
    assert not arrivals.see([photo(size=101)], 100.0)
    assert arrivals.see([photo(size=101)], 110.0)


def test_a_photo_that_was_never_tried_is_never_called_damaged():
    """In a burst it may wait for longer than a minute until its turn comes."""
    arrivals = Arrivals({})
    arrivals.see([photo()], 0.0)
    assert not arrivals.see([photo()], 10 * GIVEN_UP_S)
    assert names(arrivals.due(10 * GIVEN_UP_S)) == ["a.jpg"]


def test_a_replaced_photo_counts_as_it_was_until_the_new_one_is_whole():
    arrivals = Arrivals({"a.jpg": Stamp(100, 1)})
    arrivals.see([photo()], 0.0)
    assert names(arrivals.counted) == ["a.jpg"]
    arrivals.see([photo(size=40, mtime=2)], 1.0)
    assert [file.size_bytes for file in arrivals.counted] == [100]
    arrivals.see([photo(size=90, mtime=3)], 2.0)
    arrivals.whole(arrivals.due(3.0))
    assert [file.size_bytes for file in arrivals.counted] == [90]


def test_a_photo_that_is_missing_for_a_moment_stays_and_one_that_is_gone_goes():
    arrivals = Arrivals({"a.jpg": Stamp(100, 1), "b.jpg": Stamp(100, 1)})
    both = [photo("a.jpg"), photo("b.jpg")]
    arrivals.see(both, 0.0)
    arrivals.see(both[:1], 1.0)
    arrivals.see(both, 1.5)
    assert not arrivals.see(both[:1], 10.0)
    assert names(arrivals.counted) == ["a.jpg", "b.jpg"]
    assert arrivals.see(both[:1], 10.0 + MISSING_S)
    assert names(arrivals.counted) == ["a.jpg"]


def test_a_photo_counted_by_an_earlier_run_is_not_looked_at_again():
    arrivals = Arrivals({"a.jpg": Stamp(100, 1)})
    arrivals.see([photo()], 0.0)
    assert (arrivals.due(0.0), names(arrivals.counted)) == ([], ["a.jpg"])


def test_one_that_vanishes_before_it_is_whole_is_forgotten():
    arrivals = Arrivals({})
    arrivals.see([photo()], 0.0)
    arrivals.see([], 1.0)
    assert (arrivals.coming, arrivals.counted) == (0, [])
