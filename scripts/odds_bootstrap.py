"""Draw joints about a case, solve each, and compare who gives first with the stated odds.

    .venv/bin/python scripts/odds_bootstrap.py CASE --count 200 --set "pin.hardness=34 HRC"

The stated odds come from one solve and a few coarse plates (fejoint/analysis/joint_odds.py); here
every drawn joint is solved for itself: metals from lot to lot, the curve's shape, fracture strain,
and friction from 0 to 0.3. On top comes the model's error, drawn by kind of limit for each. Exits
with 1 where a share is off by more than 5 in 100 and by more than the draw's own chance.
"""

from __future__ import annotations

import argparse
import math
from concurrent.futures import as_completed
from typing import Any

import numpy as np

ALLOWED = 0.05
"""Largest difference of a share."""
REPEATS = 50
"""Draws of the model's error for each solved joint."""


def limits_of(case: dict[str, Any], refine: float) -> list[tuple[str, str, float, float]]:
    """Pull one joint; return each limit's member, kind, load (N) and model deviation inputs."""
    from fejoint.analysis import model_error
    from fejoint.analysis.pull import pull
    from fejoint.joint import model

    answer = pull(model.read(case), refine=refine)
    return [
        (x.member, model_error.kind_of(x.mode, x.cause), x.load, answer.trace.load.max())
        for part in answer.verdict.order
        for x in (part.first, *part.later)
        if not x.past_top
    ]


def shares(solved: list[list[tuple[str, str, float, float]]], seed: int) -> dict[str, float]:
    """Return how often each member gives first, the model's error drawn for each joint."""
    from fejoint.analysis import model_error

    rng, table = np.random.default_rng(seed), model_error.table()
    counts: dict[str, int] = {}
    for limits in solved:
        for _ in range(REPEATS):
            z = {kind: rng.standard_normal() for kind in table}
            drawn = [
                (load * math.exp(table[kind].deviation * z[kind] - table[kind].shift), member)  # type: ignore[index]
                for member, kind, load, _ in limits
            ]
            first = min(drawn)[1]
            counts[first] = counts.get(first, 0) + 1
    return {name: n / (REPEATS * len(solved)) for name, n in counts.items()}


def main() -> int:
    """Print stated and found shares."""
    import fejoint
    from fejoint.analysis.pull import pull
    from fejoint.joint.scatter import Spread
    from fejoint.studies.sweeps.sampling import Draws, spreads_of
    from fejoint.system.processes import pool

    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("case")
    parser.add_argument("--set", action="append", default=[], metavar="KEY=VALUE")
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--refine", type=float, default=0.5)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    joint = fejoint.load(given.case)
    for text in given.set:
        key, _, value = text.partition("=")
        joint = joint.replace(key, value)
    stated = pull(joint, band=True).odds
    assert stated is not None
    spreads = list(spreads_of(joint))
    if not any(s.path == "fit.friction" for s in spreads):
        spreads.append(Spread("fit.friction", "between", ends=(0.0, 0.3)))
    plan = Draws(joint, tuple(spreads), given.count, given.seed)
    cases = [plan.row(k).case for k in range(given.count)]
    solved = []
    with pool(given.workers) as submit:
        jobs = [submit(limits_of, case, given.refine) for case in cases if case is not None]
        solved = [job.result() for job in as_completed(jobs)]
    found = shares(solved, given.seed)
    off = 0.0
    for name in sorted({*found, *stated.shares}):
        one, other = stated.shares.get(name, 0.0), found.get(name, 0.0)
        chance = math.sqrt(max(other * (1.0 - other), 1e-9) / len(solved))
        off = max(off, abs(one - other))
        print(f"{name}: stated {100 * one:.1f}, found {100 * other:.1f} +- {100 * chance:.1f}")
    first = [min(x for m, _, x, _ in joint if m == stated.first) for joint in solved
             if any(m == stated.first for m, *_ in joint)]  # fmt: skip
    low, high = np.percentile(first, [5.0, 95.0])
    print(f"{stated.first}, computed: nine in ten of the drawn from {low:,.0f} to {high:,.0f} N")
    print(f"{len(solved)} joints, largest difference {100 * off:.1f} in 100")
    return int(off > ALLOWED)


if __name__ == "__main__":
    raise SystemExit(main())
