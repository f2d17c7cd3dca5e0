"""The pool of solvers and what listens to it, without any process."""

from __future__ import annotations

import asyncio
from concurrent.futures import ThreadPoolExecutor
from types import SimpleNamespace

import pytest

from fejoint.errors import BadInput
from fejoint.page import listeners, proof, serve, server, solver_pool, worker
from fejoint.page.jobs import Refused
from fejoint.page.solver_pool import SolverPool, _Hand


class Process:
    def __init__(self):
        self.ended = []

    def terminate(self):
        self.ended.append("terminated")

    def kill(self):
        self.ended.append("killed")

    def join(self, seconds):
        pass


class Link:
    def __init__(self, *words, broken=False):
        self.words, self.broken, self.sent = list(words), broken, []

    def send(self, word):
        if self.broken:
            raise BrokenPipeError
        self.sent.append(word)

    def recv(self):
        if not self.words:
            raise EOFError
        return self.words.pop(0)

    def close(self):
        pass


def staffed(**how) -> SolverPool:
    """A pool whose one worker is ready, and nothing but a name."""
    pool = SolverPool(1)
    pool._loop = asyncio.get_running_loop()
    pool._hands = [_Hand(0, Process(), Link(**how), SimpleNamespace(value=0), ready=True)]
    return pool


def run(test):
    # in a thread: a browser's test may have left a loop running in this one
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(lambda: asyncio.run(asyncio.wait_for(test(), 5.0))).result()


def refusal(future) -> tuple[int, str]:
    error = future.exception()
    assert isinstance(error, Refused)
    return error.status, error.content["message"]


def test_a_page_that_closes_refuses_what_waits_and_what_comes():
    async def test():
        pool = staffed()
        _, busy = pool.pull({}, refine=0.35)
        _, waits = pool.pull({}, refine=0.35)
        pool.close()
        for job in (busy, waits):
            assert refusal(job.answer) == (503, "the page is closing")
        assert pool._hands[0].process.ended == ["terminated"]
        with pytest.raises(Refused, match="too many solves wait"):
            pool.pull({}, refine=0.35)

    run(test)


def test_more_than_so_many_waiting_solves_are_put_off(monkeypatch):
    monkeypatch.setattr(solver_pool, "MOST_WAITING", 2)

    async def test():
        pool = staffed()
        for _ in range(3):
            pool.pull({}, refine=0.35)
        assert pool.state == {"workers": 1, "ready": 1, "busy": 1, "waiting": 2}
        with pytest.raises(Refused, match="too many solves wait"):
            pool.pull({}, refine=0.35)

    run(test)


def test_a_worker_that_cannot_be_told_is_replaced(monkeypatch):
    fresh = _Hand(0, Process(), Link(), SimpleNamespace(value=0))
    monkeypatch.setattr(SolverPool, "_hire", lambda self, place: fresh)

    async def test():
        pool = staffed(broken=True)
        _, job = pool.pull({}, refine=0.35)
        assert refusal(job.answer)[0] == 500
        assert pool._hands == [fresh]

    run(test)


def test_a_worker_that_answers_never_is_killed(monkeypatch):
    monkeypatch.setattr(solver_pool, "GRACE", 0.01)

    async def test():
        pool = staffed()
        pool.seconds = 0.0
        pool.pull({}, refine=0.35)
        await asyncio.sleep(0.05)
        assert pool._hands[0].process.ended == ["killed"]

    run(test)


def test_a_word_of_a_job_that_is_past_is_passed_over():
    async def test():
        pool = staffed()
        hand = pool._hands[0]
        _, job = pool.pull({}, refine=0.35)
        pool._hear(hand, (job.number + 1, "failed", {"status": 500}))
        assert hand.busy is job
        assert not job.answer.done()

    run(test)


def test_only_so_many_answers_are_known(monkeypatch):
    monkeypatch.setattr(solver_pool, "KNOWN", 2)

    async def test():
        pool, names = staffed(), []
        for _ in range(3):
            name, job = pool.pull({}, refine=0.35, key=("tab", str(len(names))))
            names.append(name)
            told = {"json": "{}", "cut_N": None, "enough_N": 5.0}
            pool._hear(pool._hands[0], (job.number, "answer", told))
            assert await job.answer == ("{}", None)
            pool._hear(pool._hands[0], (job.number, "scene", b"scene"))
        assert list(pool._homes) == names[1:]
        assert [key for _, key in pool._enough] == ["1", "2"]
        with pytest.raises(Refused):
            await pool.ask(names[0], "json")

    run(test)


def test_a_listening_thread_ends_with_the_event_loop():
    async def test():
        return staffed()

    pool = run(test)
    link = pool._hands[0].link
    link.words = [(1, "progress", {}), (2, "progress", {})]
    pool._listen(pool._hands[0])
    assert link.words == [(2, "progress", {})]


def test_only_so_many_tabs_listen(monkeypatch):
    monkeypatch.setattr(listeners, "MOST", 2)
    room = listeners.Listeners()
    first = room.join("a")
    room.join("b")
    with pytest.raises(Refused, match="too many pages listen"):
        room.join("c")
    assert room.join("a") is not first  # one that listens already may come back


def test_a_silent_line_is_kept_open(monkeypatch):
    async def soon(waiting, seconds):
        waiting.close()
        assert seconds < 60.0
        raise TimeoutError

    async def test():
        room = listeners.Listeners()
        state = SimpleNamespace(listeners=room)
        request = SimpleNamespace(path_params={"tab": "a"}, app=SimpleNamespace(state=state))
        words = (await server._progress(request)).body_iterator
        assert await anext(words) == ": listening\n\n"
        with monkeypatch.context() as patched:
            patched.setattr(server.asyncio, "wait_for", soon)
            assert await anext(words) == ": still here\n\n"
        room.tell("a", {"load_N": 5.0})
        assert await anext(words) == 'data: {"load_N": 5.0}\n\n'
        await words.aclose()
        assert room._queues == {}

    run(test)


def test_a_reader_is_gone_only_when_it_says_so():
    left = ["http.request", "http.request", "http.disconnect", "never asked for"]

    async def receive():
        return {"type": left.pop(0)}

    run(lambda: server._disconnected(SimpleNamespace(receive=receive)))
    assert left == ["never asked for"]


@pytest.fixture
def quiet_worker(monkeypatch):
    """Let a worker's loop run here without its warm-up and its limits."""
    monkeypatch.setattr(worker, "begin", lambda: None)
    monkeypatch.setattr(worker, "_hold_memory", lambda: None)
    monkeypatch.setattr(worker, "_warm", lambda: None)


def test_a_worker_ends_when_the_page_does(quiet_worker, monkeypatch):
    link = Link({"number": 1, "kind": "json", "id": "nobody's"})
    worker.main(link, SimpleNamespace(value=0))
    assert link.sent[0] == (0, "ready", None)
    assert link.sent[1][:2] == (1, "failed")
    assert link.sent[1][2]["status"] == 410

    def unheard(*_):
        raise BrokenPipeError

    monkeypatch.setattr(worker, "_serve", unheard)
    link = Link({"number": 1}, {"number": 2})
    worker.main(link, SimpleNamespace(value=0))
    assert len(link.words) == 1


def test_a_system_that_sets_no_limit_still_gets_its_page(monkeypatch):
    import resource

    asked = []

    def refuses(*wanted):
        asked.append(wanted)
        raise ValueError

    monkeypatch.setattr(resource, "setrlimit", refuses)
    worker._hold_memory()
    assert len(asked) == 1


@pytest.mark.parametrize(
    ("seconds", "value", "error"),
    [(-1.0, 0, worker.TooLong), (60.0, 7, worker.Dropped)],
)
def test_a_solve_ends_when_it_takes_too_long_or_is_not_wanted(monkeypatch, seconds, value, error):
    from fejoint.analysis import pull

    monkeypatch.setattr("fejoint.joint.model.read", lambda case: case)
    monkeypatch.setattr(pull, "pull", lambda *_, watch, **__: watch("ear", None, 0, 0.0))
    monkeypatch.setattr(worker, "_pulled", lambda joint, enough, solve: solve(joint))
    job = {"number": 7, "seconds": seconds, "case": None, "enough_N": None, "refine": 1, "pace": 1}
    shelf = SimpleNamespace(plates=None)
    with pytest.raises(error):
        worker._pull(job, shelf, SimpleNamespace(value=value), lambda *_: None)


def test_a_pull_dropped_at_its_end_sends_its_answer_and_no_picture(monkeypatch):
    said, dropped = [], SimpleNamespace(value=0)
    answer = SimpleNamespace(to_json=lambda: "{}")

    def pulled(*_):
        dropped.value = 7
        return answer, None

    monkeypatch.setattr("fejoint.joint.model.read", lambda case: case)
    monkeypatch.setattr(worker, "_pulled", pulled)
    monkeypatch.setattr(worker, "_enough", lambda _: None)
    job = {"number": 7, "seconds": 60.0, "case": None, "enough_N": None, "id": "x", "refine": 1.0}
    shelf = SimpleNamespace(plates=None, keep=lambda *_: None)
    with pytest.raises(worker.Dropped):
        worker._pull(job, shelf, dropped, lambda kind, _: said.append(kind))
    assert said == ["answer"]


def test_the_page_opens_the_browser_warns_of_strangers_and_ends_on_ctrl_c(monkeypatch, capsys):
    import uvicorn

    opened = []

    def stopped(self, sockets):
        sockets[0].close()
        raise KeyboardInterrupt

    monkeypatch.setattr(uvicorn.Server, "run", stopped)
    monkeypatch.setattr(serve.webbrowser, "open", opened.append)
    assert serve.run("127.0.0.1", 0, open_browser=True) == 0
    told = capsys.readouterr()
    assert opened[0] in told.out
    assert told.err == ""
    assert serve.run("0.0.0.0", 0, open_browser=False) == 0
    assert "warning: 0.0.0.0 can be reached from other machines" in capsys.readouterr().err
    assert len(opened) == 1
    with pytest.raises(BadInput, match="cannot be bound"):
        serve.run("127.0.0.1", 99_999, open_browser=False)


def test_a_mean_over_slices_leaves_out_what_could_not_be_let_go():
    import numpy as np

    places, weights = np.array([2.0, 3.5, 5.0]), np.array([1.0, 2.0, 1.0])
    assert proof._mean(float, places, weights) == pytest.approx(3.5)
    assert proof._mean(lambda k: None, places, weights) is None
    assert proof._mean(lambda k: 0.25 if k == 3 else None, places, weights) == 0.25
    assert proof._between(float, 2.25, 9) == pytest.approx(2.25)
    assert proof._between(float, 2.0, 9) == 2.0
    assert proof._between(float, 8.5, 9) == 8.0  # nothing lies beyond the path's end
    assert proof._between(lambda k: None, 2.5, 9) is None
