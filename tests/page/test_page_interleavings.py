"""Nothing that happens to one solve of a worker may be seen in another."""

from __future__ import annotations

import copy
import json
import os
import random
from types import SimpleNamespace

import pytest
from support import DEMO

from fejoint.analysis.pull import pull
from fejoint.inputs import toml_syntax
from fejoint.joint.model import read
from fejoint.page import worker

STRESS = os.environ.get("FEJOINT_STRESS") == "1"
REFINE, PACE = 0.25, 2.0
TIME = 3000
"""Words of progress that a job has time for: each takes far fewer."""
FATES = ("ends", "ends", "is dropped", "has its time", "takes its worker with it", "lacks memory")


def variants():
    """Joints that share plates: the nearer the ears stand, the further the pin makes them go on."""
    table = toml_syntax.parse_text(DEMO.read_text(), "case file")
    changes = [
        ("shank", "thickness", "8 mm"),
        ("shank", "thickness", "3 mm"),
        ("ear", "edge_distance", "8 mm"),
    ]
    made = []
    for part, key, value in changes:
        made.append(copy.deepcopy(table))
        made[-1][part][key] = value
    return made


def told(answer_json):
    """All that an answer says, but for what it cost."""
    answer = json.loads(answer_json)
    del answer["cost"], answer["digest"]
    return answer


@pytest.fixture(scope="module")
def by_command():
    """Each case with what a pull of it alone says."""
    return [(c, told(pull(read(c), refine=REFINE, pace=PACE).to_json())) for c in variants()]


class Clock:
    """A clock that goes on by a second whenever it is read."""

    def __init__(self):
        self.now = 0.0

    def monotonic(self):
        self.now += 1.0
        return self.now


class DroppedAfter:
    """Tells a worker, when asked for the so manieth time, that job 1 is not wanted."""

    def __init__(self, times):
        self.left = times

    @property
    def value(self):
        self.left -= 1
        return 1 if self.left < 0 else 0


def asked(case, fate, after, shelf, clock, monkeypatch):
    """Give a job to a worker; return what it said, and None of one that came to no answer."""
    job = {"kind": "pull", "case": case, "refine": REFINE, "pace": PACE, "id": "x", "number": 1}
    job |= {"enough_N": None, "seconds": after if fate == "has its time" else TIME}
    dropped = DroppedAfter(after if fate == "is dropped" else 1e9)
    said = {}
    with monkeypatch.context() as patched:
        patched.setattr(worker, "time", clock)
        if fate == "lacks memory":
            patched.setattr("fejoint.kernel.continuation.find_equilibrium", fails_after(after // 4))
        try:
            worker._serve(job, shelf, dropped, said.__setitem__)
        except (worker.Dropped, worker.TooLong, MemoryError):
            return None
    return said["answer"]


def fails_after(steps):
    from fejoint.kernel.newton import find_equilibrium

    left = SimpleNamespace(steps=steps)

    def finds(*args, **kwargs):
        left.steps -= 1
        if left.steps < 0:
            raise MemoryError
        return find_equilibrium(*args, **kwargs)

    return finds


@pytest.mark.sampled
def test_no_order_of_changes_drops_deadlines_and_kills_changes_a_digit(
    by_command, tally, monkeypatch
):
    monkeypatch.setattr("fejoint.page.scene.pack", lambda _: b"")
    answers, broken, runs = 0, 0, 500 if STRESS else 3
    for seed in range(runs):
        rng, shelf, clock = random.Random(seed), worker.AnswerCache(), Clock()
        for _ in range(6):
            case, alone = rng.choice(by_command)
            fate = rng.choice(FATES)
            if fate == "takes its worker with it":
                shelf = worker.AnswerCache()
                fate = "ends"
            after = round(10.0 ** rng.uniform(0.0, 2.8))
            answer = asked(case, fate, after, shelf, clock, monkeypatch)
            if answer is None:
                assert fate != "ends", (seed, "an earlier job's end took this one")
                broken += 1
                continue
            answers += 1
            assert told(answer["json"]) == alone, (seed, fate, after)
            assert answer["cut_N"] is None
    tally(f"{runs} interleavings: {answers} answers as alone, {broken} broken off")


def test_a_job_s_deadline_goes_with_it(by_command, monkeypatch):
    (apart, _), (near, alone), _ = by_command
    shelf, clock = worker.AnswerCache(), Clock()
    assert asked(apart, "ends", 0, shelf, clock, monkeypatch) is not None
    clock.now += TIME
    # its ears go on from where the other joint left them
    for _ in range(2):
        answer = asked(near, "ends", 0, shelf, clock, monkeypatch)
        assert answer is not None
        assert told(answer["json"]) == alone
