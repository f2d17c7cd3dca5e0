"""A round bar's front in its bedding where the bar leans: the point that bears moves along with it.

Let v(x) be the lateral displacement (mm) of a bar's axis, R its radius and X the place of a slice
of the bed, both in mm along the bar at rest. The bar is taken as all balls of radius R about its
axis, and stands before the slice as far as the foremost of them does:

    t(X) = max over x of  f(x),   f(x) = v(x) + sqrt(R^2 - (X - x)^2) - R

so the slice is borne by the section x* where the axis' slope s meets the ball's, s = (x* - X) /
sqrt(R^2 - (X - x*)^2): R s further along, for small slopes. A ball pushed at its surface is pushed
at its centre. So with the slice's force q(t) the axis bears -q at x*, and turns nothing about it:
by the envelope theorem dt/dz = df/dz at x*. With v = N(x).z the second derivative is N'N'/(-f''),
so the tangent

    q' N N' + q N' N' / (-f'')

(rows N, N' as columns and rows) is symmetric. The search ends at a given reach: from the lean on
at which x* lies there it stays there, at no f'' but the same t, and more lean moves it no further.
Pressure on a leaning front has a part along the bar,
q s on the bed; it is taken to be held by what keeps the bed in its place, and not followed.

v is the quadratic B-spline over the bar's columns: the parabolas, continuous to their slope, that
touch the polygon of the columns' displacements (taken at their middles) where columns meet. Its
shares N are never negative, so that a force is spread over three columns and no fourth bears the
other way, however unlike the columns are; a straight axis stays straight. In the end columns, and
beyond, it is the polygon itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel import compiled
from fejoint.kernel.assembly import Response
from fejoint.kernel.foundation import BeddingLaw

LEAST = 1e-3
"""Least sharpness of the foremost place, over that of a straight bar: one bent as sharply as its
radius bears all along its bend, and no section of it."""
_BAND = 5
"""Columns that a column meets in a slice: two before, itself, and two behind."""


@dataclass(frozen=True, eq=False)
class Axis:
    """A bar's axis as unknowns: a smooth curve along its columns.

    Attributes
    ----------
    cuts : (n + 1,) array
        Where the columns begin and end along the bar at rest, mm; at least 3 columns.
    dofs : (n,) array
        Unknowns of the columns' lateral displacements.
    """

    cuts: Floats
    dofs: Ints

    @cached_property
    def middles(self) -> Floats:
        """Middles of the columns, (n,), mm."""
        return np.asarray(0.5 * (self.cuts[1:] + self.cuts[:-1]))

    @cached_property
    def parabolas(self) -> tuple[Floats, Ints, Floats]:
        """Cuts, the first of every column's three, and its curve: (n, 3 powers, 3 columns).

        Powers are of the distance from the column's beginning.
        """
        cuts, x, n = self.cuts, self.middles, len(self.dofs)
        one = np.eye(n)
        inner = (one[1:] - one[:-1]) / np.diff(x)[:, None]
        slopes = np.concatenate([inner[:1], inner, inner[-1:]])
        touch = np.concatenate([one[:1], one[:-1]])
        from_middle = cuts[:-1] - np.concatenate([x[:1], x[:-1]])
        begin = touch + from_middle[:, None] * slopes[:-1]
        bend = (slopes[1:] - slopes[:-1]) / (2.0 * np.diff(cuts))[:, None]
        first = np.clip(np.arange(n) - 1, 0, n - 3)
        three = first[:, None] + np.arange(3)
        whole = np.stack([begin, slopes[:-1], bend], axis=1)
        curves = np.take_along_axis(whole, three[:, None, :], axis=2)
        return np.ascontiguousarray(cuts), first, np.ascontiguousarray(curves)


@dataclass(frozen=True, eq=False)
class LeaningBedding:
    """Slices of a part that a round bar's front presses, wherever it leans.

    Attributes
    ----------
    axis : Axis
    radius : float
        Of the bar, mm.
    reach : float
        Farthest that the section which bears is taken to lie from its slice, mm; below the radius.
    places, lengths : (n_slices,) arrays
        Where the slices lie along the bar, and how long they are, mm.
    part : int
        Unknown of the part's displacement.
    law : BeddingLaw
    sense : float
        +1 where the bar moves ahead of the part to press on it, -1 where the part moves ahead.
    """

    axis: Axis
    radius: float
    reach: float
    places: Floats
    lengths: Floats
    part: int
    law: BeddingLaw
    sense: float = 1.0
    symmetric: bool = True

    def blocks(self) -> list[tuple[Ints, Ints]]:
        """Rows and columns of the entries: a band of the axis, bordered by the part."""
        n = len(self.axis.dofs)
        i, d = np.divmod(np.arange(_BAND * n), _BAND)
        dofs = self.axis.dofs
        # places of the band outside the axis stay zero
        band = dofs[i], dofs[np.clip(i + d - _BAND // 2, 0, n - 1)]
        part = np.full(n, self.part)
        return [band, (dofs, part), (part, dofs), (part[:1], part[:1])]

    def initial_state(self) -> Floats:
        """Deepest travel so far, ahead and back, (2, n_slices)."""
        return np.zeros((2, len(self.places)))

    def _fronts(self, z: Floats) -> tuple[Floats, Floats, Ints, Floats, Floats, Floats]:
        """Return sections, fronts (mm), columns, N, N' and -f'' of every slice."""
        n = len(self.places)
        one, three = (n,), (n, 3)
        out = (
            np.empty(one), np.empty(one), np.empty(three, np.int64), np.empty(three),
            np.empty(three), np.empty(one),
        )  # fmt: skip
        v = z[self.axis.dofs]
        compiled.load("leaning_pass", "evaluate")(
            v, self.places, (self.sense, self.radius, self.reach), self.axis.parabolas, out
        )
        return out

    def bearing_sections(self, z: Floats) -> Floats:
        """Place of the section that bears each slice, (n_slices,), mm."""
        return self._fronts(z)[0]

    def travel(self, z: Floats) -> Floats:
        """Travel of every slice into the part, mm."""
        return np.asarray(self._fronts(z)[1] - self.sense * z[self.part])

    def forces(self, z: Floats, state: Floats) -> Floats:
        """Force of every slice on the part along the sense, N."""
        return self.law.respond(self.travel(z), state)[0] * self.lengths

    def on_axis(self, z: Floats, state: Floats) -> Floats:
        """Force of the part on the axis' columns, along the unknowns, (n,), N."""
        _, front, columns, value, *_ = self._fronts(z)
        force = self.law.respond(front - self.sense * z[self.part], state)[0] * self.lengths
        shares = -self.sense * force[:, None] * value
        on = np.bincount(columns.reshape(-1), shares.reshape(-1), len(self.axis.dofs))
        return np.asarray(on, float)

    @cached_property
    def _dofs(self) -> Ints:
        return np.concatenate([self.axis.dofs, [self.part]])

    def evaluate(self, z: Floats, state: Floats) -> Response:
        """Return forces and, for when they are asked, tangent entries."""
        _, front, columns, value, slope, falls = self._fronts(z)
        q, rate, deepest = self.law.respond(front - self.sense * z[self.part], state)
        force, stiff = q * self.lengths, rate * self.lengths
        n, flat = len(self.axis.dofs), columns.reshape(-1)
        on = np.bincount(flat, (force[:, None] * value).reshape(-1), n)
        forces = self.sense * np.concatenate([on, [-force.sum()]])

        def entries() -> Floats:
            turning = np.where(falls > LEAST / self.radius, force / falls, 0.0)
            pairs = stiff[:, None, None] * value[:, :, None] * value[:, None, :]
            pairs += turning[:, None, None] * slope[:, :, None] * slope[:, None, :]
            away = columns[:, None, :] - columns[:, :, None] + _BAND // 2
            at = _BAND * columns[:, :, None] + away
            band = np.bincount(at.reshape(-1), pairs.reshape(-1), _BAND * n)
            edge = -np.bincount(flat, (stiff[:, None] * value).reshape(-1), n)
            return np.concatenate([band, edge, edge, [stiff.sum()]])

        return Response(self._dofs, forces, entries, deepest)
