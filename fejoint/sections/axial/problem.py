"""The axial section posed: the pin along its axis, in ears and shank.

The pin is a strip of height d whose thickness at height y is the chord 2 sqrt(r^2 - y^2): a
plane-stress model of a round bar, so that shear, bending and the plastic hinge come out of the same
kernel as the face section. Ears and shank carry it slice by slice through their bearing laws. x
runs along the pin from the first ear's outer face, y along the pull. Everything starts at first
touch.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fejoint.arrays import Floats, Ints
from fejoint.kernel.assembly import System
from fejoint.kernel.elements import Quadrature, Solid
from fejoint.kernel.foundation import Bedding, BeddingLaw, Spring
from fejoint.kernel.leaning import Axis, LeaningBedding
from fejoint.kernel.newton import EquilibriumPoint
from fejoint.meshing.mesh import Mesh, strip
from fejoint.sections.axial.case import HOLDING, STEEL, AxialCase, AxialSettings, SoftBed
from fejoint.sections.axial.grid import column_means, cuts_of, mean_along, mirror

PIN = 0
"""Place of the pin among the system's terms; the beddings follow in the order of the plates."""
TIED = 1e3
"""Stiffness, over Young's modulus, that ties the axis' own unknowns to the columns' means: under
a plate's full bearing they lie 1e-5 mm apart."""
LEANS = 0.14
"""Sine of the lean, 8 degrees, up to which a pin's front moves along with it. A soft pin in a joint
solved whole in the round gains no more beyond: with this bound its loads lie 0.4 to 1.2 % low from
8 to 17 degrees, without one 0.7 to 8 % high."""


@dataclass(eq=False)
class AxialProblem:
    """A meshed pin in its beddings, ready to be pulled.

    Attributes
    ----------
    case : AxialCase
    mesh : Mesh
    system : System
    cuts : (n_columns + 1,) array
        Grid lines along the pin, mm.
    columns : tuple of (k,) int arrays
        Columns that each plate carries.
    laws : tuple of BeddingLaw
        The plates' laws in use. One that grows along the path is here, and not in the case.
    leaning : Axis or None
        The axis as unknowns of its own, where the bearing moves along a pin that leans.
    """

    case: AxialCase
    mesh: Mesh
    system: System
    cuts: Floats
    columns: tuple[Ints, ...]
    laws: tuple[BeddingLaw, ...]
    leaning: Axis | None = None

    @property
    def pin(self) -> Solid:
        """The pin's body."""
        term = self.system.terms[PIN]
        assert isinstance(term, Solid)
        return term

    def bedding(self, plate: int) -> Bedding | LeaningBedding:
        """Return a plate's bedding."""
        term = self.system.terms[1 + plate]
        assert isinstance(term, Bedding | LeaningBedding)
        return term

    @cached_property
    def middles(self) -> Floats:
        """Middles of the columns along the pin, (n_columns,), mm.

        Means over a column with its own weights, so that forces turn the pin about where they are
        taken to act: a pin's width is no polynomial, and its quadrature puts a column's mean aside
        from half way between its cuts.
        """
        dofs, weights = self.axis_weights
        return np.asarray((weights * self.mesh.points[dofs // 2, 0]).sum(axis=1))

    @cached_property
    def axis_weights(self) -> tuple[Ints, Floats]:
        """Unknowns (n_columns, k) and weights of the columns' mean lateral displacement."""
        return column_means(self.mesh, self.pin, self.cuts)

    def axis(self, point: EquilibriumPoint) -> tuple[Floats, Floats]:
        """Middle of every column (mm) and its mean lateral displacement (mm)."""
        dofs, weights = self.axis_weights
        return self.middles, (weights * point.z[dofs]).sum(axis=1)

    def settle_axis(self, z: Floats) -> None:
        """Set the axis' own unknowns in z, where there are any, to what the columns say."""
        if self.leaning is not None:
            dofs, weights = self.axis_weights
            z[self.leaning.dofs] = (weights * z[dofs]).sum(axis=1)

    def slice_travels(self, point: EquilibriumPoint, plate: int) -> Floats:
        """Travel of the pin into a plate, slice by slice, mm."""
        return self.bedding(plate).travel(point.z)

    def slice_forces(self, point: EquilibriumPoint, plate: int) -> Floats:
        """Force of every slice on a plate, along the plate's own sense, N."""
        bedding = self.bedding(plate)
        # at an equilibrium the state holds the step's end, so the law answers the same force
        return bedding.forces(point.z, point.states[1 + plate])

    def section_forces(self, point: EquilibriumPoint) -> tuple[Floats, Floats, Floats]:
        """Shear force (N) and moment (N mm) along the pin, by the statics of the bearing.

        Forces push across the joint, so their lever arms are those along the joint's axis in the
        deformed pin, and of their sum only what acts across the turned pin shears it. Where the pin
        leans, moments are those of the sections that bear; the shear is what crosses the joint
        between one slice and the next, as if they bore where they stand, which is safe.

        Returns
        -------
        x, shear, moment : (n_columns + 1,) arrays
            At the grid lines, x at rest. A free end bears no moment; with a held one the moment at
            x = 0 is that of its clamp, which the other end's being free gives.
        """
        n = len(self.cuts) - 1
        line, borne = np.zeros(n), np.zeros(n)
        for k, columns in enumerate(self.columns):
            bedding, state = self.bedding(k), point.states[1 + k]
            line[columns] -= bedding.sense * self.slice_forces(point, k)
            if isinstance(bedding, LeaningBedding):
                borne += bedding.on_axis(point.z, state)
        if self.leaning is None:
            borne = line
        middles, cuts = self.middles, self.cuts
        across = np.concatenate([[0.0], np.cumsum(line)])
        turn = np.interp(cuts, middles, self.turns(point))
        if self.case.large_strain:
            middles = middles + self._along(point)
            cuts = np.interp(cuts, self.middles, middles)
            ends = 0.5 * (self.cuts[1] - self.cuts[0]), 0.5 * (self.cuts[-1] - self.cuts[-2])
            cuts[0] = middles[0] - ends[0] * np.cos(turn[0])
            cuts[-1] = middles[-1] + ends[1] * np.cos(turn[-1])
            across = across * np.cos(turn)
        before = np.tri(n + 1, n, -1)
        moment = (before * (cuts[:, None] - middles)) @ borne
        if self.case.ends == "held":
            moment -= moment[-1]
        return self.cuts, across, moment

    def turns(self, point: EquilibriumPoint) -> Floats:
        """Angle by which the pin's axis has turned in every column, (n_columns,), radians."""
        lateral = self.axis(point)[1]
        along = self.middles + (self._along(point) if self.case.large_strain else 0.0)
        rise, run = np.gradient(lateral), np.gradient(along)
        # columns are of unlike length: both gradients are taken by their numbers
        return np.arctan2(rise, run) if self.case.large_strain else np.arctan(rise / run)

    def _along(self, point: EquilibriumPoint) -> Floats:
        """Mean displacement along the axis of every column, (n_columns,), mm."""
        dofs, weights = self.axis_weights
        return np.asarray((weights * point.z[dofs - 1]).sum(axis=1))

    def most_turned(self, point: EquilibriumPoint) -> float:
        """Largest angle by which the pin has turned in a plate, degrees."""
        inside = np.concatenate(self.columns)
        return float(np.degrees(np.abs(self.turns(point)[inside]).max()))

    def bend(self, point: EquilibriumPoint) -> tuple[float, float]:
        """Bend of the pin: sag between the ears' mid-planes (mm), and turn of its ends (degrees).

        In single shear: sideways offset of the shank's mid-plane from the line of the ear's, as
        the pin's slope at the ear would carry it on, is not a bend; the sag is then taken at the
        middle of the line between the two mid-planes.
        """
        x, v = self.axis(point)
        middles = self.case.faces.mean(axis=1)
        left, right = middles[0], middles[-1]
        at = np.interp([left, 0.5 * (left + right), right], x, v)
        if len(middles) == 3:
            at[1] = np.interp(middles[self.case.shank], x, v)
        sag = at[1] - 0.5 * (at[0] + at[2])
        slope = np.gradient(v, x)
        inside = (x >= left) & (x <= right)
        turn = np.degrees(np.arctan(np.ptp(slope[inside])))
        return float(abs(sag)), float(turn)


def leaning_axis(case: AxialCase, cuts: Floats, first: int) -> Axis | None:
    """Return the pin's axis as unknowns from `first` on, or None where it is left out.

    An ear that nothing keeps from sliding out along a pin that leans goes along with the pin's
    surface, and the section that bore it goes on to bear it. In single shear, where a pin turns
    until its lever arm is gone, what is gained was compared with nothing, and is left out too.
    """
    if case.ends != "headed" or len(case.plates) != 3 or not case.large_strain:
        return None
    return Axis(cuts, first + np.arange(len(cuts) - 1))


def build(
    case: AxialCase,
    settings: AxialSettings | None = None,
    laws: Sequence[BeddingLaw] | None = None,
) -> AxialProblem:
    """Mesh the pin and pose its equations.

    Parameters
    ----------
    case : AxialCase
    settings : AxialSettings, optional
    laws : sequence of BeddingLaw, optional
        The plates' laws in the problem, each equal to the case's at the start; those without it.

    Returns
    -------
    AxialProblem
    """
    settings = settings or AxialSettings()
    laws = tuple(p.law for p in case.plates) if laws is None else tuple(laws)
    cuts = cuts_of(case, settings)
    r = 0.5 * case.diameter
    # rows crowd towards the outer fibres, where bending yields first
    heights = r * np.sin(np.linspace(-0.5, 0.5, settings.rows + 1) * np.pi)
    mesh = strip(cuts, heights)
    quadrature = Quadrature.from_mesh(mesh.points, mesh.triangles)
    chord = 2.0 * np.sqrt(np.maximum(r * r - quadrature.points[..., 1] ** 2, 0.0))
    dofs = (2 * mesh.triangles[:, :, None] + np.arange(2)).reshape(len(mesh.triangles), 12)
    pin = Solid(case.metal, dofs, quadrature, chord, case.large_strain)
    n_nodes = len(mesh.points)
    n_plates = len(case.plates)
    parts = 2 * n_nodes + np.arange(n_plates)
    means, weights = column_means(mesh, pin, cuts)
    axis = leaning_axis(case, cuts, 2 * n_nodes + n_plates)
    pulled = 2 * n_nodes + n_plates + (0 if axis is None else len(axis.dofs))
    n_dofs = pulled + 1
    middles = 0.5 * (cuts[1:] + cuts[:-1])
    terms: list[Solid | Bedding | LeaningBedding | Spring] = [pin]
    columns, fixed = [], []
    for k, (begin, end) in enumerate(case.faces):
        on = np.flatnonzero((middles > begin) & (middles < end))
        columns.append(on)
        # the shank moves ahead and pushes the pin; the pin pushes the ears
        sense = -1.0 if k == case.shank else 1.0
        lengths, part = np.diff(cuts)[on], int(parts[k])
        if axis is None:
            terms.append(Bedding(means[on], weights[on], lengths, part, laws[k], sense))
        else:
            at = axis.middles[on]
            terms.append(LeaningBedding(axis, r, LEANS * r, at, lengths, part, laws[k], sense))
    modulus = min(case.metal.modulus, STEEL)
    if axis is not None:
        # every column alike, however short: forces are shared by number, not by length
        alike = np.full(len(means), case.diameter / 16.0)
        terms.append(Bedding(means, weights, alike, axis.dofs, SoftBed(TIED * modulus)))
    for k, plate in enumerate(case.plates):
        far = pulled if k == case.shank else None
        if np.isfinite(plate.spring):
            terms.append(Spring(int(parts[k]), far, plate.spring))
        elif far is None:
            fixed.append(parts[k])
        else:
            terms.append(Spring(int(parts[k]), far, 1e3 * case.metal.modulus * case.diameter))
    drive, rigid = np.zeros(n_dofs), np.zeros(n_dofs)
    drive[pulled] = 1.0
    rigid[pulled] = rigid[parts[case.shank]] = 1.0
    rigid[1 : 2 * n_nodes : 2] = 1.0
    if axis is not None:
        rigid[axis.dofs] = 1.0
    image = None if settings.whole else mirror(case, cuts, mesh, n_dofs, axis)
    # a pin that is its own mirror image stays where it is along its axis
    guides = [mean_along(mesh, pin, n_dofs)] if image is None and case.ends != "held" else []
    if case.ends == "held":
        # only its mean turn held, the face would warp and its outer fibres run away below Mp
        fixed.extend(2 * mesh.nodes_of("left"))
    elif image is None:
        soft = SoftBed(HOLDING * modulus)
        terms.append(Bedding(means, weights, np.diff(cuts), int(parts[case.shank]), soft))
    held = np.array(fixed, dtype=np.intp)
    system = System(n_dofs, terms, drive, rigid, held, guides, image)
    return AxialProblem(case, mesh, system, cuts, tuple(columns), laws, axis)
