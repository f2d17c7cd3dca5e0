"""Joints of a wide kind, drawn at random: no answer contradicts itself, and every end is stated."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from support import wide_joints

import fejoint
from fejoint.analysis import definitions

SEED = 7
FULL = 500


@pytest.mark.sampled
@pytest.mark.slow
def test_no_wide_joint_contradicts_itself(draws, tally):
    failed, ends = [], Counter()
    full = draws(FULL)
    count = full if full == FULL else full // 4
    for number in range(count):
        joint = wide_joints.draw(np.random.default_rng([SEED, number]))
        answer = fejoint.pull(joint, refine=0.35)
        ended = answer.trust.stopped_because
        if answer.trust.broken or not answer.trust.finished or not str(ended):
            failed.append((number, answer.trust.broken, str(ended)))
        ends[definitions.end_words(answer.trust.stopped_because)] += 1
    said = ", ".join(f"{n} where {end}" for end, n in ends.most_common())
    tally(f"{count - len(failed)} of {count} wide joints break no invariant ({said})")
    assert failed == []


def test_wide_joints_span_what_they_are_said_to():
    joints = [wide_joints.draw(np.random.default_rng([SEED, k])) for k in range(120)]
    ears = [ear for joint in joints for ear in joint.ears]
    d = [joint.pin.diameter for joint in joints]
    assert min(d) < 2.0
    assert max(d) > 100.0
    assert 0.35 < np.mean([len(joint.ears) == 1 for joint in joints]) < 0.65
    assert {joint.pin.ends for joint in joints} == {"free", "headed", "held"}
    assert any(len(j.ears) == 2 and j.ears[0] != j.ears[1] for j in joints)
    assert all(
        any(getattr(e, k) for e in ears) for k in ("hole_slot", "hole_offset", "flare_depth")
    )
    assert max(max(j.gaps) / j.pin.diameter for j in joints) > 0.9
    loose = [j.clearance(j.ears[0]) / j.pin.diameter for j in joints]
    assert min(loose) < 0.01
    assert max(loose) > 0.2
    assert min(j.pull.angle for j in joints) < -120.0
    assert max(j.pull.angle for j in joints) > 120.0
    assert 0.1 < np.mean([j.pull.stop_displacement is None for j in joints]) < 0.4
    own = [m for j in joints for m in j.to_dict()["material"]]
    assert np.mean([m.startswith("drawn") for m in own]) < 0.5
