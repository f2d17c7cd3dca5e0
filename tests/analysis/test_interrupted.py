"""A pull that is interrupted answers with what it has and says what is missing."""

from __future__ import annotations

import json

import numpy as np
import pytest
from support import DEMO
from support.pulled import quick_answer

import fejoint


def interrupted(at):
    """Pull the demo's joint, and press Ctrl-C when the ear's load reaches a value."""
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", "0.6 mm")

    def progress(section, point, iteration, error):
        if section == "ear" and point is not None and point.load > at:
            raise KeyboardInterrupt

    return fejoint.pull(joint, refine=0.5, watch=progress)


@pytest.fixture(scope="module")
def early():
    return interrupted(1000.0)


@pytest.fixture(scope="module")
def late():
    # two ears share the pull, and half of each is meshed
    return interrupted(0.25 * 1.04 * quick_answer().event("offset load").load)


def test_it_is_unfinished_and_says_what_was_not_solved(early):
    assert not early.trust.finished
    assert "interrupted at a pull of" in str(early.trust.stopped_because)
    assert any("pin and the shank were not solved" in a for a in early.warnings)


def test_what_no_section_reached_has_a_reason_and_no_load(early):
    assert early.event("offset load").load is None
    assert "interrupted" in early.event("offset load").reason
    json.loads(early.to_json())


def test_an_offset_load_that_was_passed_is_nearly_that_of_the_whole_pull(late):
    whole = quick_answer().event("offset load").load
    assert late.event("offset load").load == pytest.approx(whole, rel=0.03)
    assert late.verdict.first.mode == "hole elongation"


def test_the_curve_goes_as_far_as_the_ear_did(early, late):
    for answer in (early, late):
        load = np.asarray(answer.trace.load)
        assert f"{load.max():.0f} N" in str(answer.trust.stopped_because)
    # the interrupt came on the way to a load that the early pull has not kept
    assert late.trace.load.max() > 4000.0 > early.trace.load.max() > 0.0


def test_of_two_ears_it_says_which_and_that_they_are_taken_to_share_evenly(early, late):
    assert late.verdict.first.member == "both ears"
    for answer in (early, late):
        assert any("share the pull evenly" in a for a in answer.warnings)
