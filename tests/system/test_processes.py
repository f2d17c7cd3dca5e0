"""Worker processes: how they start, what they survive, and how they end."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time

import psutil
import pytest
from support import ROOT, jobs

from fejoint.system import processes
from fejoint.system.processes import NoProcess, ProcessLost, pool

FREE = {name: value for name, value in os.environ.items() if name not in processes.THREADS} | {
    "OPENBLAS_NUM_THREADS": "2",
    "PYTHONPATH": os.pathsep.join([str(ROOT / "tests"), str(ROOT)]),
}
"""The environment of a user whose libraries take two threads."""


def run(tmp_path, text):
    """Run a script of a user's."""
    script = tmp_path / "script.py"
    script.write_text(text)
    return subprocess.run(
        [sys.executable, script], capture_output=True, text=True, timeout=120, env=FREE, check=False
    )


def test_work_done_here_is_done_as_it_is_handed_out(tmp_path):
    log = tmp_path / "log"
    with pool(0) as submit:
        done = submit(jobs.note, str(log), "one")
        assert log.read_text() == "one\n"
        failed = submit(float, "much")
    assert done.result() == "one"
    with pytest.raises(ValueError, match="much"):
        failed.result()


def test_ctrl_c_during_work_done_here_is_no_result_of_it():
    with pool(0) as submit, pytest.raises(KeyboardInterrupt):
        submit(signal.raise_signal, signal.SIGINT)


SAYING_HOW = """
import numpy as np, os, signal
from fejoint.system import processes
from support import jobs

if __name__ == "__main__":
    before = dict(os.environ)
    with processes.pool(1) as submit:
        said = [submit(os.getenv, name) for name in processes.THREADS]
        threads, deaf = submit(jobs.most_threads), submit(signal.getsignal, signal.SIGINT)
    print(*(s.result() for s in said), threads.result(), deaf.result() is signal.SIG_IGN)
    print(before == dict(os.environ), signal.getsignal(signal.SIGINT) is signal.SIG_IGN)
    print(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ()))
"""


def test_a_worker_has_one_thread_and_no_ctrl_c_and_its_parent_stays_as_it_was(tmp_path):
    done = run(tmp_path, SAYING_HOW)
    assert done.stdout == "1 1 1 1 1 True\nTrue False\nFalse\n", done.stderr


def test_a_job_that_takes_its_process_twice_is_lost_and_no_other_is(tmp_path):
    log = tmp_path / "log"
    with pool(2) as submit:
        long = submit(jobs.note, str(log), "long", 4.0)
        bad = submit(jobs.die, str(log), "bad")
        after = [submit(jobs.note, str(log), f"after {k}") for k in range(3)]
        with pytest.raises(ProcessLost, match="lost with its process, 2 times over"):
            bad.result()
        assert [f.result() for f in after] == ["after 0", "after 1", "after 2"]
        assert long.result() == "long"
    assert sorted(log.read_text().splitlines()) == [
        "after 0", "after 1", "after 2", "bad", "bad", "long",
    ]  # fmt: skip


def test_a_process_that_is_killed_from_outside_has_its_job_done_by_a_new_one(tmp_path):
    log = tmp_path / "log"
    with pool(1) as submit:
        first = submit(os.getpid).result()
        job = submit(jobs.note, str(log), "again", 2.0)
        while not (log.exists() and log.read_text()):
            time.sleep(0.01)
        os.kill(first, signal.SIGKILL)
        assert job.result() == "again"
        assert submit(os.getpid).result() != first
    assert log.read_text() == "again\nagain\n"


def test_what_a_job_raises_is_raised_by_its_future():
    with pool(1) as submit:
        failed, fine = submit(float, "much"), submit(float, "1")
        with pytest.raises(ValueError, match="much"):
            failed.result()
        assert fine.result() == 1.0


HURRY_AWAY = """
import time
from multiprocessing import active_children
from fejoint.system.processes import pool

if __name__ == "__main__":
    try:
        with pool(2) as submit:
            submit(time.sleep, 0.0).result()
            begun = [submit(time.sleep, 60.0) for _ in range(5)]
            raise KeyboardInterrupt
    except KeyboardInterrupt:
        print("left", len(active_children()))
"""


def test_a_pool_that_is_left_in_haste_leaves_no_process_behind(tmp_path):
    begun = time.monotonic()
    done = run(tmp_path, HURRY_AWAY)
    assert (done.stdout, done.stderr) == ("left 0\n", "")
    assert time.monotonic() - begun < 45.0


UNGUARDED = """
from fejoint.system.processes import pool
with pool(1) as submit:
    print(submit(float, "1").result())
"""


def test_a_script_that_its_own_workers_would_run_again_is_told_so(tmp_path):
    done = run(tmp_path, UNGUARDED)
    assert done.stdout == ""
    told = f"{NoProcess.__name__}: no worker process can be started; a script that asks for some "
    told += 'needs `if __name__ == "__main__":` around its calls'
    # the worker, running the script once more, ends likewise: it takes no job for a lost one
    assert done.stderr.count(told) == 2


ALONE = """
import os, sys, time
from fejoint.system.processes import pool

if __name__ == "__main__":
    try:
        with pool(2) as submit:
            busy = submit(time.sleep, 60.0)
            print(submit(os.getpid).result(), flush=True)
            busy.result()
    except KeyboardInterrupt:
        print("stopped", flush=True)
"""


def start(tmp_path):
    script = tmp_path / "alone.py"
    script.write_text(ALONE)
    return subprocess.Popen(
        [sys.executable, script], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env=FREE, start_new_session=True,
    )  # fmt: skip


def test_workers_end_quietly_when_their_parent_is_killed(tmp_path):
    process = start(tmp_path)
    process.stdout.readline()
    workers = psutil.Process(process.pid).children(recursive=True)
    assert len(workers) >= 2
    process.kill()
    _, errors = process.communicate(timeout=60)
    _, alive = psutil.wait_procs(workers, timeout=20.0)
    assert alive == []
    # the standard library's tracker counts the semaphores that a killed process leaves behind
    assert "Traceback" not in errors


@pytest.mark.parametrize("wait", [0.3, 0.6, 5.0])
def test_ctrl_c_of_a_terminal_ends_all_and_no_worker_says_a_word(tmp_path, wait):
    process = start(tmp_path)
    if wait > 1.0:
        process.stdout.readline()
    else:  # while the workers start
        deadline = time.monotonic() + 30.0
        while len(psutil.Process(process.pid).children()) < 2 and time.monotonic() < deadline:
            time.sleep(0.005)
        time.sleep(wait - 0.3)
    os.killpg(process.pid, signal.SIGINT)
    out, errors = process.communicate(timeout=60)
    assert (out.splitlines()[-1:], errors) == (["stopped"], "")


AT_ONCE = """
import threading
from fejoint.system.processes import one_thread
from support.jobs import most_threads
from threadpoolctl import threadpool_limits

inside, leave, outside, free = (threading.Event() for _ in range(4))

def first():
    with one_thread():
        inside.set()
        leave.wait(10.0)
    outside.set()
    free.wait(10.0)
    with threadpool_limits(1):
        said.append(most_threads())

said = [most_threads()]
thread = threading.Thread(target=first)
thread.start()
inside.wait(10.0)
with one_thread():
    leave.set()
    outside.wait(10.0)
    said.append(most_threads())
said.append(most_threads())
free.set()
thread.join()
print(*said, most_threads())
"""


@pytest.mark.skipif(processes.cores() < 2, reason="one core has one thread anyway")
def test_solves_at_once_have_one_thread_until_the_last_is_done(tmp_path):
    done = run(tmp_path, AT_ONCE)
    # before, while the second still solves, afterwards, whoever limits it then, and at the end
    assert done.stdout == "2 1 2 1 2\n", done.stderr


MASKED = """
import signal, time
from multiprocessing import get_context, parent_process
from fejoint.system import processes

def work(link):
    link.send(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, ()))
    processes.begin()
    link.send(0)
    time.sleep(60.0)

if __name__ == "__main__":
    context = get_context("spawn")
    here, there = context.Pipe()
    with processes.holding_ctrl_c():
        context.Process(target=work, args=(there,), daemon=True).start()
    print(here.recv(), here.recv(), flush=True)
    time.sleep(60.0)
"""


def test_a_worker_that_is_no_pool_s_starts_deaf_and_ends_with_its_parent_too(tmp_path):
    script = tmp_path / "masked.py"
    script.write_text(MASKED)
    with subprocess.Popen(
        [sys.executable, script], stdout=subprocess.PIPE, text=True, env=FREE
    ) as p:
        assert p.stdout.readline() == "True 0\n"
        children = psutil.Process(p.pid).children()
        p.kill()
    _, alive = psutil.wait_procs(children, timeout=20.0)
    assert alive == []


@pytest.mark.parametrize("told", [True, False])
def test_there_are_as_many_processes_as_cores(monkeypatch, told):
    monkeypatch.setattr(os, "cpu_count", lambda: 7)
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0, 4, 5}, raising=False)
    if not told:
        monkeypatch.delattr(os, "sched_getaffinity")
    assert processes.cores() == (3 if told else 7)
