"""Beddings and springs: forces that follow from a mean displacement by a law.

A bedding carries a body piece by piece ("slices"). Each slice's mean displacement, less that of the
part it rests on, goes into a one-dimensional law; the force acts back on the same weights, so the
tangent is symmetric and the forces on slice and part are equal and opposite.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.assembly import Response


class BeddingLaw(Protocol):
    """Force per length against travel, with history."""

    def respond(self, travel: Floats, deepest: Floats) -> tuple[Floats, Floats, Floats]:
        """Return force per length (N/mm), its slope (N/mm2), and the new history (2, n)."""


@dataclass(frozen=True, eq=False)
class Bedding:
    """Slices of a body that rest on a part.

    Attributes
    ----------
    dofs : (n_slices, k) array
        Unknowns of each slice.
    weights : (n_slices, k) array
        Their weights in the slice's mean displacement (each row sums to 1).
    lengths : (n_slices,) array
        Length of each slice, mm.
    part : int or (n_slices,) array
        Unknown of the part's displacement; of each slice's own part where there are many.
    law : BeddingLaw
    sense : float
        +1 where the body moves ahead of the part to press on it, -1 where the part moves ahead.
    """

    dofs: Ints
    weights: Floats
    lengths: Floats
    part: int | Ints
    law: BeddingLaw
    sense: float = 1.0
    symmetric: bool = True

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the entries: slice and part together."""
        d = self._with_part
        shape = (*d.shape, d.shape[1])
        rows = np.broadcast_to(d[:, :, None], shape)
        columns = np.broadcast_to(d[:, None, :], shape)
        return [(rows.reshape(-1), columns.reshape(-1))]

    @cached_property
    def _with_part(self) -> Ints:
        part = np.broadcast_to(self.part, len(self.dofs))
        return np.concatenate([self.dofs, part[:, None]], axis=1)

    @cached_property
    def _flat(self) -> Ints:
        return self._with_part.reshape(-1)

    @cached_property
    def _form(self) -> Floats:
        """Linear form of the travel, (n_slices, k + 1)."""
        ones = np.ones((len(self.dofs), 1))
        return self.sense * np.concatenate([self.weights, -ones], axis=1)

    @cached_property
    def _squares(self) -> Floats:
        """Products of the form's coefficients, (n_slices, k + 1, k + 1)."""
        return self._form[:, :, None] * self._form[:, None, :]

    def initial_state(self) -> Floats:
        """Deepest travel so far, ahead and back, (2, n_slices)."""
        return np.zeros((2, len(self.dofs)))

    def travel(self, z: Floats) -> Floats:
        """Travel of every slice into the part, mm."""
        mean = (self.weights * z[self.dofs]).sum(axis=1)
        return np.asarray(self.sense * (mean - z[self.part]))

    def forces(self, z: Floats, state: Floats) -> Floats:
        """Force of every slice on the part along the sense, N."""
        return self.law.respond(self.travel(z), state)[0] * self.lengths

    def evaluate(self, z: Floats, state: Floats) -> Response:
        """Return forces and, for when they are asked, tangent entries."""
        q, slope, deepest = self.law.respond(self.travel(z), state)
        force = (q * self.lengths)[:, None] * self._form

        def entries() -> Floats:
            stiff = (slope * self.lengths)[:, None, None]
            return np.asarray((stiff * self._squares).reshape(-1))

        return Response(self._flat, force.reshape(-1), entries, deepest)


@dataclass(frozen=True)
class Spring:
    """A linear spring between two unknowns, or to the ground (second None), N/mm."""

    first: int
    second: int | None
    stiffness: float
    symmetric: bool = True

    @cached_property
    def _dofs(self) -> Ints:
        return np.array([self.first] if self.second is None else [self.first, self.second])

    @cached_property
    def _entries(self) -> Floats:
        """The tangent, row after row."""
        one = [1.0] if self.second is None else [1.0, -1.0, -1.0, 1.0]
        return self.stiffness * np.array(one)

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the entries."""
        d = self._dofs
        return [(np.repeat(d, len(d)), np.tile(d, len(d)))]

    def initial_state(self) -> None:
        """No history."""

    def evaluate(self, z: Floats, state: None) -> Response:
        """Return forces and, for when they are asked, tangent entries."""
        moved = z[self._dofs]
        force = self._entries.reshape(len(moved), -1) @ moved
        energy = 0.5 * float(force @ moved)
        return Response(self._dofs, force, lambda: self._entries, None, energy)
