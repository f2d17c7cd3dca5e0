"""Pulls at once: threads, forked and spawned processes, an event loop; the digits of one alone."""

from __future__ import annotations

import asyncio
import json
import multiprocessing
import os
import subprocess
import sys
import threading
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import pytest
from support import DEMO

import fejoint
from fejoint.meshing import gmsh_session
from fejoint.studies.sweeps import row as one_joint
from fejoint.studies.sweeps import workers

NAMES = ("hard-pin", "soft-pin")


def pulled(name):
    """Pull a demo joint a little way and return all that the answer says of it."""
    joint = fejoint.load(DEMO.with_name(f"{name}.toml")).replace("pull.stop_displacement", "0.3 mm")
    answer = json.loads(fejoint.pull(joint, refine=0.25).to_json())
    del answer["cost"], answer["digest"]
    return answer


@pytest.fixture(scope="module")
def alone():
    return {name: pulled(name) for name in NAMES}


def test_threads_that_pull_at_once_get_the_digits_of_one(alone):
    ready = threading.Barrier(4)

    def together(name):
        ready.wait(30.0)
        return pulled(name)

    with ThreadPoolExecutor(4) as threads:
        names = 2 * NAMES
        for name, answer in zip(names, threads.map(together, names), strict=True):
            assert answer == alone[name]


def test_the_first_pulls_of_a_process_may_be_in_threads():
    # in a process of its own, where nothing has been imported or compiled yet
    code = (
        "import sys, threading; sys.path.insert(0, sys.argv[1]); import fejoint\n"
        "joint = fejoint.load(sys.argv[2]).replace('pull.stop_displacement', '0.1 mm')\n"
        "loads = []\n"
        "def pull(): loads.append(fejoint.pull(joint, refine=0.25).trace.load.tobytes())\n"
        "threads = [threading.Thread(target=pull) for _ in range(3)]\n"
        "[t.start() for t in threads]; [t.join() for t in threads]\n"
        "assert len(loads) == 3 and len(set(loads)) == 1, len(loads)\n"
    )
    root = str(DEMO.parents[2])
    done = subprocess.run(
        [sys.executable, "-X", "faulthandler", "-c", code, root, str(DEMO)],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")


def test_an_event_loop_pulls_in_threads(alone):
    async def both():
        return await asyncio.gather(*(asyncio.to_thread(pulled, name) for name in NAMES))

    # in a thread of its own: other tests may have left a loop running in this one
    with ThreadPoolExecutor(1) as thread:
        found = thread.submit(lambda: asyncio.run(both())).result()
    assert dict(zip(NAMES, found, strict=True)) == alone


@pytest.mark.parametrize("method", ["spawn", "fork"])
def test_processes_pull_as_their_parent_does(alone, method):
    if method not in multiprocessing.get_all_start_methods():
        pytest.skip(f"this system knows no {method}")
    context = multiprocessing.get_context(method)
    with ProcessPoolExecutor(2, mp_context=context) as processes:
        assert dict(zip(NAMES, processes.map(pulled, NAMES), strict=True)) == alone


def test_another_library_s_processes_pull_as_their_parent_does(alone):
    joblib = pytest.importorskip("joblib")
    found = joblib.Parallel(n_jobs=2, backend="loky")(joblib.delayed(pulled)(n) for n in NAMES)
    assert dict(zip(NAMES, found, strict=True)) == alone


@pytest.mark.skipif(not hasattr(os, "fork"), reason="this system cannot fork")
def test_a_process_forked_while_a_thread_meshes_finds_the_mesher_free():
    open_, forked = threading.Event(), threading.Event()

    def mesh():
        with gmsh_session.session() as gmsh:
            open_.set()
            # a fork has to wait for the end of this
            assert not forked.wait(0.5)
            gmsh.model.geo.addPoint(0, 0, 0)

    thread = threading.Thread(target=mesh)
    thread.start()
    open_.wait(10.0)
    child = os.fork()
    if child == 0:
        import gmsh

        os._exit(0 if gmsh_session._TURN.acquire(timeout=5.0) and not gmsh.isInitialized() else 1)
    forked.set()
    thread.join()
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
    assert gmsh_session._TURN.acquire(timeout=5.0)
    gmsh_session._TURN.release()


def test_a_scheduler_s_worker_may_have_several_threads(joint_rows):
    from distributed import Client

    cases, settings, version, expected = joint_rows
    with Client(
        processes=False, n_workers=1, threads_per_worker=3, dashboard_address=None,
        set_as_default=False,
    ) as client:  # fmt: skip
        submit = workers.submitting(client)
        given = submit, iter(cases), one_joint.solve, settings, version, lambda: 6
        rows = dict(workers.finished(*given))
    assert {key: loads(row) for key, row in rows.items()} == expected


def test_a_thread_is_lent_no_plate_that_another_may_be_pulling_on(joint_rows):
    (_, case), *_ = joint_rows[0]
    first = one_joint.solve(case, joint_rows[1])
    again = one_joint.solve(case, joint_rows[1])
    with ThreadPoolExecutor(1) as threads:
        there = threads.submit(one_joint.solve, case, joint_rows[1]).result()
    lent = "ear's face section, shank's face section"
    assert (again["reused"], there["reused"]) == (lent, "")
    assert first["load_N"] == again["load_N"] == there["load_N"]


def test_a_row_tells_the_same_whatever_was_solved_before_it_but_for_its_cost(joint_rows):
    (_, case), *_ = joint_rows[0]
    settings = joint_rows[1]
    further = fejoint.load(DEMO).replace("ear.hole", 4.1).replace("shank.width", 15.0)
    one_joint.forget()
    alone = one_joint.solve(case, settings)
    one_joint.forget()
    one_joint.solve(further.to_dict(), settings)  # more is asked of the shank
    shared = one_joint.solve(case, settings)
    assert "shank" in shared["reused"]
    assert loads(shared | {"state": "solved"}) == loads(alone | {"state": "solved"})
    assert shared["factorisations"] > alone["factorisations"]


def loads(row):
    assert row["state"] == "solved", row["reason"]
    return {name: value for name, value in row.items() if name not in one_joint.COST}


@pytest.fixture(scope="module")
def joint_rows():
    short = fejoint.load(DEMO).replace("pull.stop_displacement", "0.2 mm")
    # each ear twice, beside another shank: threads must not share a plate that goes on
    cases = [
        (f"{hole} {width}", short.replace("ear.hole", hole).replace("shank.width", width).to_dict())
        for width in (15.0, 16.0)
        for hole in (4.1, 4.2, 4.3)
    ]
    settings, version = {"refine": 0.25, "whole": True}, one_joint.version_of(one_joint.solve)
    expected = {
        k: loads(one_joint.attempt(one_joint.solve, c, settings, version)) for k, c in cases
    }
    return cases, settings, version, expected
