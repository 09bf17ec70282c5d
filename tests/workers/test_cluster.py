"""Work on a real cluster of this machine: a scheduler and two worker processes."""

import operator
import os
import signal
import sys
import time
from types import SimpleNamespace

import pytest
from distributed import LocalCluster
from planning_jobs import bits_of, job_of
from shapely.geometry import box
from side_by_side import died_once, slow

from nesting.app import options
from nesting.costs.choices import compare
from nesting.engine import Stop
from nesting.errors import FileError
from nesting.planning.plan import plan
from nesting.workers import Cancel, Cluster, Crew, NoCluster, WorkerLimits, cluster


@pytest.fixture(scope="module")
def scheduler():
    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=":0") as found:
        yield found


@pytest.fixture
def two(scheduler):
    """The cluster with two workers, whatever a test before did to it."""
    scheduler.wait_for_workers(2, timeout=60)
    with Cluster(scheduler.scheduler_address) as found:
        yield found


def pids(scheduler):
    return [worker.pid for worker in scheduler.workers.values()]


def test_answers_come_in_the_order_asked_and_faults_are_told(two):
    with Crew(10, two) as crew:
        assert crew.workers == 2
        assert crew.each(operator.add, [(1,), (2,), (3,)]) == [11, 12, 13]
        with pytest.raises(ZeroDivisionError) as fault:
            crew.each(operator.floordiv, [(1,), (0,)])
    assert "cluster.py" in fault.value.__notes__[0]


def test_the_task_of_a_machine_that_dies_is_done_by_another(two, tmp_path):
    assert two.lost == 0
    with Crew(10, two) as crew:
        assert crew.each(died_once, [(1, tmp_path / "died"), (2, None), (3, None)]) == [11, 12, 13]
    assert (tmp_path / "died").exists()


def test_when_the_time_is_over_nobody_waits_for_the_others(two):
    with Crew(None, two) as crew:
        began = time.monotonic()
        assert crew.each(slow, [(0.0,), (3.0,)], lambda: True) == [0.0]
        assert time.monotonic() - began < 2.0


def test_a_plan_is_whole_and_the_same_as_on_one_machine_though_a_worker_is_killed(scheduler, two):
    job, stop = job_of(box(0, 0, 700, 260), 6), Stop(iterations=30)
    killed = []

    def kill(told):
        if told.iterations > 12 and not killed:
            killed.extend(pids(scheduler)[:1])
            os.kill(killed[0], signal.SIGKILL)

    elsewhere = plan(job, stop, seed=2, workers=two, progress=kill)
    here = plan(job, stop, seed=2, workers=2)
    assert killed and len(elsewhere.placements) == 6
    assert elsewhere.placements == here.placements and elsewhere.cuts == here.cuts


def test_a_cancel_ends_a_plan_on_all_machines(two):
    cancel, told = Cancel(), []

    def tell(progress):
        told.append(progress)
        if progress.share > 0.02:
            cancel.cancel()

    began = time.monotonic()
    layout = plan(job_of(box(0, 0, 500, 300), 30), Stop(seconds=60, cancel=cancel), workers=two, progress=tell)
    assert layout.placements and time.monotonic() - began < 20
    # and they are free for others
    with Crew(1, two) as crew:
        assert crew.each(operator.add, [(1,), (2,)]) == [2, 3]
    assert time.monotonic() - began < 20 and told


def test_hides_are_compared_side_by_side_and_come_to_the_same(two):
    job = job_of(quantity=3, hides=bits_of(2, 300.0, 200.0))
    names = [[(c.name, c.layout.placements) for c in compare(job, Stop(iterations=3), workers=who)] for who in (two, 2)]
    assert names[0] == names[1]


def test_all_is_done_here_when_the_cluster_is_gone():
    with LocalCluster(n_workers=1, threads_per_worker=1, dashboard_address=":0") as short:
        gone = Cluster(short.scheduler_address, WorkerLimits(reach_s=0.5, again_s=0.1))
    with Crew(10, gone) as crew:
        assert crew.each(operator.add, [(1,), (2,)]) == [11, 12] and crew.here
    assert gone.lost == gone.workers == 1


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nonsense://x", ""])
def test_an_address_where_nobody_answers_is_told(address):
    with pytest.raises(NoCluster, match="nobody answers .*dask scheduler") as fault:
        Cluster(address, WorkerLimits(reach_s=0.3))
    assert fault.value.address == address


def test_the_option_is_named_where_its_address_is_wrong():
    with pytest.raises(FileError, match="--cluster: address: nonsense://x: nobody answers"):
        options.team(None, "nonsense://x")


def test_workers_and_a_cluster_exclude_each_other():
    with pytest.raises(FileError, match="--workers: with --cluster: 2: leave it out"):
        options.team(2, "tcp://127.0.0.1:9")
    assert options.team(2, None) == 2


def test_a_missing_library_is_told_with_what_installs_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(NoCluster, match=r"pip install 'nesting\[cluster\]'"):
        Cluster("tcp://127.0.0.1:9")


def test_the_code_alone_makes_the_version(tmp_path, monkeypatch):
    for name in ("workers/cluster.py", "demo_data/make_demo.py"):
        (tmp_path / name).parent.mkdir()
        (tmp_path / name).write_text("1")
    monkeypatch.setattr(cluster, "__file__", str(tmp_path / "workers" / "cluster.py"))
    before = cluster.version()
    (tmp_path / "demo_data" / "make_demo.py").write_text("2")
    assert cluster.version() == before
    (tmp_path / "workers" / "cluster.py").write_text("2")
    assert cluster.version() != before


def test_a_worker_with_another_version_is_told(scheduler, two, monkeypatch):
    there = cluster.version()
    monkeypatch.setattr(two, "_client", SimpleNamespace(run=lambda *given, **how: {"tcp://bench:1": there}))
    two._same_everywhere()
    monkeypatch.setattr(cluster, "version", lambda: "00000000 on Python 3.11")
    with pytest.raises(NoCluster, match="worker tcp://bench:1 has version .*install the same on both"):
        two._same_everywhere()
