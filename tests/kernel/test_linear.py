from __future__ import annotations

import os
import subprocess
import sys
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.sparse import csr_array, random_array, triu

from fejoint.kernel import linear
from fejoint.kernel.linear import LinearSolver

needs_mkl = pytest.mark.skipif(linear._mkl() is None, reason="pypardiso is not installed")


def saddle(n: int = 300, k: int = 2, seed: int = 0) -> csr_array:
    """A stiffness-like matrix bordered by constraints: symmetric and indefinite."""
    rng = np.random.default_rng(seed)
    a = random_array((n, n), density=0.02, random_state=rng).toarray()
    a = a + a.T + np.diag(20.0 + rng.uniform(0, 5, n))
    c = rng.normal(size=(k, n))
    return csr_array(np.block([[a, -c.T], [-c, np.zeros((k, k))]]))


def upper(matrix: csr_array) -> csr_array:
    half = csr_array(triu(matrix))
    # pivoting solvers want the whole diagonal present, zeros too
    n = half.shape[0]
    rows, columns = half.nonzero()
    keys = np.unique(np.concatenate([rows * n + columns, np.arange(n) * (n + 1)]))
    dense = half.toarray()
    indptr = np.searchsorted(keys, np.arange(n + 1) * n)
    return csr_array((dense[keys // n, keys % n], keys % n, indptr), shape=half.shape)


def unsymmetric(seed: int = 1) -> csr_array:
    """Unequal values at mirrored places, as friction makes them."""
    m = saddle(seed=seed).toarray()
    return csr_array(np.where(np.triu(m, 1) != 0.0, 1.3 * m, m))


@needs_mkl
@pytest.mark.parametrize("columns", [None, 3])
@pytest.mark.parametrize("symmetric", [True, False])
def test_both_solvers_give_the_same_answer(symmetric, columns):
    whole = saddle() if symmetric else unsymmetric()
    matrix = upper(whole) if symmetric else whole
    b = np.random.default_rng(4).normal(size=(302,) if columns is None else (302, columns))
    answers = [LinearSolver(symmetric, name).solve(matrix, b) for name in ("pardiso", "superlu")]
    np.testing.assert_allclose(*answers, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(whole @ answers[0], b, atol=1e-10)


@needs_mkl
def test_one_pattern_is_analysed_once():
    solver = LinearSolver(True, "pardiso")
    matrix = upper(saddle())
    b = np.ones(302)
    for scale in (1.0, 2.0, 3.0):
        again = csr_array((matrix.data * scale, matrix.indices, matrix.indptr), matrix.shape)
        np.testing.assert_allclose(solver.solve(again, b) * scale, solver.solve(matrix, b))
    assert solver.statistics.symbolic == 1
    assert solver.statistics.numeric == 6
    solver.solve(upper(saddle(seed=5)), b)
    assert solver.statistics.symbolic == 2


class _Liar:
    """A solver that answers off by a part in a thousand."""

    def __init__(self, symmetric, matrix, weighted_matching, nested_dissection):
        self._honest = linear._SuperLU(symmetric)

    def factorise(self, matrix):
        self._honest.factorise(matrix)

    def solve(self, b):
        return self._honest.solve(b) * 1.001

    def release(self):
        pass


@pytest.mark.parametrize("symmetric", [True, False])
def test_a_bad_solution_is_seen_and_repaired(monkeypatch, symmetric):
    monkeypatch.setattr(linear, "_mkl", lambda: object())
    monkeypatch.setattr(linear, "_Pardiso", _Liar)
    whole = saddle() if symmetric else unsymmetric()
    b = np.ones(302)
    solver = LinearSolver(symmetric, "pardiso")
    x = solver.solve(upper(whole) if symmetric else whole, b)
    np.testing.assert_allclose(whole @ x, b, atol=1e-9)
    assert solver.statistics.repaired == 1


def test_a_bad_solution_with_the_last_factors_is_seen_and_repaired(monkeypatch):
    monkeypatch.setattr(linear, "_mkl", lambda: object())
    monkeypatch.setattr(linear, "_Pardiso", _Liar)
    whole, b = saddle(), np.ones(302)
    solver = LinearSolver(True, "pardiso")
    solver.solve(upper(whole), b)
    x = solver.resolve_with_last_factors(2.0 * b)
    np.testing.assert_allclose(whole @ x, 2.0 * b, atol=1e-9)
    assert solver.statistics.repaired == 2


@needs_mkl
def test_a_solve_leaves_the_process_s_threads_as_they_were():
    """In a process of its own: what others set for MKL is theirs."""
    code = """
from types import SimpleNamespace
import ctypes, numpy as np
from scipy.sparse import csr_array
from fejoint.kernel import linear
mkl = ctypes.CDLL(linear._mkl_path())
mkl.MKL_Set_Num_Threads(ctypes.c_int(3))
inside = []
whole = linear._mkl()
solver = linear.LinearSolver(True, "pardiso")
with linear._one_thread(whole):
    inside.append(mkl.MKL_Get_Max_Threads())
solver.solve(csr_array(2.0 * np.eye(5)), np.ones(5))
solver.close()
print(inside[0], mkl.MKL_Get_Max_Threads())
"""
    env = {**os.environ, "MKL_DYNAMIC": "FALSE"}
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=env
    )
    assert done.stdout.split() == ["1", "3"]


@pytest.mark.parametrize("backend", ["superlu", pytest.param("pardiso", marks=needs_mkl)])
@pytest.mark.parametrize("symmetric", [True, False])
def test_a_singular_matrix_gives_no_number_and_no_crash(backend, symmetric):
    # a chain of springs that nothing holds
    matrix = 2.0 * np.eye(6) - np.eye(6, k=1) - np.eye(6, k=-1)
    matrix[0, 0] = matrix[5, 5] = 1.0
    half = upper(csr_array(matrix))
    whole = half + csr_array(triu(half, 1).T)
    x = LinearSolver(symmetric, backend).solve(half if symmetric else whole, np.ones(6))
    assert not np.all(np.isfinite(x))


def test_a_missing_fast_solver_is_said_plainly(monkeypatch):
    monkeypatch.setattr(linear, "_mkl", lambda: None)
    assert LinearSolver(True).backend == "superlu"
    with pytest.raises(ValueError, match="superlu"):
        LinearSolver(True, "pardiso")


@needs_mkl
def test_mkl_is_found_by_pypardiso_where_pip_has_not_put_it_and_may_be_switched_off(
    monkeypatch, tmp_path
):
    known = linear._mkl_path()
    monkeypatch.setattr(linear.sys, "prefix", str(tmp_path))
    found = SimpleNamespace(libmkl=SimpleNamespace(_name="there/libmkl_rt.so"))
    fake = SimpleNamespace(PyPardisoSolver=lambda: found)
    monkeypatch.setitem(sys.modules, "pypardiso", fake)
    assert linear._mkl_path() == "there/libmkl_rt.so" != known
    monkeypatch.setenv("FEJOINT_SOLVER", "superlu")
    assert linear._mkl_path() is None


def test_a_library_that_is_none_is_no_fast_solver(monkeypatch, tmp_path):
    broken = tmp_path / "libmkl_rt.so"
    broken.write_text("no library")
    monkeypatch.setattr(linear, "_mkl_path", lambda: str(broken))
    assert linear._mkl.__wrapped__() is None


@needs_mkl
def test_an_error_of_mkl_is_none_of_its_numbers():
    solver = LinearSolver(True, "pardiso")
    b = np.ones(302)
    solver.solve(upper(saddle()), b)
    held = next(x for x in vars(solver).values() if isinstance(x, linear._Pardiso))
    held._library = SimpleNamespace(pardiso=lambda *_: None, MKL_Set_Num_Threads_Local=lambda _: 0)
    held._error.value = -4
    with pytest.raises(linear._FactorisationError):
        held._call(33, b)
