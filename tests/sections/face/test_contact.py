"""The pin in its hole against the closed forms of elastic contact, and friction's sanity."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from support import closed_forms
from support.pulled_faces import CASE, RIGID, offset_load, pulled, up_and_down

from fejoint.handbook.contact import conforming_half_angle, conforming_pressure
from fejoint.kernel.continuation import StepControl
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.sections.face.pull import FaceCase, FaceSettings, build, pull

MODULUS, HOLE = 200e3, 4.0
ELASTIC = Metal(MODULUS, 0.3)


@lru_cache
def elastic_contact(pin: float, load: float, sides: int, rigid: bool, stiffer: float = 1.0):
    """Edges' angles (rad) and mean pressures in a plate 50 holes wide, thickness 1 mm."""
    outline = EarOutline(200.0, HOLE, 100.0, 100.0, "square")
    metal = None if rigid else ELASTIC
    case = FaceCase(outline, 1.0, ELASTIC, pin, metal, large_strain=False)
    how = FaceSettings(sides=sides, stop_at_maximum=False)
    problem = build(case, how)
    problem = problem.with_stiffer_contact(stiffer)
    history = pull(problem, how, legs=[StepControl("load", load)])
    assert history.load[-1] == pytest.approx(load, rel=1e-5)
    angle, pressure = problem.pressures(history.path.points[-1])
    order = np.argsort(angle)
    weights = problem.contact.secondary.weights.sum(axis=1)
    return np.radians(angle[order]), pressure[order], weights[order]


@pytest.mark.parametrize("clearance", [8.0, 0.5], ids=["loose", "close"])
def test_conforming_contact_has_the_closed_forms_pressure(clearance):
    """Same metals, infinite plate (Persson 1964, Ciavarella and Decuzzi 2001).

    At 96 sides: the peak within 1 %, the arc within one edge, everywhere else within 5 % of the
    peak, as an edge at the arc's rim is half in contact. The penalty gives way by 1 % of the gap.
    """
    load, sides = 1000.0, 96
    gap = clearance * load / MODULUS
    angle, pressure, _ = elastic_contact(HOLE - 2.0 * gap, load, sides, False)
    half = conforming_half_angle(clearance)
    exact = conforming_pressure(angle, half) * load / (HOLE / 2.0)
    assert pressure[0] == pytest.approx(exact[0], rel=0.01)
    assert np.abs(pressure - exact).max() < 0.05 * exact[0]
    assert np.sqrt(np.mean((pressure - exact) ** 2)) < 0.01 * exact[0]
    rim = angle[pressure > 0.0].max()
    assert rim == pytest.approx(half, abs=2.0 * np.pi / sides)


@pytest.mark.parametrize("clearance", [8.0, 0.5], ids=["loose", "close"])
def test_pressure_adds_up_to_the_load(clearance):
    load = 1000.0
    gap = clearance * load / MODULUS
    angle, pressure, weights = elastic_contact(HOLE - 2.0 * gap, load, 96, False)
    along = 2.0 * (pressure * np.cos(angle) * weights).sum()
    assert along == pytest.approx(load, rel=1e-3)


def edge_means(contact, sides: int) -> np.ndarray:
    """Closed-form pressure averaged over the hole's edges."""
    ends = np.linspace(0.0, np.pi, sides // 2 + 1)
    inside = np.linspace(0.0, 1.0, 81)
    places = ends[:-1, None] + (ends[1] - ends[0]) * inside
    off = np.where(places < np.pi / 2.0, HOLE / 2.0 * np.sin(places), np.inf)
    return contact.pressure(off).mean(axis=1)


@pytest.mark.parametrize(
    ("sides", "peak", "elsewhere"),
    [(96, 0.03, 0.05), pytest.param(192, 0.02, 0.03, marks=pytest.mark.slow)],
)
def test_rigid_pin_with_large_clearance_presses_as_hertz_says(sides, peak, elsewhere):
    """Half width a = R/5 over 3 (6) edges; the penalty is stiffened 30 times, as it stands in line
    with the depth a^2/2R of so sharp a contact."""
    pin, half_width = 1.8, 0.4
    radius = 1.0 / (1.0 / pin - 2.0 / HOLE)
    load = half_width**2 * np.pi * MODULUS / (4.0 * radius)
    exact = closed_forms.hertz_line(load, MODULUS, radius)
    assert exact.half_width == pytest.approx(half_width)
    _, pressure, _ = elastic_contact(2.0 * pin, load, sides, True, 30.0)
    near = sides // 4  # edges of the quarter that bears; those of the other are of many lengths
    means = edge_means(exact, sides)[:near]
    assert pressure[0] == pytest.approx(means[0], rel=peak)
    assert np.abs(pressure[:near] - means).max() < elsewhere * exact.peak_pressure
    assert np.all(pressure[near:] == 0.0)


def test_vanishing_friction_is_the_frictionless_path():
    for case in (CASE, RIGID):
        smooth = pulled(case, 0.1, sides=24)
        nearly = pulled(replace(case, friction=1e-6), 0.1, sides=24)
        assert nearly.load[-1] == pytest.approx(smooth.load[-1], rel=1e-4)
        assert nearly.elongation[-1] == pytest.approx(smooth.elongation[-1], rel=1e-4)


def test_friction_raises_the_offset_load_steadily():
    found = [offset_load(pulled(replace(RIGID, friction=mu))) for mu in (0.0, 0.1, 0.2)]
    assert found[0] < found[1] < found[2] < 1.1 * found[0]


@pytest.mark.parametrize("case", [CASE, RIGID], ids=["meshed", "rigid"])
def test_drag_is_capped_and_heat_only_grows(case):
    mu = 0.2
    history = up_and_down(
        replace(case, friction=mu), ("travel", 0.3), ("load", 200.0), step=0.01, sides=24
    )
    contact = history.problem.contact
    lost = np.array([p.lost for p in history.path.points])
    assert np.all(np.diff(lost) >= -1e-12)
    assert lost[-1] > 0.0
    stuck = slipped = 0
    for p in history.path.points[1:]:
        gap = contact.primary.project(contact.secondary.positions(p.z), p.z).gap
        cap = mu * contact.stiffness * np.maximum(-gap, 0.0)
        drag = np.abs(p.states[-1].tangential_traction)
        assert np.all(drag <= cap * (1.0 + 1e-9) + 1e-9)
        on = cap > 0.0
        slipped += int((drag[on] > 0.999 * cap[on]).sum())
        stuck += int((drag[on] < 0.9 * cap[on]).sum())
    assert stuck > 0
    assert slipped > 0


def test_friction_opens_a_loop_as_large_as_its_heat():
    """Elastic metals, 8 kN and back: what is not given back is friction's heat."""
    wide = replace(RIGID.outline, width=20.0)
    elastic = replace(RIGID, metal=Metal(193e3, 0.3), friction=0.05, outline=wide)
    top, low = ("load", 8000.0), ("load", 100.0)
    history = up_and_down(elastic, top, low, top, step=0.001, sides=24)
    a, _, c = history.path.legs
    loop = slice(a, c + 1)
    area = np.trapezoid(history.load[loop], history.travel[loop])
    share, points = history.problem.share, history.path.points
    heat = share * (points[c].lost - points[a].lost)
    assert heat > 0.1
    assert area == pytest.approx(heat, rel=0.02)
