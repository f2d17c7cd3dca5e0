from __future__ import annotations

from dataclasses import replace

import pytest
from support import ROOT
from support.rig_logs import COMPLIANCE, REACH, SLACK, TRUTH, as_csv, logged

import fejoint
from fejoint.analysis.pull import pull_axial, solve_members
from fejoint.analysis.section_cases import PullSettings
from fejoint.measured import evaluate, joint_model
from fejoint.measured.rig_compliance import Curve


def stopped(joint, reach):
    return replace(joint, pull=replace(joint.pull, stop_displacement=reach))


@pytest.fixture(scope="session")
def joint():
    """Return the demo joint, whose pull ends early to be cheap."""
    return stopped(fejoint.load(ROOT / "cases/demo/hard-pin.toml"), 2.0)


@pytest.fixture(scope="session")
def expected(joint):
    return evaluate.expectation(joint, 0.5)


@pytest.fixture(scope="session")
def true_pull(joint):
    """Pull a joint of another law and friction, on a finer mesh than the fit's."""
    truth = stopped(joint_model.with_law(joint, "ear", TRUTH), REACH)
    settings = PullSettings(0.75)
    members = solve_members(truth, settings)
    history = pull_axial(truth, members, settings)
    assert members[0].history.elongation.max() > 0.25 * truth.ears[0].hole
    return Curve(history.load, history.extension)


@pytest.fixture(scope="session")
def logs(true_pull, tmp_path_factory):
    """Three logs in kN with decimal commas, noise and slacks of their own."""
    folder = tmp_path_factory.mktemp("logs")
    paths = []
    for k in range(3):
        force, travel = logged(
            true_pull, slack=SLACK + 0.1 * k, compliance=COMPLIANCE, noise=15.0, rows=1500, seed=k
        )
        head = f"Invented data, pull {k}\nWeg [mm];Kraft [kN]\n"
        columns = (travel, force / 1e3)
        paths.append(as_csv(folder / f"pull{k}.csv", columns, head, comma=True, digits=5))
    return paths
