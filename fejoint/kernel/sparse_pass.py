"""Sparse chores of every factorisation, compiled: adding entries up, and checking a solution.

Without numba, numpy does them: a bare loop over all entries would take as long as all the rest.
"""

from __future__ import annotations

from typing import Any

from fejoint.kernel.compiled import jit


@jit("void(int32[::1], float64[::1], float64[::1])")
def add_up(slots: Any, entries: Any, data: Any) -> None:
    """Add every entry to the datum of its slot; those past the end have no place."""
    for k in range(slots.size):
        if slots[k] < data.size:
            data[slots[k]] += entries[k]


@jit(
    "float64(int32[::1], int32[::1], float64[::1], boolean, float64[::1], float64[::1],"
    "float64[::1])",
)
def miss(indptr: Any, indices: Any, data: Any, symmetric: Any, x: Any, b: Any, out: Any) -> Any:
    """Return the squared norm of A x - b, A in rows; only its upper triangle when symmetric.

    `out` (n,) takes the difference.
    """
    n = b.size
    for i in range(n):
        out[i] = -b[i]
    for i in range(n):
        total = 0.0
        for k in range(indptr[i], indptr[i + 1]):
            j = indices[k]
            total += data[k] * x[j]
            if symmetric and j != i:
                out[j] += data[k] * x[i]
        out[i] += total
    squares = 0.0
    for i in range(n):
        squares += out[i] * out[i]
    return squares
