"""Learning from logs that run to the load maximum and break, with straight and stiffening rigs."""

from __future__ import annotations

import numpy as np
import pytest
from support.synthetic_pulls import (
    NAMES,
    PRIORS,
    START,
    a_truth,
    blank,
    broken_pull,
    inward,
    linear,
    pulled,
    solve,
    stiffening,
)  # fmt: skip

from fejoint.errors import BadInput
from fejoint.measured import blank_pull, calibration, curve_error, report_lines, rig_compliance
from fejoint.measured.rig_compliance import Curve

SEEN = (262.0, 600.0, 0.48, 0.2)


def learn(pulls, start=None, **how):
    reach = max(float(p.extension(int(p.force.argmax()) + 1).max()) for p in pulls)
    reach = min(reach, float(solve(inward(START)).extension[-1]))
    return calibration.fit(
        pulls, lambda at: solve(at, reach), PRIORS, elastic_until=0.02, start=start, **how
    )


def logs_of(truth, count=2, seed=1):
    rng = np.random.default_rng(seed)
    curve = solve(inward(truth))
    return [
        pulled(*broken_pull(curve, linear, rng, slack=0.2 + 0.1 * k), f"log {k}")
        for k in range(count)
    ]


def test_a_far_start_and_the_true_start_end_alike_and_hold_the_truth():
    logs = logs_of(SEEN)
    far, true = learn(logs), learn(logs, start=SEEN)
    assert far.settled
    assert true.settled
    for a, b, value in zip(far.parameters, true.parameters, SEEN, strict=True):
        sd = (a.interval[1] - a.interval[0]) / 3.92
        assert abs(a.value - b.value) < 0.5 * sd
        assert a.interval[0] <= value <= a.interval[1]
    # the noise is 1e-3, and the model's shape may be off by half of that
    assert max(*far.rms_after, *true.rms_after) < 1e-3


def test_a_fit_that_may_not_move_has_not_settled_and_says_so():
    fit = learn(logs_of(SEEN), moves=1)
    assert not fit.settled
    assert any("has not settled" in note for note in fit.notes)


def off_as_stated(curve, rng):
    """Return a curve that is off from the model's as a whole and in its shape."""
    reach = min(float(curve.extension[-1]), float(solve(inward(START)).extension[-1]))
    grid = reach * np.linspace(0.0, 1.0, 161)[1:] ** 2
    ways = curve_error.shapes(grid, np.zeros(len(grid)))
    off = np.interp(curve.extension, grid, rng.normal(0.0, 1.0, len(ways)) @ ways)
    return Curve(np.exp(off) * curve.load, curve.extension)


@pytest.mark.sampled
@pytest.mark.parametrize("rig", ["straight", "stiffening"])
def test_stated_intervals_cover_the_truth(rig, draws, tally):
    count = draws(100) if draws(100) == 100 else 3
    hits, unsettled = dict.fromkeys(NAMES, 0), 0
    for seed in range(count):
        rng = np.random.default_rng([88, seed])
        truth = a_truth(rng)
        curve = solve(inward(truth))
        # the model's load is off as a whole and in its shape, and every sample by itself, as much
        # as is stated
        curve = off_as_stated(curve, rng)
        factor, of_rig = rng.uniform(0.8, 1.25), None
        if rig == "stiffening":
            of_rig = blank(
                lambda f, k=factor: k * stiffening(f), rng, 1.1 * float(curve.load.max())
            )
        pulls = []
        for k in range(2):
            stiffness = 9000.0 * np.exp(rng.normal(0.0, 0.15))
            travel_of = (
                (lambda f, s=stiffness: linear(f, s)) if of_rig is None
                else (lambda f, k=factor: k * stiffening(f))
            )  # fmt: skip
            force, travel = broken_pull(
                curve, travel_of, rng, slack=rng.uniform(0.1, 0.5),
                sample=np.exp(rng.normal(0.0, 0.01)),
            )  # fmt: skip
            pulls.append(pulled(force, travel, f"log {k}", of_rig))
        fit = learn(pulls)
        unsettled += not fit.settled
        for name, x, value in zip(NAMES, fit.parameters, truth, strict=True):
            hits[name] += int(x.interval[0] <= value <= x.interval[1])
    tally(f"{rig} rig: 95 % intervals that cover, of {count}: {hits}; {unsettled} not settled")
    least = 0.90 * count if count >= 100 else count - 1
    assert min(hits.values()) >= least
    assert unsettled <= 0.05 * count


def test_a_compliance_is_one_a_log():
    rng = np.random.default_rng(4)
    curve = solve(inward(SEEN))
    logs = [
        pulled(*broken_pull(curve, lambda f, s=s: linear(f, s), rng), f"log {s}")
        for s in (8000.0, 9800.0)
    ]
    fit = learn(logs)
    for found, stiffness in zip(fit.compliances, (8000.0, 9800.0), strict=True):
        assert found.interval[0] <= 1.0 / stiffness <= found.interval[1]
        assert found.interval[1] - found.interval[0] < 0.1 / stiffness


@pytest.mark.parametrize("seed", range(3))
def test_a_stiffening_rig_is_noticed_and_a_straight_one_is_not(seed):
    rng = np.random.default_rng(seed)
    curve = solve(inward(SEEN))
    predicted = solve(inward(START))
    for rig, noticed in ((stiffening, True), (linear, False)):
        log = pulled(*broken_pull(curve, rig, rng), "log")
        why = rig_compliance.not_a_line(log.force, log.travel, predicted, 8200.0, log.rig)
        assert bool(why) == noticed, why


def test_a_blank_pull_takes_a_stiffening_rig_out():
    rng = np.random.default_rng(2)
    curve = solve(inward(SEEN))
    of_rig = blank(stiffening, rng, 20000.0)
    log = pulled(*broken_pull(curve, stiffening, rng), "log", of_rig)
    own = log.extension()
    top = int(np.argmax(log.force))
    at = np.linspace(500, top, 40).astype(int)
    np.testing.assert_allclose(
        own[at], np.interp(log.force[at], curve.load, curve.extension), atol=0.08
    )
    with pytest.raises(BadInput, match="pull the stiff bar to a higher load"):
        pulled(*broken_pull(curve, stiffening, rng), "log", blank(stiffening, rng, 9000.0))


def test_a_blank_pull_tells_how_far_its_shape_may_be_off():
    at = np.linspace(500.0, 19000.0, 30)
    within = []
    for seed in range(40):
        found = blank(stiffening, np.random.default_rng(seed), 18000.0)
        off = found.at(at) - stiffening(at)
        middle = found.errors @ np.gradient(found.load) / found.load[-1]
        errors = found.errors - middle[:, None]  # its mean is slack
        off -= (
            np.trapezoid(found.at(found.load) - stiffening(found.load), found.load)
            / (found.load[-1])
        )
        sd = np.sqrt(sum(np.interp(at, found.load, e) ** 2 for e in errors))
        within.append(np.mean(np.abs(off) < 1.96 * sd))
    assert 0.88 < np.mean(within) < 0.99


def test_a_blank_pull_needs_travel_and_rows():
    from support.synthetic_pulls import as_log

    few = as_log(np.linspace(0.0, 9.0, 8), np.linspace(0.0, 1.0, 8))
    with pytest.raises(BadInput, match="rows under load"):
        blank_pull.read(few)


@pytest.mark.parametrize(
    ("after", "word"), [(0.0121, "WORSE"), (0.0037, "no better"), (0.0012, "met better")]
)
def test_a_held_out_log_is_judged_in_words(after, word):
    assert word in report_lines.held_out_words("a.csv", 0.0037, after)
