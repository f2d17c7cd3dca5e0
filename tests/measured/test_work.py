from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from support.rig_logs import COMPLIANCE, SLACK, TRUTH

import fejoint
from fejoint.errors import BadInput
from fejoint.measured import evaluate, joint_model
from fejoint.measured.log_record import Hints
from fejoint.measured.rig_compliance import Curve
from fejoint.output.pictures import theme as look


@pytest.fixture(scope="session")
def outcome(joint, logs, expected):
    return evaluate.match(joint, logs, expected=expected)


@pytest.fixture(scope="session")
def learned(joint, outcome):
    told = []
    fit = evaluate.learned(joint, outcome, refine=0.3, progress=lambda *x: told.append(x))
    return fit, told


@pytest.fixture(scope="session")
def fit(learned):
    return learned[0]


def test_slack_and_the_rigs_stretch_are_taken_off(outcome):
    for k, m in enumerate(outcome.matches):
        assert m.rig.slack == pytest.approx(SLACK + 0.1 * k, abs=0.01)
        assert m.rig.compliance == pytest.approx(COMPLIANCE, rel=0.05)


def test_offset_loads_are_read_by_one_definition(outcome, expected, true_pull):
    from fejoint.measured.comparison import offset_of

    true = offset_of(true_pull, 0.02 * expected.hole)
    for m in outcome.matches:
        assert m.offset.load == pytest.approx(true.load, rel=0.015)
    assert outcome.spreads["offset load"].count == 3


def test_the_law_behind_the_logs_is_found_again(fit, tally):
    found = {x.prior.name: x for x in fit.parameters}
    off = {k: found[k].value / TRUTH[k] - 1.0 for k in ("rp02", "rm")}
    c = np.mean([x.value for x in fit.compliances]) / COMPLIANCE - 1.0
    tally(
        f"Rp0.2 {100 * off['rp02']:+.1f} %, Rm {100 * off['rm']:+.1f} %, compliance "
        f"{100 * c:+.1f} %, friction {found['friction'].value:.2f} for {TRUTH['friction']}, "
        f"{fit.solves} solves"
    )
    assert max(map(abs, off.values())) < 0.03
    assert abs(c) < 0.05


def test_every_interval_holds_the_truth_of_logs_that_end_early(fit):
    for x in fit.parameters:
        assert x.interval[0] <= TRUTH[x.prior.name] <= x.interval[1]


def test_the_log_held_out_is_met_better_after_learning(fit):
    assert set(fit.held_out) == {"pull2.csv"}
    before, after = fit.held_out["pull2.csv"]
    assert after < 0.5 * before


def test_learning_tells_how_far_it_is(learned):
    shares = [share for _, share, _ in learned[1]]
    assert shares == sorted(shares)
    assert len(shares) > learned[0].solves > 10
    assert shares[-1] == 1.0


def test_what_was_learned_is_a_table_and_a_joint_to_pull(fit):
    frame = fit.frame
    assert list(frame["name"][:2]) == ["rp02", "rm"]
    assert np.all(frame["low"] < frame["high"])
    metal = fit.joint.ears[0].material
    assert metal.name.endswith(", learned")
    assert metal.rp02 == pytest.approx(fit.values()["rp02"], rel=1e-3)
    assert fit.held_out.keys() == {"pull2.csv"}
    assert "pull0.csv, pull1.csv" in metal.source
    assert "pull2.csv" not in metal.source


def test_a_law_that_has_not_settled_gives_no_joint(joint, outcome, fit, monkeypatch):
    loose = replace(fit, settled=False, material="", case="")
    monkeypatch.setattr(evaluate.calibration, "fit", lambda *_, **__: loose)
    law = evaluate.learned(joint, outcome)
    assert law.case == law.material == ""
    with pytest.raises(BadInput, match="has not settled"):
        law.joint  # noqa: B018


def test_the_learned_case_loads_with_what_was_learned(joint, fit):
    alone, whole = joint_model.learned_case(joint, "ear", fit, ["pull0.csv"])
    import tomllib

    new = fejoint.load(tomllib.loads(whole))
    metal = new.ears[0].material
    assert metal.name == "316 strip, annealed, learned"
    assert metal.rp02 == pytest.approx(fit.values()["rp02"], rel=1e-3)
    assert metal.rm == pytest.approx(fit.values()["rm"], rel=1e-3)
    assert "pull0.csv" in metal.source
    assert metal.name in tomllib.loads(alone)["material"]
    assert new.shank == joint.shank


def test_the_picture_is_drawn(outcome, expected, tmp_path):
    path = look.save(outcome.plot(), tmp_path / "overlay.png")
    assert path.read_bytes().startswith(b"\x89PNG")


def test_two_designs_are_compared(joint, logs, expected, tmp_path):
    other = tmp_path / "other.txt"
    other.write_text("Break load (N)\n13100\n13200\n13050\n")
    own = tmp_path / "own.txt"
    own.write_text("Break load (N)\n14100\n14300\n14150\n")
    outcome = evaluate.match(joint, [own], against=[other], expected=expected)
    found = outcome.comparison["load maximum"]
    assert found.told_apart
    assert found.difference < 0.0
    # the logs were stopped before the break
    stopped = evaluate.match(joint, logs, against=[other], expected=expected)
    assert "load maximum" not in {**stopped.comparison, **stopped.spreads}
    assert "not broken, and so in no mean of highest loads: pull0.csv" in str(stopped)


def test_break_loads_alone_have_their_spread_and_nothing_to_learn(joint, expected, tmp_path):
    path = tmp_path / "peaks.txt"
    path.write_text("Peak kN\n13,1\n13,2\n13,3\n9,0\n13,15\n")
    outcome = evaluate.match(joint, [path], expected=expected)
    found = outcome.spreads["load maximum"]
    assert found.count == 5
    assert found.outliers == (3,)
    with pytest.raises(BadInput, match="needs a log with travel"):
        evaluate.learned(joint, outcome)


def test_an_elastic_log_teaches_nothing(joint, expected, true_pull, tmp_path):
    from support.rig_logs import as_csv, logged

    force, travel = logged(true_pull, slack=0.2, compliance=1e-4, noise=5.0, until=0.06)
    path = as_csv(tmp_path / "early.csv", (travel, force), "mm;N\n")
    outcome = evaluate.match(joint, [path], expected=expected)
    assert outcome.matches[0].offset is None
    with pytest.raises(BadInput, match="left its elastic line by"):
        evaluate.learned(joint, outcome)


def test_every_bad_log_is_told_of_at_once(expected, tmp_path):
    paths = [tmp_path / name for name in ("none.csv", "empty.csv")]
    paths[1].touch()
    with pytest.raises(BadInput) as caught:
        evaluate.read_logs(paths, Hints(), expected)
    assert len(caught.value.faults) == 2


def test_plain_data_of_an_outcome_is_json(outcome):
    import json

    text = json.dumps(outcome.to_dict(), allow_nan=False)
    assert "maximum_kgf" in text
    assert np.isfinite(outcome.to_dict()["samples"]["offset load"]["mean_N"])


def words(outcome):
    """Return the words of an outcome's picture."""
    return look.encoded(outcome.plot(), "svg", 900).decode()


def test_a_predicted_end_that_is_in_sight_is_drawn_with_its_mode(outcome, expected):
    short = Curve(expected.curve.load[:20], expected.curve.extension[:20])
    broken = replace(expected, curve=short, most=float(short.load.max()), most_mode="pin shear")
    seen = words(replace(outcome, expected=broken))
    assert "predicted: pin shears at" in seen
    unbroken = replace(broken, most_mode="")
    told = words(replace(outcome, expected=unbroken))
    assert "predicted: pin shears" not in told
    assert "predicted: " not in told


def test_a_blank_pull_goes_into_the_fit_with_the_travel_as_logged(
    joint, expected, true_pull, tmp_path, monkeypatch
):
    from support.rig_logs import as_csv, logged

    force, travel = logged(true_pull, slack=0.2, compliance=1e-4, noise=5.0)
    log = as_csv(tmp_path / "log.csv", (travel, force), "mm;N\n")
    bar = np.linspace(0.0, 1.1 * force.max(), 300)
    blank = as_csv(tmp_path / "blank.csv", (0.1 + 1e-4 * bar, bar), "mm;N\n")
    outcome = evaluate.match(joint, [log], blank=blank, expected=expected)
    assert outcome.blank
    asked = []
    fit = SimpleNamespace(settled=False, notes=())
    monkeypatch.setattr(
        evaluate.calibration, "fit", lambda pulls, *_, **__: asked.extend(pulls) or fit
    )
    evaluate.learned(joint, outcome)
    np.testing.assert_allclose(asked[0].travel, travel, atol=1e-3)
    stretch = asked[0].blank.at(np.array([5000.0])) - asked[0].blank.at(np.array([1000.0]))
    assert stretch == pytest.approx(0.4, rel=0.01)
