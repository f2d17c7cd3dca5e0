"""Where joints are solved: threads, interrupts, and what a scheduler may do to a joint in hand."""

from __future__ import annotations

import signal
import threading
import time

import pytest
from support import cheap

from fejoint.errors import BadInput, SolveStopped
from fejoint.studies.sweeps import row as one_joint
from fejoint.studies.sweeps import workers
from fejoint.studies.sweeps.plan import Plan
from fejoint.studies.sweeps.run import run
from fejoint.studies.sweeps.variation import parse


def test_a_thread_sweeps_too_and_leaves_ctrl_c_alone(joint):
    before, seen = signal.getsignal(signal.SIGINT), []

    def sweep():
        with workers._deaf_children():
            seen.append(signal.getsignal(signal.SIGINT) is before)
        rows = Plan(joint, (parse("ear.width=14 mm"),))
        seen.append(run(rows, {}, model=cheap.closed_form, workers=0).solved)

    thread = threading.Thread(target=sweep)
    thread.start()
    thread.join()
    assert seen == [True, 1]


class Threads:
    """A scheduler's connection whose worker is a thread here."""

    def __init__(self, client):
        self._client = client
        self.loop, self.scheduler_info = client.loop, client.scheduler_info

    def submit(self, function, *arguments, key):
        return self._client.submit(function, *arguments, key=key)


class Cancelling(Threads):
    def submit(self, function, *arguments, key):
        future = self._client.submit(time.sleep, 0.5, key=key)
        future.cancel()
        return future


class Losing(Threads):
    def submit(self, function, *arguments, key):
        return self._client.submit(int, "killed too often", key=key)


@pytest.fixture(scope="module")
def threads():
    from distributed import Client

    with Client(
        processes=False, n_workers=1, threads_per_worker=1, dashboard_address=None,
        set_as_default=False,
    ) as client:  # fmt: skip
        yield client


def handed_out(connected, joint):
    version = one_joint.version_of(cheap.closed_form)
    jobs = iter([("one", joint.to_dict()), ("two", joint.to_dict())])
    return dict(workers._on_workers(connected, jobs, cheap.closed_form, {}, version))


def test_fewer_joints_than_hands_are_all_solved(threads, joint):
    rows = handed_out(Threads(threads), joint)
    assert {k: row["state"] for k, row in rows.items()} == {"one": "solved", "two": "solved"}


def test_a_joint_lost_with_its_workers_is_a_row_that_says_so(threads, joint):
    rows = handed_out(Losing(threads), joint)
    assert {row["state"] for row in rows.values()} == {"lost"}
    assert "several times over: invalid literal" in rows["one"]["reason"]


def test_a_lost_scheduler_ends_the_sweep_with_what_to_do(threads, joint):
    with pytest.raises(SolveStopped, match="connection to the scheduler is lost"):
        handed_out(Cancelling(threads), joint)


def test_workers_of_another_version_are_refused():
    class Other:
        def run(self, function, model):
            return {"tcp://10.0.0.1:1": "7", "tcp://10.0.0.2:1": "8"}

    with pytest.raises(BadInput, match=r"10\.0\.0\.2:1: runs fejoint 8, and this process 7"):
        workers._same_version(Other(), cheap.closed_form, "7")
