"""Photos measured by a real scheduler's real workers: the same answers, whatever dies."""

import shutil
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import distributed
import pytest
from few_tasks import by_frame, tasks_of
from shelf_photos import FEW, halve, run, written
from watched_folder import look, results, watching

from sproutlapse.cli import main
from sproutlapse.errors import ClusterError
from sproutlapse.work.cluster import ClusterCrew, joined
from sproutlapse.work.machine import this_machine

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "scripts"))

from own_cluster import OwnCluster  # noqa: E402 - it stands in scripts/


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OwnCluster]:
    """Two workers, under a scheduler that gives a photo up when one worker died of it."""
    folder = tmp_path_factory.mktemp("cluster")
    with OwnCluster(folder, DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES="0") as cluster:
        starts = [threading.Thread(target=cluster.worker) for _ in range(2)]
        for start in starts:
            start.start()
        for start in starts:
            start.join()
        yield cluster


def test_a_run_on_a_cluster_writes_the_same_bytes(shelf: Path, few: Path, cluster: OwnCluster):
    with joined(cluster.address) as crew:
        out = run(shelf, masks=True, crew=crew).out
        assert not crew.unlike
    assert written(out) == written(few)


@pytest.mark.skipif(not Path("/proc/self/cwd").exists(), reason="a path that means another place to each process")
def test_a_watch_measures_on_a_cluster(shelf_run: Path, cluster: OwnCluster, tmp_path: Path):
    watch = watching(shelf_run)
    look(watch)
    with ClusterCrew(cluster.address) as crew:
        watch.rounds.crew = crew
        for name in ("P3030059.JPG", "P3030060.JPG"):
            halve(name, tmp_path / name)
            (tmp_path / name).rename(shelf_run / name)
        look(watch)
    assert watch.rounds.crew_used > 0
    assert written(results(shelf_run)) == written(run(shelf_run, tmp_path / "run", masks=True).out)


def test_photos_that_workers_do_not_see_are_sent(few_photos, shared, alone, cluster, monkeypatch):
    monkeypatch.chdir(few_photos)
    tasks = tasks_of(Path("/proc/self/cwd"))
    with ClusterCrew(cluster.address) as crew:
        told = by_frame(list(crew.measure(tasks, shared)))
    assert [told[frame].found for frame in FEW] == [alone[frame].found for frame in FEW]


def test_another_file_under_the_same_path_is_not_measured_for_it(shelf, shared, cluster):
    """It is as good as not seen; then the photo is read here, where it is told that it changed."""
    tasks = tasks_of(shelf, FEW[:2])
    (shelf / FEW[1]).write_bytes((shelf / FEW[0]).read_bytes())
    with ClusterCrew(cluster.address) as crew, pytest.raises(Exception, match="changed while it was looked at"):
        list(crew.measure(tasks, shared))


def test_a_worker_with_another_version_is_refused_with_a_remedy(tmp_path, cluster):
    package = tmp_path / "sproutlapse"
    shutil.copytree(ROOT / "sproutlapse", package, ignore=shutil.ignore_patterns("__pycache__"))
    (package / "__init__.py").write_text('__version__ = "0.0.9"\n', "utf-8")
    other = cluster.worker(package=tmp_path)
    with pytest.raises(ClusterError, match=r"has sproutlapse 0\.0\.9") as caught:
        joined(cluster.address)
    assert "Install the same version" in caught.value.remedy
    assert {client.status for client in distributed.Client._instances} <= {"closed"}
    cluster.kill(other)


def test_machines_that_measured_for_others_are_not_told_of_later_photos(few_photos, shared, cluster, monkeypatch):
    """Of a season's trays, say, which share a crew."""
    tasks = tasks_of(few_photos, FEW[:2])
    with ClusterCrew(cluster.address) as crew:
        with monkeypatch.context() as elsewhere:
            other = replace(this_machine(), processor="none of theirs")
            elsewhere.setattr("sproutlapse.work.cluster.this_machine", lambda: other)
            list(crew.measure(tasks[:1], shared))
            assert crew.unlike == ("a processor with other vector instructions",)
        list(crew.measure(tasks[1:], shared))
        assert crew.unlike == ()


def test_a_worker_that_is_killed_loses_no_photo_and_counts_none_twice(few_photos, shared, alone, cluster):
    told = []
    with ClusterCrew(cluster.address) as crew:
        for one in crew.measure(tasks_of(few_photos), shared):
            told.append(one)
            if len(told) == 2:
                cluster.kill(cluster.workers[0])
    assert by_frame(told) == alone


def test_what_came_before_the_last_worker_went_is_kept_and_the_rest_told_in_time(few_photos, shared, alone, cluster):
    told = []
    with ClusterCrew(cluster.address, workers_s=2) as crew, pytest.raises(ClusterError, match="no workers") as caught:
        for one in crew.measure(tasks_of(few_photos), shared):
            told.append(one)
            if len(told) == 1:
                cluster.kill(cluster.workers[1])
                begun = time.monotonic()
    assert time.monotonic() - begun < 30
    assert "dask worker" in caught.value.remedy
    assert all(one == alone[one.task.frame] for one in told)


def test_a_scheduler_that_goes_away_is_told_in_time(few_photos, shared, cluster):
    begun = time.monotonic()
    ClusterCrew(cluster.address, answer_s=2).get_ready(1)
    with ClusterCrew(cluster.address, answer_s=2) as crew, pytest.raises(ClusterError, match="went away") as caught:
        killer = threading.Timer(0.5, cluster.kill, [cluster.scheduler])
        killer.start()
        list(crew.measure(tasks_of(few_photos), shared))
    assert time.monotonic() - begun < 30
    assert "is kept" in caught.value.remedy


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "127.0.0.1", "tcp://nowhere.invalid:8786", "no way://x"])
def test_an_address_where_no_scheduler_is_is_told_at_once(address):
    begun = time.monotonic()
    with pytest.raises(ClusterError, match="no Dask scheduler answers") as caught:
        ClusterCrew(address, answer_s=2).get_ready(1)
    assert time.monotonic() - begun < 15
    assert caught.value.where == address
    assert "--cluster" in caught.value.remedy


@pytest.mark.parametrize("verb", ["run", "watch"])
def test_the_command_says_so_before_it_reads_a_photo_and_ends_with_its_own_status(
    verb, few_photos, capsys, monkeypatch
):
    monkeypatch.setattr(sys, "argv", ["sproutlapse", verb, str(few_photos), "--cluster", "127.0.0.1"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 7
    assert "127.0.0.1: no Dask scheduler answers there" in capsys.readouterr().err


@pytest.mark.parametrize("verb", ["run", "watch"])
def test_workers_here_and_workers_elsewhere_are_not_asked_for_at_once(verb, capsys, monkeypatch):
    monkeypatch.setattr(sys, "argv", ["sproutlapse", verb, "x", "--cluster", "tcp://127.0.0.1:9", "--workers", "2"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 2
    assert "give one of them" in capsys.readouterr().err
