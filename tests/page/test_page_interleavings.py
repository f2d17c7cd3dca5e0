"""What a worker answers does not hang on what was begun, dropped or late before it."""

from __future__ import annotations

import json
from types import SimpleNamespace

import numpy as np
import pytest
from support import DEMO

import fejoint
from fejoint.page import worker

JOINT = fejoint.load(DEMO)
CHANGES = (
    ("fit.gap", "1.5 mm"), ("shank.thickness", "10 mm"), ("shank.thickness", "4 mm"),
    ("pin.hardness", "40 HRC"), ("pin.hardness", "30 HRC"), ("ear.thickness", "1.6 mm"),
)  # fmt: skip
COARSE = {"refine": 0.25, "pace": 2.0}


class Clock:
    """Tells the word that a job is not wanted after so many looks."""

    def __init__(self, number: int, looks: int | None) -> None:
        self.number, self.left = number, looks

    @property
    def value(self) -> int:
        if self.left is None:
            return 0
        self.left -= 1
        return self.number if self.left < 0 else 0


def answered(shelf, number: int, joint, *, looks=None, seconds=60.0):
    """Return a worker's answer to a job without what it cost; None where it was dropped."""
    said = []
    job = {
        "number": number, "id": str(number), "case": joint.case, "enough_N": None,
        "seconds": seconds, **COARSE,
    }  # fmt: skip
    try:
        worker._pull(job, shelf, Clock(number, looks), lambda *word: said.append(word))
    except (worker.Dropped, worker.TooLong):
        return None
    (answer,) = [content["json"] for kind, content in said if kind == "answer"]
    return told(json.loads(answer))


def told(answer):
    """Return what an answer says of the joint, without what it cost."""
    return {k: answer[k] for k in ("verdict", "events", "curve", "pin", "warnings")} | {
        "finished": answer["trust"]["finished"]
    }


@pytest.fixture(scope="module")
def alone():
    """What each changed joint answers alone."""
    known = {}

    def of(change):
        if change not in known:
            joint = JOINT.replace(*change)
            known[change] = told(json.loads(fejoint.pull(joint, **COARSE).to_json()))
        return known[change]

    return of


@pytest.mark.sampled
def test_no_interleaving_of_changes_and_drops_changes_an_answer(alone, draws, tally):
    random, done, cut = np.random.default_rng(23), 0, 0
    rounds = draws(500)
    for _ in range(rounds if rounds == 500 else 1):
        shelf = worker.AnswerCache()
        for number in range(1, 9):
            change = CHANGES[random.integers(len(CHANGES))]
            # a solve of these looks some hundred to a thousand times
            looks = int(random.geometric(1.0 / 250.0)) if random.random() < 0.6 else None
            found = answered(shelf, number, JOINT.replace(*change), looks=looks)
            cut += found is None
            if found is not None:
                done += 1
                assert found == alone(change)
    tally(f"{done} answers right beside {cut} that were dropped")
    assert done > 0 < cut


@pytest.mark.parametrize("nth", [1, 9])
def test_a_plate_that_was_cut_while_it_was_pulled_on_is_solved_anew(alone, nth):
    shelf, sections = worker._plates(), []
    loose, tight = (JOINT.replace(*change) for change in CHANGES[:2])

    def drop(section, *_):
        # the ear that the first joint left is pulled on when the pin of the second needs it
        sections.append(section)
        if "pin" in sections and sections[sections.index("pin") :].count("ear") == nth:
            raise worker.Dropped

    fejoint.pull(loose, **COARSE, shared=shelf)
    with pytest.raises(worker.Dropped):
        fejoint.pull(tight, **COARSE, progress=drop, shared=shelf)
    assert any(m.plate.cut for m in shelf._kept.values())
    for change, joint in zip(CHANGES, (loose, tight), strict=False):
        again = fejoint.pull(joint, **COARSE, shared=shelf)
        assert told(json.loads(again.to_json())) == alone(change)


def test_a_plate_tells_the_job_that_pulls_on_it_and_no_other():
    first, second = [], []
    shelf = worker._plates()
    loose, tight = (JOINT.replace(*change) for change in CHANGES[:2])
    pull = fejoint.pull
    pull(loose, **COARSE, progress=lambda name, *_: first.append(name), shared=shelf)
    assert set(first) == {"ear", "shank", "pin"}
    known = len(first)
    ear = next(m.plate for m in shelf._kept.values() if m.part in loose.ears)
    points = ear.points
    pull(tight, **COARSE, progress=lambda name, *_: second.append(name), shared=shelf)
    assert ear.points > points
    assert second.count("ear") > 10
    assert len(first) == known
    assert all(m.plate.pull.progress is None for m in shelf._kept.values())


def test_a_pull_that_was_cut_refuses_to_go_on():
    from fejoint.analysis.pull import PullSettings, face_case
    from fejoint.sections.face import pull as face

    case = face_case(JOINT, JOINT.ears[0], PullSettings(0.25))
    settings = PullSettings(0.25).ear(JOINT)
    word = SimpleNamespace(left=30)

    def progress(*_):
        word.left -= 1
        if word.left < 0:
            raise worker.Dropped

    pulled = face.FacePull(face.build(case, settings), settings, progress=progress)
    with pytest.raises(worker.Dropped):
        list(iter(pulled.step, False))
    known = len(pulled.path.points)
    assert pulled.cut
    assert not pulled.ended
    with pytest.raises(RuntimeError, match="cannot go on"):
        pulled.step()
    assert len(pulled.path.points) == known
