"""Direct solution of the sparse systems, that reuses the symbolic factorisation.

pypardiso (MKL) where it is installed, SciPy's SuperLU always. Every solution's residual is checked;
a bad one is solved again by SuperLU and counted.
"""

from __future__ import annotations

import ctypes
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, Protocol

import numpy as np
from scipy.sparse import csc_array, csr_array, triu

from fejoint.arrays import Floats
from fejoint.kernel import compiled

BACKENDS = ("fastest", "pardiso", "superlu")
"""Direct solvers that may be requested."""
BAD_RESIDUAL = 1e-6
"""Relative residual of a linear solution above which it is solved again."""


@dataclass
class SolverStatistics:
    """What the linear algebra cost.

    Attributes
    ----------
    symbolic, numeric, solves, repaired : int
        Symbolic and numeric factorisations, solutions, and solutions mended by SuperLU.
    seconds : float
        CPU time in all of them.
    """

    symbolic: int = 0
    numeric: int = 0
    solves: int = 0
    repaired: int = 0
    seconds: float = 0.0


class Backend(Protocol):
    """A direct solver for one sparsity pattern."""

    def factorise(self, matrix: csr_array) -> None:
        """Factorise a matrix whose pattern may be new."""

    def solve(self, b: Floats) -> Floats:
        """Solve for one or more right-hand sides, (n,) or (n, k)."""


@dataclass
class LinearSolver:
    """Factorises matrices of one pattern after another and solves with them.

    Parameters
    ----------
    symmetric : bool
        The matrices hold their upper triangle only, and are symmetric (indefinite allowed).
    backend : {"fastest", "pardiso", "superlu"}
    weighted_matching : bool
        Choose pivots by the first matrix's values too, so that a multiplier with a single
        neighbour is not eliminated before it. The order of elimination, and with it the last
        digit, then depends on where a path begins.
    nested_dissection : bool
        Choose the order by cutting the graph in two, again and again: quicker than minimum degree
        for bodies in three dimensions, by a third at 16,000 unknowns. Pardiso only.
    """

    symmetric: bool
    backend: str = "fastest"
    weighted_matching: bool = False
    nested_dissection: bool = False
    statistics: SolverStatistics = field(default_factory=SolverStatistics)
    _solver: Any = None
    _matrix: csr_array | None = None

    def __post_init__(self) -> None:
        if self.backend == "fastest":
            self.backend = "pardiso" if _mkl() is not None else "superlu"
        elif self.backend == "pardiso" and _mkl() is None:
            message = "pypardiso is not installed here; use the solver 'superlu'"
            raise ValueError(message)

    def solve(self, matrix: csr_array, b: Floats) -> Floats:
        """Factorise `matrix` and solve.

        Parameters
        ----------
        matrix : csr_array
            The whole matrix, or its upper triangle when `symmetric`.
        b : (n,) or (n, k) array

        Returns
        -------
        array like `b`; not finite where the matrix is singular
        """
        start = time.process_time()
        try:
            return self._checked(matrix, self._attempt(matrix, b), b)
        finally:
            self.statistics.seconds += time.process_time() - start

    def resolve_with_last_factors(self, b: Floats) -> Floats:
        """Solve with the last factorisation, for a system that has hardly changed.

        Parameters
        ----------
        b : (n,) or (n, k) array

        Returns
        -------
        array like `b`
            Solution for the last matrix, whose residual is checked like any other's.
        """
        assert self._matrix is not None
        start = time.process_time()
        try:
            self.statistics.solves += 1
            return self._checked(self._matrix, np.asarray(self._solver.solve(b)), b)
        finally:
            self.statistics.seconds += time.process_time() - start

    def _checked(self, matrix: csr_array, x: Floats, b: Floats) -> Floats:
        """Return a solution, by SuperLU instead where its residual is bad."""
        if self.backend == "superlu" or self._good(matrix, x, b):
            return x
        self.statistics.repaired += 1
        try:
            return _SuperLU(self.symmetric).factorise(matrix).solve(b)
        except _FactorisationError:
            return np.full_like(b, np.nan)

    def _attempt(self, matrix: csr_array, b: Floats) -> Floats:
        try:
            if self.backend == "superlu":
                self.statistics.symbolic += 1
                self._solver = _SuperLU(self.symmetric)
            elif self._matrix is None or not _same_pattern(self._matrix, matrix):
                self.statistics.symbolic += 1
                if self._solver is not None:
                    self._solver.release()
                self._solver = _Pardiso(
                    self.symmetric, matrix, self.weighted_matching, self.nested_dissection
                )
            self._matrix = matrix
            self.statistics.numeric += 1
            self._solver.factorise(matrix)
            self.statistics.solves += 1
            return np.asarray(self._solver.solve(b))
        except _FactorisationError:
            return np.full_like(b, np.nan)

    def _good(self, matrix: csr_array, x: Floats, b: Floats) -> bool:
        if not np.all(np.isfinite(x)):
            return False
        check = compiled.miss()
        if check is not None and x.ndim == 1 and matrix.indices.dtype == np.int32:
            rows = matrix.indptr, matrix.indices, matrix.data
            missed = check(*rows, self.symmetric, x, np.ascontiguousarray(b), np.empty_like(x))
            return bool(missed <= BAD_RESIDUAL**2 * (b @ b))
        product = matrix @ x
        if self.symmetric:
            product += matrix.T @ x
            diagonal = matrix.diagonal()
            product -= diagonal * x if x.ndim == 1 else diagonal[:, None] * x
        return bool(np.linalg.norm(product - b) <= BAD_RESIDUAL * np.linalg.norm(b))

    def close(self) -> None:
        """Give the solver's memory back."""
        if self._solver is not None and hasattr(self._solver, "release"):
            self._solver.release()
        self._solver = self._matrix = None


class _FactorisationError(Exception):
    pass


def _same_pattern(a: csr_array, b: csr_array) -> bool:
    return a.indices is b.indices or (
        a.shape == b.shape
        and np.array_equal(a.indptr, b.indptr)
        and np.array_equal(a.indices, b.indices)
    )


class _SuperLU:
    def __init__(self, symmetric: bool) -> None:
        self._symmetric = symmetric

    def factorise(self, matrix: csr_array) -> _SuperLU:
        from scipy.sparse.linalg import splu  # 0.04 s that MKL's solver does without

        whole = matrix + triu(matrix, 1).T if self._symmetric else matrix
        try:
            self._lu = splu(
                csc_array(whole),
                permc_spec="MMD_AT_PLUS_A",
                diag_pivot_thresh=0.01,
                options={"SymmetricMode": True},
            )
        except RuntimeError as singular:
            raise _FactorisationError from singular
        return self

    def solve(self, b: Floats) -> Floats:
        return np.asarray(self._lu.solve(b))


_ANALYSE, _FACTORISE, _SOLVE, _RELEASE = 11, 22, 33, -1


class _Pardiso:
    """MKL PARDISO through pypardiso's library handle, with the index arrays made only once."""

    def __init__(
        self, symmetric: bool, matrix: csr_array, weighted_matching: bool, nested_dissection: bool
    ) -> None:
        self._library = _mkl()
        self._pt = np.zeros(64, np.int64)
        self._iparm = np.zeros(64, np.int32)
        self._type = -2 if symmetric else 1
        self._n = matrix.shape[0]
        self._ia = matrix.indptr.astype(np.int32) + 1
        self._ja = matrix.indices.astype(np.int32) + 1
        self._iparm[0] = 1  # own settings follow
        # minimum degree: a tenth quicker than METIS up to 10,000 unknowns in the plane
        self._iparm[1] = 2 if nested_dissection else 0
        self._iparm[9] = 8 if symmetric else 13  # perturb pivots below 1e-8 or 1e-13
        self._iparm[10] = 0  # scaling: its digits would hang on where arrays lie in memory
        self._iparm[12] = int(weighted_matching)
        self._iparm[20] = 1  # Bunch-Kaufman pivots
        self._a = matrix.data
        one, zero, n = ctypes.c_int32(1), ctypes.c_int32(0), ctypes.c_int32(self._n)
        self._phase, self._columns = ctypes.c_int32(0), ctypes.c_int32(1)
        self._error = ctypes.c_int32(0)
        kind = ctypes.c_int32(self._type)
        ref = ctypes.byref
        # made once: making these arguments anew costs as much as a small solution
        self._head = (
            self._pt.ctypes.data, ref(one), ref(one), ref(kind), ref(self._phase), ref(n),
        )  # fmt: skip
        self._tail = (
            self._ia.ctypes.data, self._ja.ctypes.data, None, ref(self._columns),
            self._iparm.ctypes.data, ref(zero),
        )  # fmt: skip
        self._open = True
        self._call(_ANALYSE, np.zeros(self._n))

    def factorise(self, matrix: csr_array) -> None:
        self._a = np.ascontiguousarray(matrix.data)
        self._call(_FACTORISE, np.zeros(self._n))

    def solve(self, b: Floats) -> Floats:
        return self._call(_SOLVE, b)

    def release(self) -> None:
        if self._open:
            self._open = False
            self._call(_RELEASE, np.zeros(self._n))

    def __del__(self) -> None:
        # whoever drops a solver gives its memory back; at the process's end MKL may be gone
        with suppress(Exception):
            self.release()

    def _call(self, phase: int, b: Floats) -> Floats:
        b = np.asfortranarray(b, dtype=float)
        x = np.zeros_like(b, order="F")
        self._phase.value, self._columns.value = phase, 1 if b.ndim == 1 else b.shape[1]
        with _one_thread(self._library):
            self._library.pardiso(
                *self._head, self._a.ctypes.data, *self._tail, b.ctypes.data, x.ctypes.data,
                ctypes.byref(self._error),
            )  # fmt: skip
        if self._error.value != 0:
            raise _FactorisationError(self._error.value)
        return np.ascontiguousarray(x)


def has_pardiso() -> bool:
    """Return whether MKL's solver is installed here, and not switched off."""
    return _mkl() is not None


_CBWR_AUTO = 2
"""MKL's conditional numerical reproducibility, by the best branch of the machine."""


@lru_cache(maxsize=1)
def _mkl() -> Any:
    """Return the MKL library, or None where pypardiso is not installed."""
    path = _mkl_path()
    if path is None:
        return None
    try:
        library = ctypes.CDLL(path)
        address, at_int = ctypes.c_void_p, ctypes.POINTER(ctypes.c_int32)
        library.pardiso.restype = None
        library.pardiso.argtypes = [
            address, *[at_int] * 5, address, address, address, address, at_int, address, at_int,
            address, address, at_int,
        ]  # fmt: skip
    except (AttributeError, OSError):
        return None
    # the same digits in every process, wherever its arrays lie in memory; costs 2 %
    if hasattr(library, "MKL_CBWR_Set"):
        library.MKL_CBWR_Set(ctypes.c_int(_CBWR_AUTO))
    return library


@contextmanager
def _one_thread(library: Any) -> Iterator[None]:
    """Let MKL use one thread in this thread's calls, and as many as before afterwards.

    Sums of several threads differ in their last digits; whoever else uses MKL in this process
    keeps the count that was set for it.
    """
    before = library.MKL_Set_Num_Threads_Local(ctypes.c_int(1))
    try:
        yield
    finally:
        library.MKL_Set_Num_Threads_Local(ctypes.c_int(before))


def _mkl_path() -> str | None:
    """Find MKL where pip puts it; pypardiso's own search of the whole prefix takes 0.5 s."""
    if os.environ.get("FEJOINT_SOLVER") == "superlu":
        return None
    for folder, pattern in (("lib", "libmkl_rt.so*"), ("Library/bin", "mkl_rt*.dll")):
        found = sorted(Path(sys.prefix, folder).glob(pattern))
        if found:
            return str(found[0])
    try:
        from pypardiso import PyPardisoSolver

        return str(PyPardisoSolver().libmkl._name)
    except (ImportError, OSError):
        return None
