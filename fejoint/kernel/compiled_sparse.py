"""Sparse chores of every factorisation, compiled: adding entries up, and checking a solution.

Importing this module imports numba; see compiled.py.
"""

from __future__ import annotations

from numba import njit

_OPTIONS = {"error_model": "numpy", "fastmath": {"contract"}}


@njit("void(int32[::1], float64[::1], float64[::1])", cache=True, **_OPTIONS)
def add_up(slots, entries, data):  # type: ignore[no-untyped-def]
    """Add every entry to the datum of its slot; those past the end have no place."""
    for k in range(slots.size):
        if slots[k] < data.size:
            data[slots[k]] += entries[k]


@njit(
    "float64(int32[::1], int32[::1], float64[::1], boolean, float64[::1], float64[::1],"
    "float64[::1])",
    cache=True,
    **_OPTIONS,
)
def miss(indptr, indices, data, symmetric, x, b, out):  # type: ignore[no-untyped-def]
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
