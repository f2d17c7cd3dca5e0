"""Pull the demo's ear with this kernel and with scikit-fem: same mesh, metal, steps, tolerance.

The library is used as its examples do it: weak forms assembled anew for every iteration, SciPy's
SuperLU, Newton with the consistent tangent and a search along the step; the metal is the return map
of Simo and Taylor (1986) written out in full matrices. Without the pin both pose one problem: the
bearing half of the hole is pulled by tractions as cos(angle), and their mean displacement is what
the steps prescribe.
"""

# ruff: noqa: E402  thread limits are set before what reads them is imported

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

import numpy as np
from scipy.sparse.linalg import splu
from scipy.spatial import cKDTree

import fejoint
from fejoint.analysis.section_cases import face_case
from fejoint.arrays import Floats, Ints
from fejoint.kernel import compiled
from fejoint.kernel.assembly import System
from fejoint.kernel.contact import SecondaryEdge
from fejoint.kernel.continuation import StepControl, StepSettings, trace_path
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.linear import LinearSolver
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import ear_half
from fejoint.meshing.mesh import Mesh
from fejoint.reference_models.tractions import body, traction_vector

HARD = Path(__file__).resolve().parent.parent / "cases/demo/hard-pin.toml"
TOLERANCE = 1e-8
FORCE_SCALE = 1e-3
ITERATIONS = 25
MISSING = "a comparison with scikit-fem is left out; to have it: pip install scikit-fem"


@dataclass(frozen=True, eq=False)
class Problem:
    """Half an ear, what it is made of, and the mean travels of its bearing edge, mm."""

    mesh: Mesh
    metal: Metal
    thickness: float
    travels: Floats


@dataclass(frozen=True, eq=False)
class Pulled:
    """Load on the half ear at every travel (N), tangents factorised, and CPU time (s)."""

    loads: Floats
    factorisations: int
    seconds: float
    dofs: int


def problem(sides: int, steps: int = 24, reach: float = 0.06) -> Problem:
    """Return the demo's ear, pulled by a share of its hole's diameter in equal steps."""
    joint = fejoint.load(HARD)
    case = face_case(joint, joint.ears[0])
    travels = np.linspace(0.0, reach * case.outline.hole, steps + 1)[1:]
    return Problem(ear_half(case.outline, sides), case.metal, case.thickness, travels)


def by_fejoint(p: Problem, solver: str = "fastest") -> Pulled:
    """Pull with this project's kernel."""
    start = time.process_time()
    mesh, points = p.mesh, p.mesh.points
    # the bearing half, as whole edges
    bearing = mesh.edges["hole"][points[mesh.edges["hole"]][:, :, 0].mean(axis=1) > 0.0]
    where = SecondaryEdge.from_mesh(points, bearing, p.thickness).points
    cosine = where[..., 0] / np.hypot(where[..., 0], where[..., 1])
    traction = np.stack([cosine, np.zeros_like(cosine)], axis=-1)
    drive = traction_vector(points, bearing, p.thickness, traction)
    drive /= drive.sum()
    grip, axis = mesh.nodes_of("grip"), mesh.nodes_of("neck", "tip")
    fixed = np.unique(np.concatenate([2 * grip, 2 * grip + 1, 2 * axis + 1]))
    solid = body(mesh, p.metal, p.thickness, large_strain=False)
    system = System(len(drive), [solid], drive, drive / (drive @ drive), fixed)
    linear = LinearSolver(system.symmetric, solver)
    step = float(p.travels[0])
    settings = StepSettings(
        first=step, longest=step, shortest=1e-6 * step, tolerance=TOLERANCE, force_scale=FORCE_SCALE
    )
    try:
        path = trace_path(system, linear, [StepControl("travel", p.travels[-1])], settings)
        # where a step had to be cut the library would be compared with other steps
        assert np.allclose([point.travel for point in path.points[1:]], p.travels)
        loads = np.array([point.load for point in path.points[1:]])
        seconds = time.process_time() - start
        return Pulled(loads, linear.statistics.numeric, seconds, len(system.free))
    finally:
        linear.close()


class _Library:
    """The ear in scikit-fem: basis, weak forms, and what holds and pulls it."""

    def __init__(self, p: Problem) -> None:
        import skfem
        from skfem.helpers import ddot, sym_grad

        self.metal = _Metal(p.metal)
        mesh = skfem.MeshTri2(p.mesh.points.T, p.mesh.triangles.T)
        element = skfem.ElementVector(skfem.ElementTriP2())
        self.basis = skfem.Basis(mesh, element, intorder=2)

        @skfem.LinearForm
        def forces(v, w):
            return p.thickness * ddot(w["stress"], sym_grad(v))

        @skfem.BilinearForm
        def stiffness(u, v, w):
            e, f = sym_grad(u), sym_grad(v)
            e, f = (e[0, 0], e[1, 1], 2.0 * e[0, 1]), (f[0, 0], f[1, 1], 2.0 * f[0, 1])
            m = w["moduli"]
            return p.thickness * sum(f[i] * m[i, j] * e[j] for i in range(3) for j in range(3))

        @skfem.LinearForm
        def push(v, w):
            return p.thickness * v[0] * w.x[0] / np.hypot(*w.x)

        self.forces, self.stiffness = forces, stiffness
        hole = _facets(mesh, p.mesh, "hole")
        hole = hole[mesh.p[0][mesh.facets[:, hole]].mean(axis=0) > 0.0]
        drive = push.assemble(skfem.FacetBasis(mesh, element, facets=hole, intorder=5))
        self.drive = drive / drive.sum()
        grip, axis = (_facets(mesh, p.mesh, *names) for names in (("grip",), ("neck", "tip")))
        dofs = self.basis.get_dofs
        fixed = np.union1d(dofs(grip).all(), dofs(axis).all(["u^2"]))
        self.free = np.setdiff1d(np.arange(self.basis.N), fixed)

    def residual(self, z: Floats, load: float) -> tuple[Floats, Floats]:
        """Return the free dofs' out-of-balance, and the moduli."""
        stress, moduli = self.metal.answer(self.basis.interpolate(z).grad)
        out = self.forces.assemble(self.basis, stress=stress) - load * self.drive
        return out[self.free], moduli

    def step(self, out: Floats, moduli: Floats, gap: float) -> tuple[Floats, float]:
        """Solve for the change of the free dofs and of the load."""
        k = self.stiffness.assemble(self.basis, moduli=moduli).tocsc()[self.free][:, self.free]
        drive = self.drive[self.free]
        factors = splu(k, "MMD_AT_PLUS_A", 0.01, options={"SymmetricMode": True})
        both = factors.solve(np.stack([-out, drive], axis=1))
        more = (gap - drive @ both[:, 0]) / (drive @ both[:, 1])
        return both[:, 0] + more * both[:, 1], more


def by_library(p: Problem) -> Pulled:
    """Pull with scikit-fem.

    Raises
    ------
    ImportError
        If the library is not installed.
    ArithmeticError
        If its Newton finds no equilibrium.
    """
    start = time.process_time()
    them = _Library(p)
    z, load, last, count = np.zeros(them.basis.N), 0.0, 0.0, 0
    before, loads = (z, load, last), []
    for travel in p.travels:
        # the secant of the last two points is the first guess here
        ahead = 0.0 if last == 0.0 else (travel - last) / (last - before[2])
        guess = z + ahead * (z - before[0]), load + ahead * (load - before[1])
        before, (z, load) = (z, load, last), guess
        out, moduli = them.residual(z, load)
        for _ in range(ITERATIONS):
            gap = travel - them.drive @ z
            error = np.linalg.norm(out) / max(abs(load), FORCE_SCALE)
            if error <= TOLERANCE and abs(gap) <= TOLERANCE * travel:
                break
            step, more = them.step(out, moduli, gap)
            count += 1
            slope = (out - more * them.drive[them.free]) @ step
            load += more
            z, out, moduli = _along(them, z, load, step, slope)
        else:
            message = f"scikit-fem's Newton ends out of balance by {error:.1e} at {travel:.4g} mm"
            raise ArithmeticError(message)
        them.metal.commit()
        loads.append(load)
        last = travel
    return Pulled(np.array(loads), count, time.process_time() - start, len(them.free))


def _along(
    them: _Library, z: Floats, load: float, step: Floats, slope: float
) -> tuple[Floats, Floats, Floats]:
    """Take a Newton step, or as much of it as lowers the energy slope: without, it diverges."""
    scale = 1.0
    for _ in range(5):
        trial = z.copy()
        trial[them.free] += scale * step
        out, moduli = them.residual(trial, load)
        after = out @ step
        if slope >= 0.0 or after <= 0.5 * abs(slope):
            break
        scale *= min(max(slope / (slope - after), 0.1), 0.9)
    return trial, out, moduli


class _Metal:
    """J2 plasticity in plane stress at the library's points, after Simo and Taylor (1986)."""

    def __init__(self, metal: Metal) -> None:
        e, nu = metal.modulus, metal.poisson
        self.elastic = e / (1 - nu**2) * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, (1 - nu) / 2]])
        self.compliance = np.linalg.inv(self.elastic)
        self.deviator = np.array([[2, -1, 0], [-1, 2, 0], [0, 0, 6]]) / 3.0
        self.sum_rate, self.diff_rate = e / (3 * (1 - nu)), e / (1 + nu)
        assert metal.hardening is not None
        self.yield_stress: Hardening = metal.hardening
        self.plastic = self.equivalent = np.zeros(0)
        self.new = self.plastic, self.equivalent

    def answer(self, gradient: Floats) -> tuple[Floats, Floats]:
        """Return stress (2, 2, e, q) and consistent moduli (3, 3, e, q)."""
        shape = gradient.shape[2:]
        if self.equivalent.shape != shape:
            self.plastic, self.equivalent = np.zeros((3, *shape)), np.zeros(shape)
        strain = np.stack([gradient[0, 0], gradient[1, 1], gradient[0, 1] + gradient[1, 0]])
        trial = np.einsum("ij,j...->i...", self.elastic, strain - self.plastic)
        moduli = np.broadcast_to(self.elastic[:, :, None, None], (3, 3, *shape)).copy()
        stress, equivalent, plastic = trial.copy(), self.equivalent.copy(), self.plastic.copy()
        square = _mises_square(trial)
        on = np.sqrt(square) > self.yield_stress(equivalent)[0] * (1.0 + 1e-12)
        if np.any(on):
            slip = self._slip(trial[:, on], self.equivalent[on])
            xi = np.linalg.inv(self.compliance + slip[:, None, None] * self.deviator)
            s = np.einsum("nij,jk,kn->in", xi, self.compliance, trial[:, on])
            ps = self.deviator @ s
            phi = (s * ps).sum(axis=0)
            equivalent[on] += slip * np.sqrt(2.0 / 3.0 * phi)
            hard = self.yield_stress(equivalent[on])[1]
            beta = 2.0 / 3.0 * hard * phi / (1.0 - 2.0 / 3.0 * hard * slip)
            n = np.einsum("nij,jn->in", xi, ps)
            tangent = xi.transpose(1, 2, 0) - n[:, None] * n[None] / ((ps * n).sum(axis=0) + beta)
            stress[:, on], moduli[:, :, on] = s, tangent
            plastic[:, on] += slip * ps
        self.new = plastic, equivalent
        return np.stack([stress[[0, 2]], stress[[2, 1]]]), moduli

    def commit(self) -> None:
        """Keep the last answer's plastic strains."""
        self.plastic, self.equivalent = self.new

    def _slip(self, trial: Floats, past: Floats) -> Floats:
        """Solve equivalent stress = yield stress for the plastic multiplier, point by point."""
        p = (trial[0] + trial[1]) ** 2 / 6.0
        d = (trial[0] - trial[1]) ** 2 / 2.0 + 2.0 * trial[2] ** 2

        def miss(slip: Floats) -> tuple[Floats, Floats]:
            by_p, by_d = 1.0 + self.sum_rate * slip, 1.0 + self.diff_rate * slip
            phi = p / by_p**2 + d / by_d**2
            rate = -2.0 * (p * self.sum_rate / by_p**3 + d * self.diff_rate / by_d**3)
            root = np.sqrt(phi)
            k, h = self.yield_stress(past + slip * np.sqrt(2.0 / 3.0) * root)
            grows = np.sqrt(2.0 / 3.0) * (root + slip * rate / (2.0 * root))
            return np.sqrt(1.5) * root - k, np.sqrt(1.5) * rate / (2.0 * root) - h * grows

        slip, low, high = np.zeros_like(past), np.zeros_like(past), np.full_like(past, np.inf)
        for _ in range(60):
            value, rate = miss(slip)
            if np.all(np.abs(value) <= 1e-11 * self.yield_stress.first_yield):
                break
            low, high = np.where(value > 0.0, slip, low), np.where(value < 0.0, slip, high)
            newton = slip - value / rate
            middle = np.where(np.isfinite(high), 0.5 * (low + high), 2.0 * low + 1e-12)
            slip = np.where((newton > low) & (newton < high), newton, middle)
        return slip


def _mises_square(s: Floats) -> Floats:
    return np.asarray(s[0] ** 2 - s[0] * s[1] + s[1] ** 2 + 3.0 * s[2] ** 2)


def _facets(mesh: object, ours: Mesh, *names: str) -> Ints:
    """Return the library's facets that lie on some of our edges, by their corner nodes."""
    edges = np.vstack([ours.edges[n] for n in names])
    corners = ours.points[edges[:, [0, 1]]].mean(axis=1)
    theirs = mesh.p[:, mesh.facets].mean(axis=1).T  # type: ignore[attr-defined]
    far, found = cKDTree(theirs).query(corners)
    assert far.max() < 1e-9
    return np.asarray(found)


def compare(sides: int, steps: int = 24) -> dict[str, float]:
    """Pull one ear with both and return loads, counts and CPU times."""
    p = problem(sides, steps)
    compiled.warm()
    runs: dict[str, Callable[[], Pulled]] = {
        "ours": lambda: by_fejoint(p),
        "ours_superlu": lambda: by_fejoint(p, "superlu"),
        "library": lambda: by_library(p),
    }
    done = {name: run() for name, run in runs.items()}
    ours, library = done["ours"], done["library"]
    found = {"sides": sides, "dofs": ours.dofs, "steps": steps, "load_N": float(ours.loads[-1])}
    found["worst_difference"] = float(np.max(np.abs(ours.loads / library.loads - 1.0)))
    for name, run in done.items():
        found |= {f"{name}_cpu_s": run.seconds, f"{name}_factorisations": run.factorisations}
    return found


def lines(rows: list[dict[str, float]]) -> list[str]:
    """Return the comparison as a table."""
    head = (
        "the ear alone (small strain, no contact), by this kernel and by scikit-fem",
        " dofs  steps  load N  differ by  ours s (factor.)  ours, SuperLU s  library s (factor.)",
    )
    return [
        *head,
        *(
            f"{r['dofs']:5.0f} {r['steps']:6.0f} {r['load_N']:7.1f} {r['worst_difference']:10.1e} "
            f"{r['ours_cpu_s']:7.2f} ({r['ours_factorisations']:.0f}) "
            f"{r['ours_superlu_cpu_s']:14.2f} "
            f"{r['library_cpu_s']:14.2f} ({r['library_factorisations']:.0f})"
            for r in rows
        ),
    ]


def main() -> int:
    """Print the comparison, or JSON."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--json", action="store_true")
    parser.add_argument("--sides", type=int, nargs="+", default=[48, 96])
    asked = parser.parse_args()
    try:
        rows = [compare(n) for n in asked.sides]
    except ImportError:
        print(MISSING)
        return 0
    print(json.dumps(rows) if asked.json else "\n".join(lines(rows)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
