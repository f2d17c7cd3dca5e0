"""From terms to one sparse system: fixed pattern, precomputed slots, multipliers, fixed unknowns.

A *term* is a part of the mechanics (a body, a contact, a bearing) that answers forces, tangent
entries and a new state for the unknowns z. The *system* adds the terms up and borders them with the
drive: for a weight vector c the mean displacement c.z is held at a travel U by a multiplier, which
is the load. Newton sees

    [ K   -c ] [dz]     [ f(z) - load c ]
    [ -c'  0 ] [dl] = - [ U - c.z       ]
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Response:
    """A term's answer.

    Attributes
    ----------
    dofs, forces : (k,) arrays
        Where the forces act, and the forces; repeated dofs add up. N.
    entries : (m,) array or None
        Tangent entries in the order of the term's `blocks`, N/mm.
    state : Any
        The term's state at the end of the step, not committed.
    stored : float
        Energy stored, N mm.
    lost : float
        Energy turned into heat during the step (friction), N mm.
    """

    dofs: Ints
    forces: Floats
    entries: Floats | None
    state: Any
    stored: float = 0.0
    lost: float = 0.0


class Term(Protocol):
    """What the system asks of every part of the mechanics."""

    @property
    def symmetric(self) -> bool:
        """Whether the tangent is symmetric."""

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the tangent entries, one pair of equal arrays a group."""

    def initial_state(self) -> Any:
        """Return the state before any load."""

    def evaluate(self, z: Floats, state: Any, tangent: bool) -> Response:
        """Return forces, tangent entries and the new state; commit nothing."""


@runtime_checkable
class Touching(Protocol):
    """A term whose parts may come apart; a step's first guess keeps them together."""

    def held(self, state: Any) -> Any:
        """Return the state for the first guess: what touched at the step's start still does."""


class PatternGrew(Exception):
    """A term needs tangent entries that its last `blocks` did not have."""


@dataclass(frozen=True, eq=False)
class Evaluation:
    """The whole system at one z.

    Attributes
    ----------
    residual : (n_unknowns,) array
        Out-of-balance of the free unknowns and multipliers.
    matrix : csr_array or None
        Tangent of the free unknowns and multipliers (upper triangle when symmetric).
    internal : (n_dofs,) array
        Forces of all terms, reactions at fixed dofs included, N.
    states : tuple
        New state of every term.
    stored, lost : float
        Energies of all terms, N mm.
    """

    residual: Floats
    matrix: csr_array | None
    internal: Floats
    states: tuple[Any, ...]
    stored: float
    lost: float


@dataclass(frozen=True, eq=False)
class Mirror:
    """A body's symmetry, to solve for half of it: z[k] = sign[k] z[image[k]].

    Attributes
    ----------
    image : (n_dofs,) array
        The dof that each follows; those that lead follow themselves.
    sign : (n_dofs,) array
        1 or -1.
    """

    image: Ints
    sign: Floats

    @property
    def leads(self) -> NDArray[np.bool_]:
        """Which dofs lead."""
        return np.asarray(self.image == np.arange(len(self.image)))

    @property
    def held(self) -> NDArray[np.bool_]:
        """Which dofs are their own opposite, and so stay at zero."""
        return self.leads & (self.sign < 0.0)


@dataclass(eq=False)
class System:
    """Terms over common unknowns, with fixed dofs, a drive and mean constraints.

    Parameters
    ----------
    n_dofs : int
        Number of displacement unknowns.
    terms : sequence of Term
    drive : (n_dofs,) array
        Weights c of the driven mean displacement; the load acts along them.
    carried : (n_dofs,) array
        Displacements of a rigid unit motion of what the drive holds (drive . carried = 1); the
        first guess of a path's first step.
    fixed : (k,) array
        Dofs held at zero.
    guides : sequence of (n_dofs,) arrays
        Further weights whose mean displacement is held at zero.
    mirror : Mirror, optional
        Dofs that follow others: the equations are then those of half the dofs.
    """

    n_dofs: int
    terms: Sequence[Term]
    drive: Floats
    carried: Floats
    fixed: Ints
    guides: Sequence[Floats] = ()
    mirror: Mirror | None = None
    _pattern: _Pattern | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        self.symmetric = all(term.symmetric for term in self.terms)
        self.touching = any(isinstance(term, Touching) for term in self.terms)
        held = np.zeros(self.n_dofs, bool)
        held[self.fixed] = True
        if self.mirror is not None:
            held |= self.mirror.held
        leads = ~held if self.mirror is None else ~held & self.mirror.leads
        self.free = np.flatnonzero(leads)
        self._number = np.full(self.n_dofs, -1, np.int64)
        self._number[self.free] = np.arange(len(self.free))
        if self.mirror is not None:
            self._number = self._number[self.mirror.image]
        self._constraints = np.array([self.drive, *self.guides])
        self.bordered = np.array([self.reduced(c) for c in self._constraints])

    @property
    def n_multipliers(self) -> int:
        """Multipliers: the load first, then one a guide."""
        return len(self._constraints)

    @property
    def n_unknowns(self) -> int:
        """Free dofs and multipliers."""
        return len(self.free) + self.n_multipliers

    def reduced(self, v: Floats) -> Floats:
        """Return what acts along the free unknowns, (n_free,), of something along all dofs."""
        if self.mirror is None:
            return v[self.free]
        own = self._number >= 0
        along = (self.mirror.sign * v)[own]
        return np.asarray(np.bincount(self._number[own], along, len(self.free)), float)

    def moved(self, z: Floats, step: Floats) -> Floats:
        """Return z moved by a step of the free unknowns, (n_free,)."""
        moved = z.copy()
        if self.mirror is None:
            moved[self.free] += step
        else:
            own = self._number >= 0
            moved[own] += self.mirror.sign[own] * step[self._number[own]]
        return moved

    def initial_states(self) -> tuple[Any, ...]:
        """Return the terms' states before any load."""
        return tuple(term.initial_state() for term in self.terms)

    def held(self, states: tuple[Any, ...]) -> tuple[Any, ...]:
        """Return states in which all that touches is held together, for a step's first guess."""
        return tuple(
            term.held(state) if isinstance(term, Touching) else state
            for term, state in zip(self.terms, states, strict=True)
        )

    def evaluate(
        self,
        z: Floats,
        multipliers: Floats,
        travel: float,
        states: tuple[Any, ...],
        tangent: bool = True,
    ) -> Evaluation:
        """Evaluate residual and, if asked, tangent.

        Parameters
        ----------
        z : (n_dofs,) array
            Displacements, mm.
        multipliers : (n_multipliers,) array
            Load, then the guides' forces, N.
        travel : float
            Value the driven mean displacement is held at, mm.
        states : tuple
            The terms' states at the start of the step.
        tangent : bool
        """
        answers = []
        for k, (term, state) in enumerate(zip(self.terms, states, strict=True)):
            try:
                answers.append(term.evaluate(z, state, tangent))
            except PatternGrew:
                self._pattern = None
                self._rebuild()
                answers.append(self.terms[k].evaluate(z, state, tangent))
        internal = np.zeros(self.n_dofs)
        for r in answers:
            internal += np.bincount(r.dofs, r.forces, self.n_dofs)
        constraints = self._constraints
        out = internal - multipliers @ constraints
        held = np.zeros(self.n_multipliers)
        held[0] = travel
        residual = np.concatenate([self.reduced(out), held - constraints @ z])
        matrix = None
        if tangent:
            entries = [r.entries for r in answers if r.entries is not None]
            matrix = self._rebuild().matrix(np.concatenate(entries))
        return Evaluation(
            residual,
            matrix,
            internal,
            tuple(r.state for r in answers),
            sum(r.stored for r in answers),
            sum(r.lost for r in answers),
        )

    def _rebuild(self) -> _Pattern:
        if self._pattern is None:
            self._pattern = _Pattern.of(self)
        return self._pattern


@dataclass(frozen=True, eq=False)
class _Pattern:
    """Where every tangent entry goes in the matrix's data array."""

    indptr: NDArray[np.int32]
    indices: NDArray[np.int32]
    size: int
    used: Ints
    gather: csr_array
    border: Floats

    @classmethod
    def of(cls, system: System) -> _Pattern:
        number, mirror = system._number, system.mirror
        n, k = system.n_unknowns, system.n_multipliers
        blocks = [b for term in system.terms for b in term.blocks()]
        row_dofs = np.concatenate([r for r, _ in blocks])
        column_dofs = np.concatenate([c for _, c in blocks])
        rows, columns = number[row_dofs], number[column_dofs]
        keep = (rows >= 0) & (columns >= 0)
        if system.symmetric:
            keep &= rows <= columns
        used = np.flatnonzero(keep)
        keys = rows[used] * n + columns[used]
        # the border, and the whole diagonal, which pivoting solvers want present
        c = system.bordered
        which, dof = np.nonzero(c)
        value = -c[which, dof]
        last = which + n - k
        extra, extra_value = [dof * n + last, np.arange(n) * (n + 1)], [value, np.zeros(n)]
        if not system.symmetric:
            extra.append(last * n + dof)
            extra_value.append(value)
        extra_keys, values = np.concatenate(extra), np.concatenate(extra_value)
        every = np.unique(np.concatenate([keys, extra_keys]))
        slots = np.searchsorted(every, keys)
        border = np.zeros(len(every))
        border[np.searchsorted(every, extra_keys)] += values
        indptr = np.searchsorted(every, np.arange(n + 1) * n).astype(np.int32)
        # a sparse row-sum is quicker than bincount and keeps the order of summation fixed
        order = np.argsort(slots, kind="stable")
        starts = np.searchsorted(slots[order], np.arange(len(every) + 1))
        weights = np.ones(len(used))
        if mirror is not None:
            weights = (mirror.sign[row_dofs] * mirror.sign[column_dofs])[used[order]]
        gather = csr_array(
            (weights, used[order].astype(np.int32), starts.astype(np.int32)),
            shape=(len(every), len(rows)),
        )
        return cls(indptr, (every % n).astype(np.int32), n, used, gather, border)

    def matrix(self, entries: Floats) -> csr_array:
        """Return the matrix for the terms' entries."""
        data = self.gather @ entries + self.border
        matrix = csr_array((self.size, self.size))
        matrix.data, matrix.indices, matrix.indptr = data, self.indices, self.indptr
        return matrix
