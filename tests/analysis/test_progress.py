"""One callback hears phase, share and load of every pull and study; the share never falls."""

from __future__ import annotations

import math

import pytest
from rich.progress import Progress as Bar
from support import DEMO, cheap

import fejoint
from fejoint.analysis.progress import Told, watched


@pytest.fixture(scope="module")
def heard():
    """What a pull of the soft demo joint tells, and its answer."""
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", "0.3 mm")
    words = []
    answer = fejoint.pull(joint, refine=0.25, progress=lambda *word: words.append(word))
    return words, answer


def rises(words):
    shares = [share for _, share, _ in words]
    return shares == sorted(shares) and 0.0 <= shares[0] and shares[-1] == 1.0


def test_a_pull_tells_its_phases_in_order_and_ends_at_one(heard):
    words, answer = heard
    assert rises(words)
    assert list(dict.fromkeys(phase for phase, _, _ in words)) == ["ear", "shank", "pin", "done"]
    loads = [load for phase, _, load in words if phase == "pin"]
    assert max(loads) == pytest.approx(answer.trace.load.max(), rel=0.1)
    assert {load for phase, _, load in words if phase == "ear"} == {None}


def test_hearing_changes_no_digit(heard):
    joint = heard[1].joint
    assert fejoint.pull(joint, refine=0.25) == heard[1]


def test_a_bar_of_another_library_takes_it(heard):
    with Bar(disable=True) as bar:
        task = bar.add_task("pull", total=1.0)
        for phase, share, _ in heard[0]:
            bar.update(task, description=phase, completed=share)
        assert bar.tasks[0].finished


def test_two_ears_that_differ_are_two_sections():
    told = []
    watch = watched(["ear", "ear", "shank", "pin"], 100.0, Told(lambda *w: told.append(w)), None)
    for section in ("ear", "shank", "pin", "ear", "pin"):
        watch(section, None, 0, 0.0)
    assert [phase for phase, _, _ in told] == ["ear", "shank", "pin", "pin"]
    assert rises([*told, ("done", 1.0, None)])


@pytest.mark.parametrize("study", ["sensitivities", "scatter", "advise"])
def test_studies_tell_with_the_same_callback(study):
    more = {"advise": ["12 kN"]}.get(study, [])
    words = []
    getattr(fejoint, study)(
        DEMO, *more, workers=0, model=cheap.closed_form, progress=lambda *w: words.append(w)
    )
    shares = [share for _, share, _ in words]
    assert shares == sorted(shares)
    assert all(isinstance(phase, str) and phase for phase, _, _ in words)
    assert all(load is None or math.isfinite(load) for _, _, load in words)
    assert len(words) >= 3
