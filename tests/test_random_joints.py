from __future__ import annotations

import re
from collections import Counter

import numpy as np
import pytest
import random_joints

import fejoint

SEED = 4
ENDS = ("load maximum passed by 2 %", "ductility exhausted", "asked stop reached")
REASON = re.compile(
    rf"(the (ear|shank)( \d)?'s face section ended: )?({'|'.join(ENDS)})( in the pin)?"
)


@pytest.mark.sampled
@pytest.mark.slow
def test_random_joints_all_end_for_a_stated_reason_in_equilibrium(draws, tally):
    ends, failed, count = Counter(), [], draws(200)
    for k in range(count):
        joint = random_joints.draw(np.random.default_rng([SEED, k]))
        answer = fejoint.pull(joint, refine=0.5)
        trust = answer.trust
        told = REASON.fullmatch(trust.stopped_because)
        if trust.finished and told and trust.equilibrium <= 1e-6:
            ends[told[4]] += 1
        else:
            failed.append((k, trust.stopped_because, trust.equilibrium))
    said = ", ".join(f"{n} {end}" for end, n in ends.most_common())
    tally(f"{count - len(failed)} of {count} random joints ended in equilibrium ({said})")
    assert failed == []


def test_drawn_joints_span_what_is_allowed():
    joints = [random_joints.draw(np.random.default_rng([SEED, k])) for k in range(60)]
    ears = [ear for joint in joints for ear in joint.ears]
    assert {ear.end for ear in ears} == {"round", "square", "clipped"}
    assert {len(joint.ears) for joint in joints} == {1, 2}
    assert {joint.pin.rigid for joint in joints} == {True, False}
    assert any(ear.hole_slot for ear in ears)
    assert any(ear.hole_offset for ear in ears)
    assert any(ear.flare_depth for ear in ears)
    assert any(joint.pull.legs for joint in joints)
    assert min(joint.pull.angle for joint in joints) < -90.0
    assert max(joint.pull.angle for joint in joints) > 90.0
    assert max(joint.friction for joint in joints) > 0.6
