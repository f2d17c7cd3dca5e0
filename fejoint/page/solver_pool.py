"""Worker processes for the page: the newest change of a tab takes the place of its older ones."""

from __future__ import annotations

import asyncio
import multiprocessing
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from fejoint.page import worker
from fejoint.page.jobs import Job, Refused
from fejoint.system.processes import holding_ctrl_c

SECONDS = 60.0
"""Time that one solve may take."""
GRACE = 10.0
"""Further seconds after which a worker that does not answer is ended."""
MOST_WAITING = 32
"""Jobs that may wait; one more is refused."""
SCENES = 24
"""Packed scenes kept for fetching."""
KNOWN = 256
"""Answers whose worker is remembered."""


@dataclass(eq=False)
class _Hand:
    """One worker process as seen from here."""

    place: int
    process: Any
    link: Any
    dropped: Any
    busy: Job | None = None
    ready: bool = False
    alarm: asyncio.TimerHandle | None = None


@dataclass(eq=False)
class SolverPool:
    """Runs jobs in worker processes; all methods belong to the event loop's thread.

    Attributes
    ----------
    size : int
        Worker processes.
    seconds : float
        Time that one solve may take.
    """

    size: int = 2
    seconds: float = SECONDS
    _hands: list[_Hand] = field(default_factory=list)
    _waiting: list[Job] = field(default_factory=list)
    _number: int = 0
    _homes: OrderedDict[str, tuple[int, Any]] = field(default_factory=OrderedDict)
    _enough: OrderedDict[tuple[str, str], float] = field(default_factory=OrderedDict)
    _scenes: OrderedDict[str, asyncio.Future[bytes]] = field(default_factory=OrderedDict)
    _closed: bool = False

    def start(self) -> None:
        """Start the workers; they warm up by themselves."""
        self._loop = asyncio.get_running_loop()
        self._context = multiprocessing.get_context("spawn")
        for place in range(self.size):
            self._hands.append(self._hire(place))

    def close(self) -> None:
        """End every worker and refuse what still waits."""
        self._closed = True
        for job in [*self._waiting, *(h.busy for h in self._hands if h.busy)]:
            self._refuse(job, 503, "the page is closing")
        self._waiting.clear()
        for hand in self._hands:
            hand.process.terminate()
            hand.process.join(5.0)
            hand.link.close()

    def pull(
        self,
        case: Mapping[str, Any],
        *,
        refine: float,
        pace: float = 1.0,
        key: tuple[str, str] | None = None,
        rank: int = 0,
        tell: Callable[[dict[str, Any]], None] = lambda _: None,
    ) -> tuple[str, Job]:
        """Queue a pull and return the answer's name, and the job whose `answer` to await.

        Raises
        ------
        Refused
            If too many wait.
        """
        if key is not None:
            self.drop(key)
        name = secrets.token_urlsafe(12)
        order = {
            "kind": "pull", "case": dict(case), "refine": refine, "pace": pace, "id": name,
            "seconds": self.seconds,
            "enough_N": self._enough.get(key) if key is not None and rank == 0 else None,
        }  # fmt: skip
        job = self._queue(order, rank, key, None, tell)
        job.scene = self._loop.create_future()
        _quiet(job.scene)
        self._scenes[name] = job.scene
        while len(self._scenes) > SCENES:
            self._scenes.popitem(last=False)
        return name, job

    async def scene(self, name: str) -> bytes:
        """Return the packed scene of an answer, waiting for it where it is on its way."""
        if name not in self._scenes:
            raise _gone()
        return await asyncio.shield(self._scenes[name])

    async def ask(self, name: str, kind: str, **order: Any) -> Any:
        """Let the worker that holds an answer do something with it, and return what comes.

        Raises
        ------
        Refused
            If the answer is gone, too many jobs wait, or the worker failed.
        """
        place, process = self._homes.get(name, (-1, None))
        if place < 0 or self._hands[place].process is not process:
            raise _gone()
        job = self._queue({"kind": kind, "id": name, **order}, 0, None, place, lambda _: None)
        return await job.answer

    def drop(self, key: tuple[str, str]) -> None:
        """Forget what a tab asked for at a place, whether it waits or is being solved."""
        for job in [j for j in self._waiting if j.key == key]:
            self._waiting.remove(job)
            self._refuse(job, 409, "a newer change took its place")
        for hand in self._hands:
            if hand.busy is not None and hand.busy.key == key:
                hand.dropped.value = hand.busy.number

    def drop_job(self, job: Job) -> None:
        """Forget one job."""
        if job in self._waiting:
            self._waiting.remove(job)
            self._refuse(job, 409, "not wanted any more")
        for hand in self._hands:
            if hand.busy is job:
                hand.dropped.value = job.number

    @property
    def state(self) -> dict[str, int]:
        """How many workers are ready, how many are busy, and how many jobs wait."""
        return {
            "workers": len(self._hands),
            "ready": sum(h.ready for h in self._hands),
            "busy": sum(h.busy is not None for h in self._hands),
            "waiting": len(self._waiting),
        }

    def _queue(
        self,
        order: dict[str, Any],
        rank: int,
        key: tuple[str, str] | None,
        only: int | None,
        tell: Callable[[dict[str, Any]], None],
    ) -> Job:
        if self._closed or len(self._waiting) >= MOST_WAITING:
            raise Refused(503, {"message": "too many solves wait; try again in a moment"})
        self._number += 1
        order["number"] = self._number
        job = Job(self._number, order, rank, key, only, tell, self._loop.create_future())
        _quiet(job.answer)
        self._waiting.append(job)
        self._hand_out()
        return job

    def _hand_out(self) -> None:
        """Give waiting jobs to idle workers, coarse first; one worker is kept free of fine ones."""
        for job in sorted(self._waiting, key=lambda j: (j.rank, j.number)):
            idle = [h for h in self._hands if h.ready and h.busy is None]
            fine = sum(h.busy is not None and h.busy.rank > 0 for h in self._hands)
            if job.rank > 0 and fine >= max(1, self.size - 1):
                continue
            fit = [h for h in idle if job.only in (None, h.place)]
            if fit:
                self._waiting.remove(job)
                self._give(fit[0], job)

    def _give(self, hand: _Hand, job: Job) -> None:
        hand.busy = job
        hand.alarm = self._loop.call_later(self.seconds + GRACE, self._end, hand)
        try:
            hand.link.send(job.order)
        except (BrokenPipeError, OSError):
            self._lost(hand)

    def _hire(self, place: int) -> _Hand:
        here, there = self._context.Pipe()
        dropped = self._context.RawValue("q", 0)
        process = self._context.Process(
            target=worker.main, args=(there, dropped), daemon=True, name=f"fejoint-worker-{place}"
        )
        with holding_ctrl_c():
            process.start()
        there.close()
        hand = _Hand(place, process, here, dropped)
        threading.Thread(target=self._listen, args=(hand,), daemon=True).start()
        return hand

    def _listen(self, hand: _Hand) -> None:
        """Bring a worker's words to the event loop; runs in a thread of its own."""
        while True:
            try:
                said = hand.link.recv()
            except (EOFError, OSError):
                said = None
            try:
                self._loop.call_soon_threadsafe(self._hear, hand, said)
            except RuntimeError:  # the loop is closed
                return
            if said is None:
                return

    def _hear(self, hand: _Hand, said: tuple[int, str, Any] | None) -> None:
        if said is None:
            self._lost(hand)
            return
        number, kind, content = said
        job = hand.busy
        if kind == "ready":
            hand.ready = True
        elif job is None or job.number != number:
            return
        elif kind == "progress":
            job.tell(content)
            return
        elif kind == "answer":
            self._homes[job.order["id"]] = (hand.place, hand.process)
            if job.key is not None and content["enough_N"] is not None:
                self._enough[job.key] = content["enough_N"]
            for kept in (self._homes, self._enough):
                while len(kept) > KNOWN:
                    kept.popitem(last=False)
            _settle(job.answer, (content["json"], content["cut_N"]))
            return
        elif kind == "failed":
            self._free(hand)
            self._refuse(job, content.pop("status"), **content)
        else:
            self._free(hand)
            _settle(job.scene if kind == "scene" else job.answer, content)
        self._hand_out()

    def _free(self, hand: _Hand) -> None:
        hand.busy = None
        if hand.alarm is not None:
            hand.alarm.cancel()

    def _end(self, hand: _Hand) -> None:
        hand.process.kill()

    def _lost(self, hand: _Hand) -> None:
        """Start a worker in the place of one that ended, and tell who waits for it."""
        if self._closed or self._hands[hand.place] is not hand:
            return
        job = hand.busy
        self._free(hand)
        if job is not None:
            self._refuse(job, 500, "the solver process ended; a new one is starting")
        self._hands[hand.place] = self._hire(hand.place)

    @staticmethod
    def _refuse(job: Job, status: int, message: str = "", **content: Any) -> None:
        error = Refused(status, {"message": message, **content} if message else content)
        for future in (job.answer, job.scene):
            if future is not None and not future.done():
                future.set_exception(error)


def _settle(future: asyncio.Future[Any] | None, content: Any) -> None:
    if future is not None and not future.done():
        future.set_result(content)


def _quiet(future: asyncio.Future[Any]) -> None:
    """Let nobody be told of an error that nobody waited for."""
    future.add_done_callback(lambda f: f.cancelled() or f.exception())


def _gone() -> Refused:
    return Refused(410, {"message": "the answer is kept no longer; pull again"})
