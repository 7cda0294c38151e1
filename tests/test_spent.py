"""Where the time went, as `--timings` tells it."""

import pickle
import threading
import time

from sproutlapse import spent
from sproutlapse.spent import Spent, Took, noting, part, table, told


def test_parts_within_parts_are_told_by_both_names():
    with noting() as noted:
        for _ in range(2):
            with part("measuring"), part("align"):
                time.sleep(0.01)
    assert list(noted.parts) == ["measuring", "measuring/align"]
    assert 0.02 <= noted.parts["measuring/align"].clock <= noted.parts["measuring"].clock


def test_nothing_is_noted_unless_somebody_asked():
    with part("align"):
        told({"decoding": (1.0, 1.0)})
    with noting(wanted=False) as noted, part("align"):
        assert not spent.wanted()
    assert noted.parts == {}
    assert not spent.wanted()


def test_a_photo_measured_within_a_run_is_noted_apart():
    """With one worker photos are measured where the run itself notes its time; both must come out the same."""
    with noting() as run, part("measuring photos"):
        with noting() as photo, part("decoding"):
            pass
        told(pickle.loads(pickle.dumps(photo.parts)))
    assert list(photo.parts) == ["decoding"]
    assert list(run.parts) == ["measuring photos", "workers/decoding"]


def test_a_part_that_fails_is_noted_and_its_name_is_left_again():
    with noting() as noted:
        try:
            with part("film"):
                raise OSError
        except OSError:
            pass
        with part("page"):
            pass
    assert list(noted.parts) == ["film", "page"]


def test_a_thread_beside_notes_nothing():
    seen: list[bool] = []
    with noting():
        beside = threading.Thread(target=lambda: seen.append(spent.wanted()))
        beside.start()
        beside.join()
    assert seen == [False]


def test_the_table_adds_up():
    noted = Spent(
        {"measuring photos": Took(6.0, 1.0), "film": Took(3.0, 3.0), "measuring photos/storing": Took(1.0, 0.5)}
    )
    noted.add({"decoding": (4.0, 4.0), "measuring": (6.0, 6.0)})
    noted.add({"decoding": (1.0, 1.0), "measuring/align": (2.0, 2.0)})
    text = table(noted, Took(10.0, 5.0), photos=100)
    assert [line.split() for line in text if line] == [
        ["seconds", "processor", "a", "photo", "share"],
        ["measuring", "photos", "6.00", "1.00", "0.0600", "60.0", "%"],
        ["storing", "1.00", "0.50", "0.0100", "10.0", "%"],
        ["film", "3.00", "3.00", "0.0300", "30.0", "%"],
        ["everything", "else", "1.00", "1.00", "0.0100", "10.0", "%"],
        ["in", "all", "10.00", "5.00", "0.1000", "100.0", "%"],
        ["In", "the", "workers,", "added", "up", "over", "all", "of", "them:"],
        ["decoding", "5.00", "5.00", "2.5000", "45.5", "%"],
        ["measuring", "6.00", "6.00", "3.0000", "54.5", "%"],
        ["align", "2.00", "2.00", "1.0000", "18.2", "%"],
    ]
