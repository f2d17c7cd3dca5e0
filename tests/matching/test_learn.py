from __future__ import annotations

import numpy as np
import pytest
from rig_logs import cheap_curve, logged

from fejoint.errors import BadInput
from fejoint.matching import learn, like_for_like, rig
from fejoint.matching.learned import Prior, Pulled

HELD = {"rp02": 290.0, "rm": 620.0, "uniform_strain": 0.45, "friction": 0.15}
PRIORS = (
    Prior("rp02", "MPa", 290.0, 0.3, 120.0, 700.0),
    Prior("rm", "MPa", 620.0, 0.2, 310.0, 1240.0),
    Prior("uniform_strain", "", 0.45, 0.3, 0.14, 1.1),
    Prior("friction", "", 0.15, 0.1, 0.0, 0.6, logarithmic=False),
)
PREDICTED = cheap_curve(HELD)
SCALE = like_for_like.offset_of(PREDICTED, 0.082).load
LEAVES = 0.02


def solve(at):
    return cheap_curve({p.name: p.outward(float(v)) for p, v in zip(PRIORS, at, strict=True)})


def pulled(truth, seed, **how):
    force, travel = logged(truth, seed=seed, **how)
    found = rig.find(force, travel, PREDICTED, min(SCALE, 0.9 * float(force.max())))
    return Pulled(f"log {seed}", force - found.zero, travel, found)


def a_truth(rng):
    return {
        "rp02": 290.0 * np.exp(rng.normal(0.0, 0.12)),
        "rm": 620.0 * np.exp(rng.normal(0.0, 0.05)),
        "uniform_strain": 0.45 * np.exp(rng.normal(0.0, 0.12)),
        "friction": float(np.clip(rng.normal(0.15, 0.05), 0.02, 0.4)),
    }


@pytest.mark.sampled
def test_stated_intervals_cover_the_truth(draws, tally):
    count = draws(100)
    rng = np.random.default_rng(88)
    names = ("rp02", "rm", "uniform_strain", "friction", "compliance")
    hits = dict.fromkeys(names, 0)
    for seed in range(count):
        truth = a_truth(rng) | {"compliance": rng.uniform(0.6e-4, 2e-4)}
        curve = cheap_curve(
            {k: v for k, v in truth.items() if k != "compliance"},
            stiffness=70_000.0 * np.exp(rng.normal(0.0, 0.03)),
            scale=np.exp(rng.normal(0.0, 0.006)),
        )
        logs = [
            pulled(curve, 100 * seed + k, slack=rng.uniform(0.05, 0.5), noise=20.0, rows=700,
                   compliance=truth["compliance"])
            for k in range(2)
        ]  # fmt: skip
        fit = learn.fit(logs, solve, PRIORS, elastic_until=LEAVES)
        for name, x in zip(names, (*fit.parameters, fit.compliance), strict=True):
            hits[name] += int(x.interval[0] <= truth[name] <= x.interval[1])
    tally(f"intervals that cover, of {count}: {hits}")
    assert min(hits.values()) >= 0.85 * count


def test_a_log_that_never_left_the_elastic_line_is_refused():
    log = pulled(PREDICTED, 1, slack=0.2, compliance=1e-4, noise=10.0, until=0.06)
    with pytest.raises(BadInput, match="never left the elastic line"):
        learn.fit([log], solve, PRIORS, elastic_until=LEAVES)


def test_a_log_that_ends_soon_after_yield_tells_yield_and_not_the_strength():
    truth = cheap_curve({**HELD, "rp02": 340.0})
    log = pulled(truth, 1, slack=0.2, compliance=1e-4, noise=15.0, until=0.2)
    fit = learn.fit([log], solve, PRIORS, elastic_until=LEAVES)
    by_name = {x.prior.name: x for x in fit.parameters}
    assert by_name["rp02"].identified
    assert not by_name["rm"].identified
    assert fit.values()["rm"] == 620.0
    assert fit.values()["rp02"] == pytest.approx(340.0, rel=0.1)


def test_learning_betters_a_log_that_was_held_out():
    truth = cheap_curve({**HELD, "rp02": 340.0, "rm": 560.0})
    how = {"compliance": 1.2e-4, "noise": 15.0}
    logs = [pulled(truth, k, slack=0.1 + 0.1 * k, **how) for k in range(3)]
    fit = learn.fit(logs[:2], solve, PRIORS, held_out=logs[2:], elastic_until=LEAVES)
    before, after = fit.held_out["log 2"]
    assert after < 0.2 * before
    assert fit.slacks == pytest.approx([0.1, 0.2], abs=0.005)
    assert np.allclose(np.diag(fit.correlation), 1.0)


def test_a_stated_rig_is_held():
    truth = cheap_curve({**HELD, "rp02": 330.0})
    force, travel = logged(truth, slack=0.2, compliance=1e-4, noise=10.0)
    found = rig.find(force, travel, PREDICTED, SCALE, stiffness=1e4)
    fit = learn.fit([Pulled("a", force, travel, found)], solve, PRIORS, elastic_until=LEAVES)
    assert fit.compliance.value == pytest.approx(1e-4, rel=5e-3)
