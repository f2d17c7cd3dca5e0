"""One worker process of the page: solves joints, and keeps its latest answers for what is asked.

Nothing heavy is imported before `main` has set the number of threads of the numerical libraries.
"""

from __future__ import annotations

import math
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any

from fejoint.system.processes import begin

if TYPE_CHECKING:
    from fejoint.analysis.plate_cache import SharedPlates
    from fejoint.analysis.result import Answer
    from fejoint.joint.model import Joint
    from fejoint.kernel.continuation import EquilibriumPoint

KEPT = 6
"""Answers that a worker keeps with their solved sections."""
KEPT_EARS, KEPT_SHANKS = 5, 3
"""Solved plates that a worker keeps for joints that differ elsewhere."""
MEMORY = 6 * 1024**3
"""Address space of a worker, bytes, where the system can hold it to that."""
ROOM = 1.15
"""A coarse pull goes beyond the second part's limit by this factor to its square."""
EVERY = 0.1
"""Seconds between two words of progress."""


class Dropped(Exception):
    """The job is not wanted any more."""


class TooLong(Exception):
    """The job has had its time."""


@dataclass(eq=False)
class AnswerCache:
    """What a worker keeps: answers by name with their refinement, and solved plates."""

    answers: OrderedDict[str, tuple[Answer, float]] = field(default_factory=OrderedDict)
    plates: SharedPlates = field(default_factory=lambda: _plates())

    def keep(self, name: str, answer: Answer, refine: float) -> None:
        """Keep an answer, and forget the oldest beyond what fits."""
        self.answers[name] = (answer, refine)
        while len(self.answers) > KEPT:
            self.answers.popitem(last=False)


def _plates() -> SharedPlates:
    from fejoint.analysis.plate_cache import SharedPlates

    return SharedPlates(KEPT_EARS, KEPT_SHANKS, exact=True)


def main(link: Connection, dropped: Any) -> None:
    """Serve jobs until the other end closes.

    Parameters
    ----------
    link : Connection
        Jobs come in as dicts; replies go out as (job number, kind, content).
    dropped : shared integer
        Number of the job that is not wanted any more.
    """
    begin()
    _hold_memory()
    _warm()
    shelf = AnswerCache()
    link.send((0, "ready", None))
    while True:
        try:
            job = link.recv()
        except (EOFError, OSError):
            return
        number = job["number"]

        def say(kind: str, content: Any, number: int = number) -> None:
            link.send((number, kind, content))

        try:
            _serve(job, shelf, dropped, say)
        except (EOFError, BrokenPipeError):
            return
        except Exception as error:
            say("failed", _told(error))


def _hold_memory() -> None:
    try:
        import resource

        _, hard = resource.getrlimit(resource.RLIMIT_AS)
        most = MEMORY if hard == resource.RLIM_INFINITY else min(MEMORY, hard)
        resource.setrlimit(resource.RLIMIT_AS, (most, hard))
    except (ImportError, ValueError, OSError):
        pass


def _warm() -> None:
    """Do what the first solve would wait for: imports, compiled kernels, a small solve."""
    from fejoint.analysis.pull import pull
    from fejoint.joint import writer
    from fejoint.joint.model import read
    from fejoint.kernel import compiled

    compiled.warm()
    joint = read(writer.STARTER).replace("pull.stop_displacement", 0.12)
    pull(joint, refine=0.35, pace=2.0)


def _told(error: Exception) -> dict[str, Any]:
    """Return an error as an HTTP status and what to say."""
    from fejoint.errors import BadInput

    if isinstance(error, BadInput):
        return {"status": 422, "faults": [vars(f) for f in error.faults]}
    if isinstance(error, Dropped):
        return {"status": 409, "message": "a newer change took its place"}
    if isinstance(error, TooLong):
        return {"status": 504, "message": "took too long; a coarser joint, or `fejoint pull`"}
    if isinstance(error, MemoryError):
        return {"status": 507, "message": "needs more memory than the page may take"}
    if isinstance(error, KeyError):
        return {"status": 410, "message": "the answer is kept no longer; pull again"}
    return {"status": 500, "message": f"the solve failed: {type(error).__name__}: {error}"}


def _serve(
    job: Mapping[str, Any],
    shelf: AnswerCache,
    dropped: Any,
    say: Callable[[str, Any], None],
) -> None:
    if job["kind"] == "pull":
        _pull(job, shelf, dropped, say)
        return
    answer, refine = shelf.answers[job["id"]]
    shelf.answers.move_to_end(job["id"])
    if job["kind"] == "proof":
        from fejoint.page.proof import after_proof

        say("done", after_proof(answer, job["load_N"], refine))
    elif job["kind"] == "picture":
        say("done", _picture(answer, job))
    elif job["kind"] == "cut":
        from fejoint.output import cut_files

        say("done", cut_files.drawings(answer.joint, answer))
    elif job["kind"] == "report":
        from fejoint.output import report

        beside = job["beside"]
        say("done", report.compared([answer, *beside]) if beside else report.single(answer))
    else:
        say("done", answer.to_json())


def _pull(
    job: Mapping[str, Any],
    shelf: AnswerCache,
    dropped: Any,
    say: Callable[[str, Any], None],
) -> None:
    from fejoint.analysis.pull import pull
    from fejoint.joint.model import read
    from fejoint.page import scene

    number = job["number"]
    until = time.monotonic() + job["seconds"]
    last = 0.0

    def progress(
        section: str, point: EquilibriumPoint | None, iteration: int, error: float
    ) -> None:
        nonlocal last
        now = time.monotonic()
        if dropped.value == number:
            raise Dropped
        if now > until:
            raise TooLong
        if now - last > EVERY:
            last = now
            say("progress", {"section": section, "load_N": 0.0 if point is None else point.load})

    def solve(joint: Joint) -> Answer:
        return pull(
            joint,
            refine=job["refine"],
            pace=job["pace"],
            watch=progress,
            shared=shelf.plates,
            band=job["refine"] >= 1.0,
        )

    answer, cut = _pulled(read(job["case"]), job["enough_N"], solve)
    shelf.keep(job["id"], answer, job["refine"])
    say("answer", {"json": answer.to_json(), "cut_N": cut, "enough_N": _enough(answer)})
    if dropped.value == number:
        raise Dropped
    say("scene", scene.pack(answer))


def _pulled(
    joint: Joint, enough: float | None, solve: Callable[[Joint], Answer]
) -> tuple[Answer, float | None]:
    """Pull a joint as far as its verdict is likely to need, or to its end.

    The pull stops at `enough` (N) only if two parts have given by then: what gives first and the
    margin to the next are then what the whole pull would say. The second value is then that load,
    beyond which nothing is known; None where the pull came to its end.
    """
    if enough is not None and joint.pull.stop_load is None and not joint.pull.legs:
        answer = solve(replace(joint, pull=replace(joint.pull, stop_load=enough)))
        if len(answer.verdict.order) > 1:
            return replace(answer, joint=joint), enough
    return solve(joint), None


def _enough(answer: Answer) -> float | None:
    """Return a pull (N) that two parts have given by in an answer, with room for a change."""
    order = answer.verdict.order
    if len(order) < 2 or order[1].first.load <= 0.0:
        return None
    # in even steps, so that a plate which does not change is asked for up to the same load
    return float(ROOM ** math.ceil(math.log(ROOM * order[1].first.load, ROOM)))


def _picture(answer: Answer, job: Mapping[str, Any]) -> bytes:
    from fejoint.output import pictures
    from fejoint.output.pictures import theme

    figure, pixels = pictures.drawing_of(answer, job["what"], size=job["size"], theme=job["theme"])
    with theme.styled(theme.theme(job["theme"])):
        return theme.encoded(figure, job["suffix"], pixels)
