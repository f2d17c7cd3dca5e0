"""From terms to one sparse system: fixed pattern, constraint rows, fixed unknowns.

A *term* is a part of the mechanics (a body, a contact, a bearing) that answers forces, tangent
entries and a new state for the unknowns z (mm). The *system* adds the terms up and borders them
with constraint rows.

Let f(z) (N) be the terms' forces, and c_0 the weights of the driven mean displacement, c_1 ... c_k
those of the guides (no unit). What is sought is stationary in z and in the multipliers l (N) of

    L(z, l) = W(z) + l_0 (U - c_0.z) - sum_i l_i c_i.z ,   W' = f

with the prescribed displacement U (mm): f = sum_i l_i c_i, c_0.z = U, c_i.z = 0. So each multiplier
is a load, spread over the dofs as its weights are: l_0 is the load that the drive needs, doing
the work l_0 dU, and l_i is a guide's reaction. Newton's step for both, with K = df/dz (N/mm) and C
the rows c_i of the free dofs, solves the bordered system

    [  K  -C' ] [dz]     [ f - C'l   ]
    [ -C   0  ] [dl] = - [ U e0 - Cz ] ,   e0 = (1, 0, ...)

which is symmetric where K is, and indefinite. Lagrange multipliers in this form: Bathe, "Finite
Element Procedures" (1996), section 3.4 (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Protocol, runtime_checkable

import numpy as np
from scipy.sparse import csr_array

from fejoint.arrays import Bools, Floats, Ints
from fejoint.kernel.sparsity import Pattern, Placed


@dataclass(frozen=True, eq=False)
class Response:
    """A term's answer.

    Attributes
    ----------
    dofs, forces : (k,) arrays
        Where the forces act, and the forces; repeated dofs add up. N.
    tangent : callable
        Makes the tangent entries, (m,) in the order of the term's `blocks`, N/mm: only some
        evaluations are factorised. May raise `SparsityChanged`.
    state : Any
        The term's state at the end of the step, not committed.
    stored : float
        Energy stored, N mm.
    lost : float
        Energy turned into heat during the step (friction), N mm.
    """

    dofs: Ints
    forces: Floats
    tangent: Callable[[], Floats]
    state: Any
    stored: float = 0.0
    lost: float = 0.0


class Term(Protocol):
    """What the system needs of every part of the mechanics."""

    @property
    def symmetric(self) -> bool:
        """Whether the tangent is symmetric."""

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the tangent entries, one pair of equal arrays a group."""

    def initial_state(self) -> Any:
        """Return the state before any load."""

    def evaluate(self, z: Floats, state: Any) -> Response:
        """Return forces, the way to the tangent entries and the new state; commit nothing."""


@runtime_checkable
class ContactTerm(Protocol):
    """A term whose parts may come apart; a step's first guess keeps them together."""

    def assume_closed(self, state: Any) -> Any:
        """Return the state for the first guess: what touched at the step's start still does."""


class SparsityChanged(Exception):
    """A term needs tangent entries that its last `blocks` did not have."""


@dataclass(frozen=True, eq=False)
class Evaluation:
    """The whole system at one z.

    Attributes
    ----------
    residual : (n_unknowns,) array
        Out-of-balance of the free unknowns and multipliers.
    internal : (n_dofs,) array
        Forces of all terms, reactions at fixed dofs included, N.
    z : (n_dofs,) array
        Displacements, mm.
    began : tuple
        State of every term at the start of the step.
    answers : tuple of Response
        Of every term.
    """

    residual: Floats
    internal: Floats
    z: Floats
    began: tuple[Any, ...]
    answers: tuple[Response, ...] = field(repr=False)
    _system: System = field(repr=False)

    @cached_property
    def matrix(self) -> csr_array:
        """Tangent of the free unknowns and multipliers (upper triangle when symmetric)."""
        return self._system.tangent(self.answers)

    @property
    def states(self) -> tuple[Any, ...]:
        """New state of every term."""
        return tuple(r.state for r in self.answers)

    @property
    def stored(self) -> float:
        """Energy stored in all terms, N mm."""
        return sum(r.stored for r in self.answers)

    @property
    def lost(self) -> float:
        """Energy of all terms turned into heat during the step, N mm."""
        return sum(r.lost for r in self.answers)


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
    def leads(self) -> Bools:
        """Which dofs lead."""
        return np.asarray(self.image == np.arange(len(self.image)))

    @property
    def fixed(self) -> Bools:
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
    rigid_body_mode : (n_dofs,) array
        Displacements of a rigid unit motion of what the drive holds: drive . rigid_body_mode = 1.
        The first guess of a path's first step.
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
    rigid_body_mode: Floats
    fixed: Ints
    guides: Sequence[Floats] = ()
    mirror: Mirror | None = None
    _pattern: Pattern | None = field(default=None, repr=False)
    _placed: list[Placed | None] = field(default_factory=list, repr=False)
    _acts: tuple[list[Ints], Ints] = field(default=([], np.zeros(0, np.intp)), repr=False)

    def __post_init__(self) -> None:
        self.symmetric = all(term.symmetric for term in self.terms)
        self.has_contact = any(isinstance(term, ContactTerm) for term in self.terms)
        fixed = np.zeros(self.n_dofs, bool)
        fixed[self.fixed] = True
        if self.mirror is not None:
            fixed |= self.mirror.fixed
        leads = ~fixed if self.mirror is None else ~fixed & self.mirror.leads
        self.free = np.flatnonzero(leads)
        self._number = np.full(self.n_dofs, -1, np.int64)
        self._number[self.free] = np.arange(len(self.free))
        if self.mirror is not None:
            self._number = self._number[self.mirror.image]
        self._constraints = np.array([self.drive, *self.guides])
        self._placed = [None] * len(self.terms)
        self.constraint_rows = np.array([self.reduced(c) for c in self._constraints])

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

    def assume_closed(self, states: tuple[Any, ...]) -> tuple[Any, ...]:
        """Return states in which all that touches is held together, for a step's first guess."""
        return tuple(
            term.assume_closed(state) if isinstance(term, ContactTerm) else state
            for term, state in zip(self.terms, states, strict=True)
        )

    def evaluate(
        self,
        z: Floats,
        multipliers: Floats,
        travel: float,
        states: tuple[Any, ...],
        known: Evaluation | None = None,
    ) -> Evaluation:
        """Evaluate the residual; the tangent is made where it is factorised.

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
        known : Evaluation, optional
            One at the same z: a term whose state is the same too is not evaluated again.
        """
        if known is not None and known.z is z:
            answers = tuple(
                old if now is before else term.evaluate(z, now)
                for term, now, before, old in zip(
                    self.terms, states, known.began, known.answers, strict=True
                )
            )
        else:
            answers = tuple(t.evaluate(z, s) for t, s in zip(self.terms, states, strict=True))
        forces = np.concatenate([r.forces for r in answers])
        internal = np.asarray(np.bincount(self._acting(answers), forces, self.n_dofs), float)
        n_free, constraints = len(self.free), self._constraints
        residual = np.empty(self.n_unknowns)
        residual[:n_free] = self.reduced(internal - multipliers @ constraints)
        residual[n_free:] = -(constraints @ z)
        residual[n_free] += travel
        return Evaluation(residual, internal, z, states, answers, self)

    def _acting(self, answers: Sequence[Response]) -> Ints:
        """Return the dofs of all forces; they are mostly the same arrays as the last time."""
        known, dofs = self._acts
        if len(known) != len(answers) or any(
            r.dofs is not d for r, d in zip(answers, known, strict=True)
        ):
            known = [r.dofs for r in answers]
            dofs = np.concatenate(known)
            self._acts = known, dofs
        return dofs

    def tangent(self, answers: Sequence[Response]) -> csr_array:
        """Return the tangent of free unknowns and multipliers: whole, or its upper triangle."""
        entries = []
        for k, r in enumerate(answers):
            try:
                entries.append(r.tangent())
            except SparsityChanged:
                self._pattern, self._placed[k] = None, None
                entries.append(r.tangent())
        if self._pattern is None:
            for k, term in enumerate(self.terms):
                if self._placed[k] is None:
                    self._placed[k] = self._place(term)
            self._pattern = Pattern.from_terms(
                [p for p in self._placed if p], self.constraint_rows, self.symmetric
            )
        return self._pattern.matrix(entries)

    def _place(self, term: Term) -> Placed:
        blocks = term.blocks()
        rows = np.concatenate([r for r, _ in blocks])
        columns = np.concatenate([c for _, c in blocks])
        sign = None if self.mirror is None else self.mirror.sign[rows] * self.mirror.sign[columns]
        number = self._number
        return Placed.from_entries(
            number[rows], number[columns], sign, self.n_unknowns, self.symmetric
        )
