"""Closed forms from the books, with their sources: only tests compare with them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.integrate import quad
from scipy.interpolate import CubicSpline
from scipy.optimize import minimize_scalar

from fejoint.arrays import Floats
from fejoint.handbook.beams import full_plastic_moment, full_plastic_shear, round_area
from fejoint.handbook.plasticity import ROOT3, pressed_ring
from fejoint.kernel.root import root


def en_combined_use(moment: float, bending: float, shear: float, shear_plane: float) -> float:
    """Return (MEd/MRd)^2 + (Fv,Ed/Fv,Rd)^2, to be at most 1.

    Parameters
    ----------
    moment, bending : float
        Moment MEd and resistance MRd, N mm.
    shear, shear_plane : float
        Shear Fv,Ed in one plane and its resistance Fv,Rd, N.

    Notes
    -----
    Source: EN 1993-1-8:2005 Table 3.10. Status: read in the standard's table text.
    """
    return (moment / bending) ** 2 + (shear / shear_plane) ** 2


def aisc_bolt_bearing(
    thickness: float,
    bolt_diameter: float,
    clear_end: float,
    strength: float,
    *,
    deformation_counts: bool,
    phi: float = 1.0,
) -> float:
    """Return the bearing and tear-out load of a bolt hole, the lower of k1 lc t Fu and k2 d t Fu.

    Parameters
    ----------
    thickness, bolt_diameter, clear_end : float
        t, d and lc (hole's edge to end), mm.
    strength : float
        Tensile strength Fu of the plate, MPa.
    deformation_counts : bool
        True where about 6 mm (0.25 in) of hole deformation at service load is a concern:
        k1, k2 = 1.2, 2.4; False: 1.5, 3.0.
    phi : float
        Resistance factor (0.75).

    Notes
    -----
    A rule for bolts, kept beside the pin rules because it splits bearing from tear-out. Source:
    AISC 360-10 eqs (J3-6a), (J3-6b). Status: 1.2 and 2.4 read, 1.5 and 3.0 from memory.
    """
    k1, k2 = (1.2, 2.4) if deformation_counts else (1.5, 3.0)
    return phi * strength * thickness * min(k1 * clear_end, k2 * bolt_diameter)


@dataclass(frozen=True)
class LineContact:
    """Half width (mm) and peak pressure (MPa) of a line contact."""

    half_width: float
    peak_pressure: float

    def pressure(self, x: ArrayLike) -> Floats:
        """Return the pressure at distance x (mm) from the middle, MPa; 0 outside the contact."""
        inside = np.maximum(0.0, 1.0 - (np.asarray(x, float) / self.half_width) ** 2)
        return np.asarray(self.peak_pressure * np.sqrt(inside))


def hertz_line(load: float, modulus: float, radius: float) -> LineContact:
    """Return half width sqrt(4 Q R / (pi E*)) and peak pressure sqrt(Q E* / (pi R)).

    Parameters
    ----------
    load : float
        Q, N/mm.
    modulus : float
        E*, MPa; see `contact_modulus`.
    radius : float
        R, mm: 1/R = 1/R1 + 1/R2, negative for a hollow body.

    Notes
    -----
    Source: Hertz 1882; Johnson, Contact Mechanics, 1985, ch. 4. Status: read in a stored text.
    Under it the greatest shear stress is 0.3003 p0 at the depth 0.786 a.
    """
    half = np.sqrt(4.0 * load * radius / (np.pi * modulus))
    return LineContact(float(half), float(2.0 * load / (np.pi * half)))


def line_contact_axis(depth: ArrayLike, contact: LineContact) -> tuple[Floats, Floats]:
    """Return the in-plane stresses (along the surface, along the depth) under a line contact.

    Parameters
    ----------
    depth : array
        z below the middle of the contact, mm.
    contact : LineContact
        The contact.

    Returns
    -------
    sx, sz : arrays
        MPa.

    Notes
    -----
    sx = -p0 ((a^2 + 2 z^2)/(a m) - 2 z/a) and sz = -p0 a/m with m = sqrt(a^2 + z^2). Source:
    Johnson, Contact Mechanics, 1985, eqs (4.46). Status: from memory; its greatest shear stress
    checked against the printed 0.30 p0 at 0.78 a.
    """
    z, a, p0 = np.asarray(depth, float), contact.half_width, contact.peak_pressure
    m = np.sqrt(a**2 + z**2)
    return -p0 * ((a**2 + 2 * z**2) / (a * m) - 2 * z / a), -p0 * a / m


def partial_slip_stick_width(contact: LineContact, shear: float, normal: float, mu: float) -> float:
    """Return the half width of the stick zone of a line contact, a sqrt(1 - T / (mu Q)), mm.

    Parameters
    ----------
    contact : LineContact
        Contact under the normal load alone.
    shear, normal : float
        T and Q, N/mm, T put on after Q.
    mu : float
        Coefficient of friction.

    Raises
    ------
    ValueError
        If T exceeds mu Q: the bodies slide.

    Notes
    -----
    Bodies of the same material (the shear moves no normal pressure). Source: Cattaneo 1938 and
    Mindlin, "Compliance of elastic bodies in contact", J. Appl. Mech. 16, 1949; Johnson, Contact
    Mechanics, 1985, ch. 7. Status: from memory; integral and stick condition checked numerically.
    """
    if shear > mu * normal:
        msg = f"shear {shear:g} N/mm: must be at most mu x normal load = {mu * normal:g} N/mm"
        raise ValueError(msg)
    return float(contact.half_width * np.sqrt(1.0 - shear / (mu * normal)))


def partial_slip_traction(
    x: ArrayLike, contact: LineContact, shear: float, normal: float, mu: float
) -> Floats:
    """Return the shear traction of a line contact in partial slip, MPa.

    mu p0 (sqrt(1 - x^2/a^2) - (c/a) sqrt(1 - x^2/c^2)), the second term in the stick zone
    abs(x) < c only. Arguments, source and status as in `partial_slip_stick_width`.
    """
    c = partial_slip_stick_width(contact, shear, normal, mu)
    sliding = contact.pressure(x)
    if c == 0.0:
        return np.asarray(mu * sliding)
    back = LineContact(c, contact.peak_pressure * c / contact.half_width).pressure(x)
    return np.asarray(mu * (sliding - back))


ROUND_SHEAR_COEFFICIENT = 0.9
"""Shear stiffness over G A of a round bar from the chord-averaged shear stress VQ/(Ib).

Source: Timoshenko, Strength of Materials (10/9 in the deflection). Status: re-derived: the shear
energy of V Q/(I b) over the section is (10/9) V^2/(2 G A). Cowper 1966 has 0.886 at nu = 0.3.
"""


def plastic_bending(curvature: ArrayLike) -> Floats:
    """Return the moment of a round elastic-perfectly plastic bar over its first-yield moment.

    Parameters
    ----------
    curvature : array
        k, curvature over that of first yield, at least 0.

    Notes
    -----
    With n = 1/k <= 1: M/My = (16/pi) (k (asin n - n sqrt(1 - n^2)(1 - 2 n^2))/8
    + (1 - n^2)^1.5 / 3); M/My = k below 1. Source: textbook result, e.g. Chakrabarty, Theory of
    Plasticity. Status: from memory; equal to quadrature over the section to 12 digits.
    """
    k = np.asarray(curvature, float)
    n = 1.0 / np.maximum(k, 1.0)
    root = np.sqrt(1.0 - n**2)
    core = (np.arcsin(n) - n * root * (1.0 - 2.0 * n**2)) / (8.0 * n)
    return np.asarray(np.where(k <= 1.0, k, 16.0 / np.pi * (core + root**3 / 3.0)))


def shear_stiffness(diameter: float, shear_modulus: float) -> float:
    """Return the shear stiffness of a round bar, 0.9 G A, N per radian of shear.

    Source and status: `ROUND_SHEAR_COEFFICIENT`.
    """
    return ROUND_SHEAR_COEFFICIENT * shear_modulus * round_area(diameter)


@dataclass(frozen=True)
class BeddedBeam:
    """Deflections (mm) and middle moment (N mm) of a beam on elastic bearing."""

    middle: float
    end: float
    moment: float


def bedded_beam(length: float, stiffness: float, bending: float, load: float) -> BeddedBeam:
    """Return a free beam on elastic bearing, loaded by one force at its middle.

    Parameters
    ----------
    length : float
        L, mm.
    stiffness : float
        k, bearing stiffness per length, N/mm2; it pushes both ways.
    bending : float
        E I, N mm2.
    load : float
        P, N.

    Notes
    -----
    With l = (k / 4EI)^(1/4) and x = l L: y_mid = P l/(2k) (cosh x + cos x + 2)/(sinh x + sin x),
    y_end = 2 P l/k cosh(x/2) cos(x/2)/(sinh x + sin x), M_mid = P/(4 l) (cosh x - cos x) /
    (sinh x + sin x). Source: Hetenyi, Beams on Elastic Foundation, 1946, ch. III. Status: from
    memory; confirmed by a beam finite-element solution to 6 digits.
    """
    rate = (stiffness / (4.0 * bending)) ** 0.25
    x = rate * length
    below = np.sinh(x) + np.sin(x)
    return BeddedBeam(
        float(load * rate / (2 * stiffness) * (np.cosh(x) + np.cos(x) + 2) / below),
        float(2 * load * rate / stiffness * np.cosh(x / 2) * np.cos(x / 2) / below),
        float(load / (4 * rate) * (np.cosh(x) - np.cos(x)) / below),
    )


@dataclass(frozen=True)
class CheekedPin:
    """Deflections (mm) and middle moment (N mm) of a pin carried by two elastic cheeks."""

    middle: float
    end: float
    inner_face: float
    moment: float


def cheeked_pin(
    middle: float, gap: float, cheek: float, stiffness: float, bending: float, load: float
) -> CheekedPin:
    """Return a pin under an even load from the middle plate, carried by two elastic cheeks.

    Parameters
    ----------
    middle, gap, cheek : float
        Width c of the even load, side gap, width of each cheek, mm.
    stiffness : float
        k of a cheek per length, N/mm2; it pushes both ways.
    bending : float
        E I of the pin, N mm2.
    load : float
        P, N.

    Notes
    -----
    Euler-Bernoulli beam, half of it by symmetry: y'''' = P/(c EI) under the load, 0 in the gap,
    -k y/EI in the cheek, joined in y and its three derivatives; no moment or shear at the end.
    Status: solved exactly here; textbook beam theory.
    """
    rate = (stiffness / (4.0 * bending)) ** 0.25
    reach = rate * cheek
    even = load / (middle * bending)
    half = middle / 2.0

    def cubic(x: float) -> Floats:
        # rows: y, y', y'', y''' of 1, x, x^2, x^3
        return np.array(
            [[1, x, x**2, x**3], [0, 1, 2 * x, 3 * x**2], [0, 0, 2, 6 * x], [0, 0, 0, 6.0]]
        )

    def waves(x: float) -> Floats:
        # derivatives with respect to x of exp(s x) for the four roots s = rate (+-1 +-i), each
        # scaled by its greatest value in the cheek
        roots = rate * np.array([-1 + 1j, 1 + 1j])
        scale = np.exp(roots * x - np.array([0.0, reach]))
        rows = np.array([scale * roots**order for order in range(4)])
        return np.concatenate([rows.real, rows.imag], axis=1)

    matrix, right = np.zeros((10, 10)), np.zeros(10)
    # unknowns: y = u0 + u1 x^2 (+ even x^4/24) under the load; a cubic in the gap; four waves
    particular = even * np.array([half**4 / 24, half**3 / 6, half**2 / 2, half])
    matrix[:4, :2] = cubic(half)[:, [0, 2]]
    matrix[:4, 2:6] = -cubic(0.0)
    right[:4] = -particular
    matrix[4:8, 2:6] = cubic(gap)
    matrix[4:8, 6:] = -waves(0.0)
    matrix[8:, 6:] = waves(cheek)[2:]
    size = np.abs(matrix).max(axis=1)
    u = np.linalg.solve(matrix / size[:, None], right / size)
    return CheekedPin(
        float(u[0]),
        float(waves(cheek)[0] @ u[6:]),
        float(waves(0.0)[0] @ u[6:]),
        float(abs(2 * u[1]) * bending),
    )


HOLE_RATIOS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
"""Hole diameter over plate width of `finite_width_gross`."""


HOLE_GROSS_KT = (3.0, 3.036, 3.1526, 3.3745, 3.7474, 4.3477, 5.318)
"""Peak stress over gross stress F/(W t) of a long strip with a central hole, converged."""


def kirsch_rim_growth(
    angle: ArrayLike, hole_radius: float, stress: float, modulus: float
) -> Floats:
    """Return the radial displacement of the hole's rim under tension along x, plane stress.

    u_r = S a / E (1 + 2 cos 2 theta): 3 S a / E along the pull and -S a / E across it.

    Parameters
    ----------
    angle : array
        Radians from the pull.
    hole_radius, stress, modulus : float
        a, S and E.

    Notes
    -----
    Source: follows from Kirsch 1898 (integrated hoop strain). Status: re-derived.
    """
    return np.asarray(
        stress * hole_radius / modulus * (1 + 2 * np.cos(2 * np.asarray(angle, float)))
    )


def finite_width_gross(ratio: float) -> float:
    """Return the peak over gross stress of a long strip with a central hole, in tension.

    Parameters
    ----------
    ratio : float
        Hole diameter over strip width, 0 to 0.6.

    Raises
    ------
    ValueError
        Outside 0 to 0.6.

    Notes
    -----
    A cubic spline, even in the ratio, through values this project computed by two independent
    solvers that agree to 0.02 %: not published values. Howland, "On the stresses in the
    neighbourhood of a circular hole in a strip under tension", Phil. Trans. R. Soc. A 229, 1930,
    as remembered lies 0.2 to 0.7 % lower.
    """
    if not 0.0 <= ratio <= HOLE_RATIOS[-1]:
        msg = f"hole over width = {ratio:g}: must lie between 0 and {HOLE_RATIOS[-1]}"
        raise ValueError(msg)
    ratios, values = np.array(HOLE_RATIOS), np.array(HOLE_GROSS_KT)
    curve = CubicSpline(
        np.concatenate([-ratios[:0:-1], ratios]), np.concatenate([values[:0:-1], values])
    )
    return float(curve(ratio))


def finite_width_net(ratio: float) -> float:
    """Return the peak over net stress F/((W - D) t); see `finite_width_gross`."""
    return finite_width_gross(ratio) * (1.0 - ratio)


def heywood_net(ratio: float) -> float:
    """Return Heywood's net stress concentration 2 + (1 - D/W)^3 of a strip with a hole.

    Source: Heywood, Designing by Photoelasticity, 1952. Status: from memory; 0.1 to 3.3 % below
    the converged values for D/W 0.1 to 0.6.
    """
    return 2.0 + (1.0 - ratio) ** 3


def peterson_net(ratio: float) -> float:
    """Return the polynomial net stress concentration of a strip with a hole.

    3 - 3.14 x + 3.667 x^2 - 1.527 x^3 with x = D/W. Source: Roark's Formulas for Stress and
    Strain, after Howland 1930; charted in Peterson, Stress Concentration Factors. Status: from
    memory; 0.4 to 0.9 % below the converged values.
    """
    return 3.0 - 3.14 * ratio + 3.667 * ratio**2 - 1.527 * ratio**3


def inglis_peak(half_across_pull: float, half_along_pull: float) -> float:
    """Return the peak 1 + 2 a/b at the ends of the axis across the pull.

    `half_across_pull` is a, `half_along_pull` b. Source and status as in `inglis_hoop`; equal
    axes give the circle's 3.
    """
    return 1.0 + 2.0 * half_across_pull / half_along_pull


def lame_ring(
    radius: ArrayLike, inner: float, outer: float, inside: float, outside: float = 0.0
) -> tuple[Floats, Floats]:
    """Return radial and hoop stress of an elastic ring under pressure.

    Parameters
    ----------
    radius : array
        Where, between `inner` and `outer`.
    inner, outer : float
        a and b.
    inside, outside : float
        Pressures on the inner and the outer rim.

    Notes
    -----
    Source: Lame and Clapeyron 1833; Timoshenko and Goodier. Status: re-derived.
    """
    r2 = np.asarray(radius, float) ** 2
    a2, b2 = inner**2, outer**2
    mean = (inside * a2 - outside * b2) / (b2 - a2)
    swing = (inside - outside) * a2 * b2 / ((b2 - a2) * r2)
    return mean - swing, mean + swing


def lame_growth(
    radius: ArrayLike,
    inner: float,
    outer: float,
    inside: float,
    modulus: float,
    poisson: float,
) -> Floats:
    """Return the radial displacement of an elastic ring under inner pressure, plane stress.

    u = r (s_t - nu s_r) / E with `lame_ring`'s stresses. Status: re-derived.
    """
    sr, st = lame_ring(radius, inner, outer, inside)
    return np.asarray(np.asarray(radius, float) * (st - poisson * sr) / modulus)


def lug_peak_over_bearing(ratio: float) -> float:
    """Return the peak over bearing stress of a round-ended lug with a neat pin, a rough fit.

    2.75 (W/D - 1)^-0.675 with `ratio` = D/W. Source: a fit remembered from photoelastic lug
    charts. Status: from memory, author not known; within 2.5 % of this project's converged values
    for D/W 0.4 to 0.6, 8 % low at 0.3 and 20 % low at 0.2: no target for a check.
    """
    return float(2.75 * (1.0 / ratio - 1.0) ** -0.675)


def collapse_pressure(inner: float, outer: float, yield_stress: float) -> float:
    """Return the pressure that makes a ring plastic through, at most 2Y/sqrt(3).

    Source and status as in `pressed_ring`.
    """
    try:
        return pressed_ring(inner, outer, outer, yield_stress).pressure
    except ValueError:
        return 2.0 * yield_stress / ROOT3


@dataclass(frozen=True)
class Necking:
    """Greatest engineering stress (MPa) and the strains at it (plastic; total logarithmic)."""

    strength: float
    plastic_strain: float
    total_strain: float


def considere(
    law: Callable[[float], float],
    *,
    modulus: float = np.inf,
    poisson: float = 0.5,
    last: float = 3.0,
) -> Necking:
    """Return the load maximum of a bar in tension.

    Parameters
    ----------
    law : callable
        True stress against plastic strain, MPa.
    modulus : float
        Young's modulus, MPa; inf leaves elasticity out.
    poisson : float
        Poisson's ratio if the law gives the Cauchy stress; 0.5 if it gives the Kirchhoff stress
        (force over current area, times the volume's ratio), whatever the material's own.
    last : float
        Greatest plastic strain looked at.

    Notes
    -----
    The engineering stress law(p) exp(-p - 2 nu law(p)/E) is greatest; without elasticity this is
    Considere's d(sigma)/d(eps) = sigma. Source: Considere, Annales des Ponts et Chaussees 9,
    1885. Status: re-derived.
    """

    def engineering(p: float) -> float:
        return float(law(p) * np.exp(-p - 2.0 * poisson * law(p) / modulus))

    found = minimize_scalar(
        lambda p: -engineering(p), bounds=(0.0, last), method="bounded", options={"xatol": 1e-12}
    )
    peak = float(found.x)
    return Necking(engineering(peak), peak, float(peak + law(peak) / modulus))


def considere_swift(strength: float, strain0: float, exponent: float) -> Necking:
    """Return the load maximum of Swift's law K (eps0 + eps)^n, elasticity left out.

    Parameters
    ----------
    strength : float
        K, MPa.
    strain0, exponent : float
        eps0 and n, n > eps0.

    Notes
    -----
    eps = n - eps0 and Rm = K n^n exp(eps0 - n). Source: Swift, J. Mech. Phys. Solids 1, 1952.
    Status: re-derived.
    """
    strain = exponent - strain0
    return Necking(float(strength * exponent**exponent * np.exp(-strain)), strain, strain)


def considere_voce(yield_stress: float, rise: float, rate: float) -> Necking:
    """Return the load maximum of Voce's law y + r (1 - exp(-b eps)), elasticity left out.

    Parameters
    ----------
    yield_stress, rise : float
        y and r, MPa.
    rate : float
        b, with r b > y.

    Notes
    -----
    exp(-b eps) = (y + r) / (r (1 + b)). Source: Voce, J. Inst. Metals 74, 1948. Status:
    re-derived.
    """
    left = (yield_stress + rise) / (rise * (1.0 + rate))
    strain = float(-np.log(left) / rate)
    return Necking(float((yield_stress + rise * (1.0 - left)) * np.exp(-strain)), strain, strain)


def open_hole_limit_load(width: float, hole: float, thickness: float, yield_stress: float) -> float:
    """Return the limit load of a perfectly plastic strip with a central hole, Y t (W - D), N.

    Source: plane-stress limit analysis, textbook. Status: exact by two bounds (uniform tension of
    the two ligaments below; a slipping net section above); confirmed by finite elements.
    """
    return yield_stress * thickness * (width - hole)


def section_interaction(shear_use: float) -> float:
    """Return M / Mp of a round bar at a given V / Vp, plane sections, Mises.

    Parameters
    ----------
    shear_use : float
        V over the full plastic shear A sigma_y / sqrt(3), 0 to 1.

    Notes
    -----
    A section that turns and slides at once (rotation rate r, slip rate g) has at height y
    sigma = sigma_y y / sqrt(y^2 + s^2) and sqrt(3) tau = sigma_y s / sqrt(y^2 + s^2), with
    s = g / (sqrt(3) r): the normal of Mises' ellipse. Integrated over chords 2 sqrt(r^2 - y^2).
    The metal of the hinge must be free to narrow across the bar, which a hinge as short as a line
    is not: see `line_hinge_gap_load`. A hinge has no unique interaction curve (Drucker, J. Appl.
    Mech. 23, 1956, from memory). Status: derived here.
    """
    if shear_use <= 0.0:
        return 1.0
    if shear_use >= 1.0:
        return 0.0

    def shear(s: float) -> float:
        value = quad(lambda y: s / np.hypot(y, s) * np.sqrt(1 - y**2), 0.0, 1.0)[0]
        return float(4.0 / np.pi * value)

    def moment(s: float) -> float:
        value = quad(lambda y: y**2 / np.hypot(y, s) * np.sqrt(1 - y**2), 0.0, 1.0)[0]
        return float(3.0 * value)

    log_s = root(lambda z: shear(float(np.exp(z))) - shear_use, -20.0, 10.0)
    return moment(float(np.exp(log_s)))


def gap_load_with_shear(
    diameter: float, yield_strength: float, gap: float, *, clamped: bool = True
) -> float:
    """Return the collapse pull of a pin across two gaps with bending and shear together, N.

    Parameters
    ----------
    diameter, yield_strength, gap : float
        d (mm), sigma_y (MPa) and c (mm, above 0).
    clamped : bool
        True for `clamped_gap_load`'s hinges, False for `free_gap_load`'s.

    Notes
    -----
    F/2 = V, V c = 2 M (clamped) or M (free), with `section_interaction`. As the gap goes to 0
    the pull goes to twice the full plastic shear. Status: derived here. The strip of the axial
    section carries up to 11 % more, as `line_hinge_gap_load` explains.
    """
    full_moment = full_plastic_moment(diameter, yield_strength)
    full_shear = full_plastic_shear(diameter, yield_strength)
    hinges = 2.0 if clamped else 1.0

    def miss(use: float) -> float:
        return use * full_shear * gap - hinges * full_moment * section_interaction(use)

    return 2.0 * full_shear * root(miss, 0.0, 1.0, within=1e-12)


def bearing_mechanism_load(
    moment: float, gap: float, ear: float, ear_bearing: float, shank: float, shank_bearing: float
) -> float:
    """Return the lowest collapse pull with ears and shank of limited bearing strength, N.

    Parameters
    ----------
    moment : float
        Plastic moment Mp of the pin, N mm.
    gap, ear, shank : float
        Side gap c and thicknesses a (of one ear) and b, mm.
    ear_bearing, shank_bearing : float
        Bearing strengths of ear and shank per unit thickness, qa and qb, N/mm.

    Notes
    -----
    The lowest of four mechanisms; V = F/2, and the pin bears on either side of its holes:
    an ear crushed, V = qa a; the shank crushed, V = qb b/2; a hinge in the shank while the pin
    turns in the ear, Mp = V c + V^2/(2 qb) + qa (x^2 - a^2/2) with x = (a + V/qa)/2; hinges in
    shank and ear, 2 Mp = V c + V^2 (1/qa + 1/qb)/2. Source: the yield theory of dowels, Johansen,
    "Theory of timber connections", IABSE 9, 1949, from memory; the gap added and all four
    re-derived here. A hinge outside its part is caught by the crushing mechanisms.
    """
    crush_ear = ear_bearing * ear
    crush_shank = shank_bearing * shank / 2.0

    def turning(v: float) -> float:
        x = (ear + v / ear_bearing) / 2.0
        arm = v * gap + v**2 / (2 * shank_bearing)
        return arm + ear_bearing * (x**2 - ear**2 / 2.0) - moment

    def hinged(v: float) -> float:
        return v * gap + v**2 * (1 / ear_bearing + 1 / shank_bearing) / 2.0 - 2 * moment

    high = min(crush_ear, crush_shank)
    found = [high]
    for balance in (turning, hinged):
        if balance(high) > 0.0:
            found.append(root(balance, 0.0, high))
    return 2.0 * min(found)
