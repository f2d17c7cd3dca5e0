"""What the releases of a path leave, as pictures of the path and of a used joint."""

from __future__ import annotations

import json
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from support import DEMO

import fejoint
from fejoint.joint.parts import Leg
from fejoint.output import pictures
from fejoint.output.pictures import proof_pulls
from fejoint.output.pictures import theme as look
from fejoint.studies import used_plot


@pytest.fixture(name="pulled", scope="module")
def _pulled():
    legs = (Leg("displacement", 0.3), Leg("release"), Leg("displacement", 0.5), Leg("release"))
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", "0.6 mm")
    return fejoint.pull(replace(joint, pull=replace(joint.pull, legs=legs)), refine=0.25)


def test_each_release_is_told_with_the_highest_pull_before_it(pulled):
    left = proof_pulls.releases(pulled.to_dict())
    rows = [leg for leg in pulled.path if leg.leg == "release"]
    assert [r["hole"] for r in left] == [leg.hole_mean for leg in rows]
    assert [r["pull"] for r in left] == [pulled.path[0].load, pulled.path[2].load]
    assert left[0]["hole"] < left[1]["hole"]


def test_a_path_has_its_picture_and_a_single_pull_has_none(pulled, tmp_path):
    shown = {p.name for p in pictures.table().values() if p.is_of(pulled)}
    assert "releases" in shown
    alone = replace(pulled, path=())
    assert "releases" not in {p.name for p in pictures.table().values() if p.is_of(alone)}
    path = pictures.picture(json.loads(pulled.to_json()), "releases", tmp_path / "it.svg")
    assert "2 % of the hole" in path.read_text()


def test_a_used_joint_lies_where_its_release_ended(pulled, tmp_path):
    seen, rest = used_plot.turns(pulled)
    load = pulled.trace.load
    assert load[seen] == pytest.approx(pulled.path[0].load)
    assert abs(load[rest]) < 0.02 * load[seen]
    gives = SimpleNamespace(load=float(0.9 * load.max()))
    found = SimpleNamespace(answer=pulled, gives=gives, seen=5000.0)
    text = look.encoded(used_plot.draw(found, title="a used one"), "svg", 900).decode()
    assert "gives next at" in text
    bare = replace(pulled, axial=None)
    assert np.allclose(used_plot.turns(bare), (seen, rest), atol=1)
