"""The sparse matrix's pattern, and where every tangent entry goes in its data."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from fejoint.arrays import Floats, Ints
from fejoint.kernel import compiled


@dataclass(frozen=True, eq=False)
class Placed:
    """The places of one term's entries.

    Attributes
    ----------
    keys : (k,) array
        Places in the matrix that the term fills, row times size plus column, rising.
    which : (m,) array
        Number of every entry's place; k where the matrix does not hold the entry.
    signs : (m,) array or None
        1 or -1 for every entry, where unknowns follow others with a sign.
    """

    keys: Ints
    which: Ints
    signs: Floats | None

    @classmethod
    def from_entries(
        cls, rows: Ints, columns: Ints, signs: Floats | None, size: int, symmetric: bool
    ) -> Placed:
        """Place entries of given rows and columns, -1 for a held unknown.

        Of a symmetric matrix only the upper triangle is held.
        """
        keep = (rows >= 0) & (columns >= 0)
        if symmetric:
            keep &= rows <= columns
        keys, inverse = np.unique(rows[keep] * size + columns[keep], return_inverse=True)
        which = np.full(len(rows), len(keys), np.intp)
        which[keep] = inverse
        return cls(keys, which, signs)


@dataclass(frozen=True, eq=False)
class Pattern:
    """A pattern, and where every term's entries go.

    Attributes
    ----------
    empty : csr_array
        The matrix without data.
    slots : list of (m,) arrays
        Place of every entry in the data, term by term; past its end for one not held.
    signs : list of (m,) arrays or None
        Signs of the entries.
    border : (nnz,) array
        Data of drive and guides.
    """

    empty: csr_array
    slots: list[NDArray[np.int32]]
    signs: list[Floats | None]
    border: Floats

    @classmethod
    def from_terms(
        cls, placed: Sequence[Placed], constraint_rows: Floats, symmetric: bool
    ) -> Pattern:
        """Merge the terms' places, the border of the constraints (k, n_free), and the diagonal.

        Pivoting solvers want the whole diagonal present.
        """
        k, n_free = constraint_rows.shape
        n = n_free + k
        which, dof = np.nonzero(constraint_rows)
        value, last = -constraint_rows[which, dof], which + n_free
        extra, values = [dof * n + last, np.arange(n) * (n + 1)], [value, np.zeros(n)]
        if not symmetric:
            extra.append(last * n + dof)
            values.append(value)
        extra_keys = np.concatenate(extra)
        every = np.sort(np.concatenate([*(p.keys for p in placed), extra_keys]))
        # np.unique would hash, ten times slower than a sort of what is nearly sorted
        every = every[np.append(True, every[1:] != every[:-1])]
        slots = []
        for p in placed:
            places = np.append(np.searchsorted(every, p.keys), len(every)).astype(np.int32)
            slots.append(places[p.which])
        border = np.zeros(len(every))
        border[np.searchsorted(every, extra_keys)] += np.concatenate(values)
        indptr = np.searchsorted(every, np.arange(n + 1) * n).astype(np.int32)
        empty = csr_array((n, n))
        empty.indices, empty.indptr = (every % n).astype(np.int32), indptr
        return cls(empty, slots, [p.signs for p in placed], border)

    def matrix(self, entries: Sequence[Floats]) -> csr_array:
        """Return the matrix for the entries of all terms."""
        data, add_up = self.border.copy(), compiled.adding_up()
        for values, slots, signs in zip(entries, self.slots, self.signs, strict=True):
            signed = values if signs is None else signs * values
            if add_up is None:
                data += np.bincount(slots, signed, len(data) + 1)[:-1]
            else:
                add_up(slots, signed, data)
        # a copy of the shell costs a tenth of csr_array's checks
        matrix = copy(self.empty)
        matrix.data = data
        return matrix
