"""Variations of gap and slip of contact points; the formulas stand at the head of contact.py."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.contact_surface import Projection


@dataclass(frozen=True, eq=False)
class Forms:
    """Linear forms on the unknowns of secondary points and their primary spans, each (n, k).

    Attributes
    ----------
    gap, where : (n, k) arrays
        dg and ds.
    normal_slope, along_slope, bend_normal : (n, k) arrays
        n.Y', t.Y' and n.Y''.
    normal, along, bend, third : (n, 2) arrays
        n, t = dX/ds, d2X/ds2 and d3X/ds3.
    g, m, b : (n, 1) arrays
        Gap, t.t and n.d2X/ds2.
    """

    gap: Floats
    where: Floats
    normal_slope: Floats
    along_slope: Floats
    bend_normal: Floats
    normal: Floats
    along: Floats
    bend: Floats
    third: Floats
    g: Floats
    m: Floats
    b: Floats

    @classmethod
    def of(cls, p: Projection, on: Ints, shapes: Floats, sign: Floats) -> Forms:
        """Build for the points `on`, with secondary shapes (n, 3) and mirror signs (n, a, 2)."""
        n, t, g = p.normal[on], p.along[on], p.gap[on][:, None]
        at, slope, bend = (p.shapes[d][on][:, :, None] * sign for d in range(3))  # (n, a, 2)

        def row(secondary: Floats | None, primary: Floats) -> Floats:
            left = np.zeros((len(on), 2 * shapes.shape[1]))
            if secondary is not None:
                left = (shapes[:, :, None] * secondary[:, None, :]).reshape(len(on), -1)
            return np.concatenate([left, primary.reshape(len(on), -1)], axis=1)

        gap = row(n, -at * n[:, None, :])
        along = row(t, -at * t[:, None, :])
        normal_slope = row(None, slope * n[:, None, :])
        along_slope = row(None, slope * t[:, None, :])
        bend_normal = row(None, bend * n[:, None, :])
        m = (t * t).sum(axis=1)[:, None]
        b = (n * p.bend[on]).sum(axis=1)[:, None]
        where = (along + g * normal_slope) / (m - g * b)
        return cls(
            gap, where, normal_slope, along_slope, bend_normal,
            n, t, p.bend[on], p.bend_slope[on], g, m, b,
        )  # fmt: skip

    @cached_property
    def tilt(self) -> Floats:
        """n.Y' + b ds: minus |t| times the turn of the normal."""
        return self.normal_slope + self.b * self.where

    def second_gap(self) -> Floats:
        """Second variation of the gap, (n, k, k)."""
        return (
            -_outer(self.normal_slope, self.where)
            - _outer(self.where, self.tilt)
            + (self.g / self.m)[:, :, None] * _outer(self.tilt, self.tilt)
        )

    @property
    def slip(self) -> Floats:
        """Variation |t| ds of the slip."""
        return np.asarray(np.sqrt(self.m) * self.where)

    @cached_property
    def half_stretch(self) -> Floats:
        """Half the variation of m: t.Y' + t.d2X/ds2 ds."""
        c = (self.along * self.bend).sum(axis=1)[:, None]
        return np.asarray(self.along_slope + c * self.where)

    @property
    def along_stretch(self) -> Floats:
        """Variation of |t|."""
        return self.half_stretch / np.sqrt(self.m)

    def second_slip(self) -> Floats:
        """Return the derivative of the form `slip`, (n, k, k): row the form, column the direction.

        From (m - g b) ds = (y - Y).t + g n.Y', differentiated once more.
        """
        g, m, b, root = self.g, self.m, self.b, np.sqrt(self.m)
        turn = -self.tilt / root  # Dn = turn * t/|t|
        bend_along = (self.along * self.bend).sum(axis=1)[:, None] / root
        third_normal = (self.normal * self.third).sum(axis=1)[:, None]
        d_b = turn * bend_along + self.bend_normal + third_normal * self.where
        d_left = 2.0 * self.half_stretch - b * self.gap - g * d_b
        along_form = (m - g * b) * self.where - g * self.normal_slope  # (y - Y).t
        # (y - Y).Dt: split Dt along n and t/|t|
        right = _outer(self.gap, self.tilt) + _outer(along_form / m, self.half_stretch)
        right -= _outer(self.along_slope, self.where)
        right += _outer(self.normal_slope, self.gap)
        right += _outer(g / root * self.along_slope, turn)
        right += _outer(g * self.bend_normal, self.where)
        second_where = (right - _outer(self.where, d_left)) / (m - g * b)[:, :, None]
        return root[:, :, None] * second_where + _outer(self.where, self.half_stretch / root)


def _outer(a: Floats, b: Floats) -> Floats:
    return a[:, :, None] * b[:, None, :]
