"""Ends of paths are told apart by their kind; the sentence is for people only."""

from __future__ import annotations

import pytest

from fejoint.kernel.continuation import Path
from fejoint.kernel.stop_reason import REQUESTED, Stop, StopReason


@pytest.mark.parametrize("reason", list(StopReason))
def test_only_what_broke_a_path_off_leaves_it_unfinished(reason):
    broken = {StopReason.NO_EQUILIBRIUM, StopReason.TOO_MANY_STEPS, StopReason.INTERRUPTED}
    # a sentence that speaks of something else decides nothing
    path = Path([], Stop(reason, "interrupted: asked stop reached"))
    assert path.finished == (reason not in broken)
    assert path.interrupted == (reason is StopReason.INTERRUPTED)


def test_a_stop_says_its_sentence_or_its_reason():
    assert str(REQUESTED) == "asked stop reached"
    assert f"{Stop(StopReason.LOAD_MAXIMUM, 'passed by 2 %')}" == "passed by 2 %"


def test_an_end_that_another_path_caused_is_as_good_as_that_one_s():
    crept = Stop(StopReason.TOO_MANY_STEPS, "crept to 3 mm")
    stop = Stop(StopReason.LAW_ENDED, "the ear's curve ended", crept)
    assert stop.root is crept
    assert not stop.finished
    assert Stop(StopReason.LAW_ENDED, "the ear's curve ended", REQUESTED).finished


def test_a_path_under_way_is_not_broken_off():
    assert Path([]).finished
    assert not Path([]).interrupted
