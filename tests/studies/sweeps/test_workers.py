"""Where joints are solved: threads, interrupts, and what a scheduler may do to a joint in hand."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import Future
from types import SimpleNamespace

import pytest
from support import DEMO, cheap
from support.hostile import PYTHON, surroundings

from fejoint.errors import BadInput, SolveStopped
from fejoint.studies.sweeps import row as one_joint
from fejoint.studies.sweeps import workers
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.variation import parse
from fejoint.system.processes import NoProcess, pool


def test_a_thread_sweeps_too_and_leaves_ctrl_c_alone(joint):
    before, seen = signal.getsignal(signal.SIGINT), []

    def sweep():
        rows = Plan(joint, (parse("ear.width=14 mm"),))
        for processes in (0, 2):
            seen.append(run(rows, {}, model=cheap.closed_form, workers=processes).solved)

    thread = threading.Thread(target=sweep)
    thread.start()
    thread.join()
    assert seen == [1, 1]
    assert signal.getsignal(signal.SIGINT) is before


@pytest.fixture(scope="module")
def threads():
    from distributed import Client

    with Client(
        processes=False, n_workers=1, threads_per_worker=2, dashboard_address=None,
        set_as_default=False,
    ) as client:  # fmt: skip
        yield client


def handed_out(submit, joint):
    version = one_joint.version_of(cheap.closed_form)
    jobs = iter([("one", joint.to_dict()), ("two", joint.to_dict())])
    return dict(workers.finished(submit, jobs, cheap.closed_form, {}, version, lambda: 8))


def test_fewer_joints_than_hands_are_all_solved(threads, joint):
    rows = handed_out(workers.submitting(threads), joint)
    assert {k: row["state"] for k, row in rows.items()} == {"one": "solved", "two": "solved"}


def test_a_joint_lost_with_its_workers_is_a_row_that_says_so(threads, joint):
    submit = workers.submitting(threads)
    rows = handed_out(lambda *_: submit(int, "killed too often"), joint)
    assert {row["state"] for row in rows.values()} == {"lost"}
    assert "several times over: invalid literal" in rows["one"]["reason"]


def test_a_row_lost_as_it_was_fetched_is_solved_once_more(threads, joint):
    submit, failed = workers.submitting(threads), []

    def stumbles(function, *given):
        if failed:
            return submit(function, *given)
        failed.append(submit(int, "a worker gone at the wrong moment"))
        return failed[0]

    rows = handed_out(stumbles, joint)
    assert {key: row["state"] for key, row in rows.items()} == {"one": "solved", "two": "solved"}


def test_a_joint_that_killed_its_workers_is_not_handed_out_again(joint):
    from distributed.scheduler import KilledWorker

    handed = []

    def kills(*_):
        handed.append(Future())
        handed[-1].set_exception(KilledWorker("a joint", SimpleNamespace(address="here"), 3))
        return handed[-1]

    rows = handed_out(kills, joint)
    assert {row["state"] for row in rows.values()} == {"lost"}
    assert len(handed) == 2


def test_a_joint_that_takes_its_process_every_time_is_a_row_that_says_so(joint):
    rows = Plan(joint, (parse("ear.width=14,15,16 mm"),))
    frame = run(rows, {}, model=cheap.dies_on_wide, workers=2).frame
    assert list(frame["state"]) == ["solved", "lost", "lost"]
    assert frame["reason"][1] == "lost with its process, 2 times over"


def test_where_no_process_starts_the_sweep_ends_and_says_so(joint):
    failed = Future()
    failed.set_exception(NoProcess("no worker process can be started"))
    with pytest.raises(NoProcess, match="can be started"):
        handed_out(lambda *_: failed, joint)


def test_a_lost_scheduler_ends_the_sweep_with_what_to_do(threads, joint):
    submit, begun = workers.submitting(threads), []

    def cancelled(*_):
        begun.append(threads.submit(time.sleep, 0.5, pure=False))
        executor = threads.get_executor(pure=False)
        future = executor._wrap_future(begun[-1])
        begun[-1].cancel()
        return future

    assert submit(abs, -1).result() == 1
    with pytest.raises(SolveStopped, match="connection to the scheduler is lost"):
        handed_out(cancelled, joint)


def test_a_scheduler_without_workers_is_told_and_goes_on_when_one_comes(joint, monkeypatch, caplog):
    from distributed import LocalCluster

    monkeypatch.setattr(workers, "LOOK", 0.1)
    with LocalCluster(n_workers=0, processes=False, dashboard_address=":0") as cluster:
        come = threading.Timer(1.0, cluster.scale, [1])
        come.start()
        rows = Plan(joint, (parse("ear.width=14,15 mm"),))
        where = cluster.scheduler_address
        table = run(rows, {}, model=cheap.closed_form, scheduler=where)
    assert list(table.frame["state"]) == ["solved", "solved"]
    told = [record.getMessage() for record in caplog.records if record.name == "fejoint"]
    assert told[0].startswith("the scheduler has no workers: waiting for some; start workers by")
    assert told[1:] in ([], ["the scheduler has 1 worker now: going on"])  # or it ends before


def test_the_joints_in_hand_follow_the_workers_and_each_change_is_told_once(caplog):
    class Changes:
        counts = iter([0, 0, 2, 3, 0, 1])

        def scheduler_info(self, n_workers):
            count = next(self.counts, 7)
            return {"n_workers": count, "total_threads": 3 * count, "workers": {}}

    watch = workers.Watch(Changes(), every=0.01)
    wait_until(lambda: watch.threads == 21)
    watch.end()
    told = [record.getMessage().partition(":")[0] for record in caplog.records]
    none, some = "the scheduler has no workers", "the scheduler has {} now"
    assert told == [none, some.format("2 workers"), none, some.format("1 worker")]


def test_nothing_is_told_of_a_scheduler_that_has_workers(threads, caplog):
    watch = workers.Watch(threads, every=0.01)
    wait_until(lambda: watch.threads == 2)
    time.sleep(0.2)
    watch.end()
    assert [r for r in caplog.records if r.name == "fejoint"] == []


def test_a_lost_scheduler_is_told_in_one_line(tmp_path):
    where = tmp_path / "scheduler.json"
    command = [sys.executable, "-m", "distributed.cli.dask_scheduler", "--port", "0",
               "--no-dashboard", "--scheduler-file", str(where)]  # fmt: skip
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    with subprocess.Popen(command, env=surroundings(), **quiet) as scheduler:
        wait_until(where.exists)
        address = json.loads(where.read_text())["address"]
        words = ["sweep", str(DEMO), "--vary", "ear.hole=4.1,4.2 mm", "--json",
                 "--scheduler", address, "--out", str(tmp_path / "out")]  # fmt: skip
        with subprocess.Popen(
            [*PYTHON, *words], env=surroundings(), stderr=subprocess.PIPE, text=True
        ) as sweep:
            said = [sweep.stderr.readline(), sweep.stderr.readline()]
            scheduler.kill()
            said += sweep.stderr.read().splitlines(keepends=True)
    assert "2 joints: about" in said[0]
    assert "has no workers: waiting" in said[1]
    assert said[2:] == ["the connection to the scheduler is lost; run it again to resume\n"]
    assert sweep.returncode == 3


def wait_until(true):
    end = time.monotonic() + 60.0
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


def test_no_more_joints_are_in_hand_than_was_said(joint):
    version, most = one_joint.version_of(cheap.closed_form), []
    taken = []

    def jobs():
        for k in range(9):
            taken.append(k)
            yield str(k), joint.to_dict()

    with pool(0) as submit:
        for done, _ in enumerate(
            workers.finished(submit, jobs(), cheap.closed_form, {}, version, lambda: 3)
        ):
            most.append(len(taken) - done)
    assert len(most) == 9
    assert max(most) <= 3


def test_workers_of_another_version_are_refused():
    class Other:
        def run(self, function, model):
            return {"tcp://10.0.0.1:1": "7", "tcp://10.0.0.2:1": "8"}

    with pytest.raises(BadInput, match=r"10\.0\.0\.2:1: runs fejoint 8, and this process 7"):
        workers._same_version(Other(), cheap.closed_form, "7")
