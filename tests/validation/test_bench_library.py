"""A general-purpose library and this kernel agree on the elastic-plastic ear, step by step."""

from __future__ import annotations

import importlib.util
import sys

import numpy as np
import pytest
from support import ROOT

SCRIPT = ROOT / "scripts/bench_library.py"


@pytest.fixture(scope="module")
def bench():
    pytest.importorskip("skfem")
    spec = importlib.util.spec_from_file_location("bench_library", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    sys.modules["bench_library"] = module
    spec.loader.exec_module(module)
    yield module
    del sys.modules["bench_library"]


@pytest.fixture(scope="module")
def pulled(bench):
    problem = bench.problem(sides=16, steps=8)
    return bench.by_fejoint(problem), bench.by_library(problem)


def test_both_give_the_same_load_at_every_step(pulled):
    ours, theirs = pulled
    assert ours.dofs == theirs.dofs
    assert np.allclose(ours.loads, theirs.loads, rtol=1e-6)


def test_the_ear_yields_on_the_way(pulled):
    ours, _ = pulled
    # an elastic one would carry the first step's load eight times
    assert ours.loads[-1] < 0.5 * 8 * ours.loads[0]


def test_the_comparison_is_told_in_one_table(bench):
    row = {"sides": 16, "dofs": 500, "steps": 8, "load_N": 2500.0, "worst_difference": 1e-9}
    for name in ("ours", "ours_superlu", "library"):
        row |= {f"{name}_cpu_s": 0.5, f"{name}_factorisations": 30}
    head, _, line = bench.lines([row])
    assert "scikit-fem" in head
    assert "2500.0" in line
    assert "1.0e-09" in line
