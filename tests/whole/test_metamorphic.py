"""What must follow from changing a case, whatever the case: no digits, only how answers relate."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from support import DEMO, ROOT, random_joints

import fejoint
from fejoint.analysis.result import Answer
from fejoint.analysis.section_cases import STOP_RATIO
from fejoint.errors import BadInput
from fejoint.joint.model import Joint
from fejoint.kernel import load_curve
from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.meshing.gmsh_mesher import EarOutline
from fejoint.sections.face import pull as face
from fejoint.sections.face.pull import FaceCase, FaceHistory, FaceSettings
from fejoint.sections.observers import StepLimit

SEED = 9
SMALL_ELONGATION = 0.005
"""Elongation over the hole's diameter below which a coarse mesh's contact points still show."""
NEVER_LOWER = 5e-3
"""Share by which a curve may pass below another that should be above it: mesh and steps."""
SAME_STEPS, OTHER_STEPS = 1e-5, 1e-2
"""How far apart two answers may be that differ by rounding: within the tolerance of their
equilibria where their marches take the same steps, else within what the steps are good for."""
MIRRORED = 2e-3
"""The same for a joint seen from its other side: the pin's moment is summed from one end."""
COARSE = 0.35

LENGTHS = {
    "thickness", "width", "hole", "edge_distance", "grip_length", "length", "clip", "diameter",
    "hole_slot", "hole_offset", "flare_depth", "stop_displacement", "displacement", "gap",
}  # fmt: skip
FORCES = {"stop_load", "load"}
STRESSES = {"modulus", "yield", "slope", "rise", "rp02", "rm", "stress"}


@pytest.fixture
def few(draws) -> int:
    """How many cases to draw: 2 in scripts/test, 40 in scripts/stress."""
    return draws(400) // 10


def drawn_face(rng: np.random.Generator) -> FaceCase:
    """Return a face section with a rigid pin, of metal that never tears."""
    hole = float(np.exp(rng.uniform(np.log(2.0), np.log(20.0))))
    width, edge = hole * rng.uniform(1.5, 5.0), hole * rng.uniform(0.75, 3.0)
    end = ("round", "square")[rng.integers(2)]
    law = Hardening.swift(rng.uniform(150, 900), rng.uniform(0.005, 0.05), rng.uniform(0.05, 0.4))
    return FaceCase(
        EarOutline(width, hole, edge, 2.5 * max(width, edge), end),
        hole * rng.uniform(0.2, 1.0),
        Metal(rng.uniform(6e4, 2.2e5), 0.3, law),
        hole / rng.choice([1.001, 1.02, 1.1]),
        None,
        float(rng.choice([0.0, 0.2])),
    )


def pulled(case: FaceCase, sides: int = 24, step: float = 0.004) -> FaceHistory:
    """Pull a face section to a tenth of its hole, in steps short enough to compare curves."""
    hole = case.outline.hole
    how = FaceSettings(sides=sides, stop_travel=0.1 * hole)
    return face.pull(face.build(case, how), how, None, [StepLimit(lambda p: 0.0, 1.0, step * hole)])


def least_ratio(low: FaceHistory, high: FaceHistory, along: str) -> float:
    """Return the least load of one over that of another at equal elongation or travel."""
    load_curve = []
    for history in (low, high):
        x = getattr(history, along)
        keep = x > np.maximum.accumulate(np.concatenate([[-1.0], x[:-1]]))
        load_curve.append((x[keep], history.load[keep]))
    end = min(x[-1] for x, _ in load_curve)
    at = np.linspace(SMALL_ELONGATION * low.problem.case.outline.hole, end, 50)
    below, above = (PchipInterpolator(*curve)(at) for curve in load_curve)
    return float((above / below).min())


def drawn_joint(rng: np.random.Generator, **wanted: Any) -> Joint:
    """Return a random joint of so many ears, unequal ones, or with a pin that is not rigid."""
    while True:
        joint = random_joints.draw(rng)
        if len(joint.ears) != wanted.get("ears", len(joint.ears)):
            continue
        if wanted.get("unequal") and joint.ears[0] == joint.ears[1]:
            continue
        if joint.pin.rigid == wanted.get("rigid", joint.pin.rigid):
            return joint


def turns_freely(answer: Answer) -> bool:
    """Whether the pull ended before the pin, turning in its clearance, came to bear."""
    return bool(np.abs(answer.trace.load).max() < 1e-3 * answer.joint.pin.diameter**2)


def scaled(joint: Joint, lengths: float = 1.0, stresses: float = 1.0) -> Joint:
    """Return a joint with every length and every stress multiplied."""
    factors = dict.fromkeys(LENGTHS, lengths) | dict.fromkeys(STRESSES, stresses)
    factors |= dict.fromkeys(FORCES, stresses * lengths**2)

    def walk(value: Any, factor: float) -> Any:
        if isinstance(value, dict):
            return {key: walk(inner, factors.get(key, 1.0)) for key, inner in value.items()}
        if isinstance(value, list):
            return [walk(inner, factor) for inner in value]
        return value * factor if isinstance(value, float) else value

    return fejoint.load(walk(joint.to_dict(), 1.0))


def differences(one: Answer, other: Answer, lengths: float = 1.0, loads: float = 1.0) -> float:
    """Return how far two answers are apart that should be a factor apart, over the largest load.

    In loads of the curve and of limits, and in extensions. Rounding may decide the length of
    a step; curves of unequal steps are compared at equal extension.
    """
    a, b = one.trace, other.trace
    top, far = float(a.load.max()), float(a.extension.max())
    if len(a.load) == len(b.load):
        apart = [
            float(np.abs(b.load / loads - a.load).max()) / top,
            float(np.abs(b.extension / lengths - a.extension).max()) / far,
        ]
    else:
        at = np.linspace(0.0, min(far, float(b.extension.max()) / lengths), 50)
        reads = [
            PchipInterpolator(*load_curve.rising(load, extension)[::-1])(at)
            for load, extension in ((a.load, a.extension), (b.load / loads, b.extension / lengths))
        ]
        apart = [float(np.abs(reads[1] - reads[0]).max()) / top]
    for p, q in zip(one.verdict.order, other.verdict.order, strict=True):
        assert p.first.mode == q.first.mode
        apart.append(abs(q.first.load / loads - p.first.load) / top)
    return max(apart)


def event_differences(one: Answer, other: Answer, loads: float = 1.0) -> float:
    """Return how far the events' loads are apart, over the largest load; both have the same."""
    apart, top = [0.0], float(one.trace.load.max())
    for x, y in zip(one.events, other.events, strict=True):
        assert (x.load is None) == (y.load is None), x.name
        if x.load is not None and y.load is not None:
            apart.append(abs(y.load / loads - x.load) / top)
    return max(apart)


def allowed(one: Answer, other: Answer) -> float:
    """Return how far apart two answers may be that should be equal but for rounding."""
    return SAME_STEPS if len(one.trace.load) == len(other.trace.load) else OTHER_STEPS


def digits(answer: Answer) -> dict[str, Any]:
    """Return an answer as its file holds it, but for the seconds it took."""
    table = json.loads(answer.to_json())
    for key in ("solve_cpu_s", "floor_cpu_s", "phases_cpu_s"):
        del table["cost"][key]
    del table["digest"]
    return table


@pytest.mark.sampled
def test_thicker_ear_carries_proportionally_more(few, tally):
    worst = 0.0
    for k in range(few):
        rng = np.random.default_rng([SEED, 1, k])
        case = drawn_face(rng)
        factor = float(rng.uniform(1.1, 5.0))
        thin, thick = (pulled(c) for c in (case, replace(case, thickness=factor * case.thickness)))
        assert len(thick.load) == len(thin.load)
        apart = np.abs(thick.load / factor - thin.load).max() / thin.load.max()
        worst = max(worst, float(apart))
        assert apart < 1e-6, k
    tally(f"{few} face sections: load proportional to thickness within {worst:.0e}")


@pytest.mark.sampled
def test_larger_edge_distance_never_lowers_the_load_at_equal_elongation(few, tally):
    ratios = []
    for k in range(few):
        rng = np.random.default_rng([SEED, 2, k])
        case = drawn_face(rng)
        o = case.outline
        far = o.edge_distance * float(rng.uniform(1.05, 1.6))
        grip = 2.5 * max(o.width, far)
        short = replace(case, outline=replace(o, grip_length=grip))
        long = replace(case, outline=replace(o, grip_length=grip, edge_distance=far))
        low, high = (pulled(c, sides=36, step=0.002) for c in (short, long))
        ratios.append(least_ratio(low, high, "elongation"))
        assert ratios[-1] > 1.0 - NEVER_LOWER, k
    tally(f"{few} face sections: a larger edge distance gives at least {min(ratios):.4f} times")


@pytest.mark.sampled
def test_higher_yield_curve_never_lowers_the_load_at_equal_travel(few, tally):
    ratios = []
    for k in range(few):
        rng = np.random.default_rng([SEED, 3, k])
        case = drawn_face(rng)
        law = case.metal.hardening
        strain = law.strain[::4]
        stress = law(strain)[0]
        begin = rng.choice([0.0, 0.1]) * stress[0]
        rise = np.cumsum(rng.uniform(0.0, 1.0, len(strain) - 1))
        lift = begin + np.concatenate([[0.0], rise * rng.uniform(0.0, 0.3) * stress[0] / rise[-1]])
        low, high = (
            replace(case, metal=replace(case.metal, hardening=Hardening.table(strain, s)))
            for s in (stress, stress + lift)
        )
        ratios.append(least_ratio(pulled(low), pulled(high), "travel"))
        assert ratios[-1] > 1.0 - NEVER_LOWER, k
    tally(f"{few} face sections: a higher yield curve gives at least {min(ratios):.4f} times")


@pytest.mark.sampled
def test_joint_of_scaled_lengths_and_stresses_answers_in_scale(few, tally):
    worst, count = 0.0, 0
    rng = np.random.default_rng([SEED, 4])
    while count < few:
        joint = drawn_joint(rng, rigid=False)  # a rigid pin's stand-in modulus does not scale
        if len(joint.ears) == 1 and joint.pin.ends != "held":
            continue  # the pin turns first, held by nothing: rounding chooses how
        # the shank's pull ends on a row of loads: whole rows keep its place on it
        loads = STOP_RATIO ** int(rng.integers(-4, 5))
        # doubling and halving leave every digit to gmsh, which then draws the same mesh
        lengths = float(2.0 ** rng.choice([-2, -1, 1, 2]))
        stresses = loads / lengths**2
        try:
            other = scaled(joint, lengths, stresses)
        except BadInput:  # scaled out of what is allowed
            continue
        one, two = (fejoint.pull(j, refine=COARSE) for j in (joint, other))
        if turns_freely(one):
            continue
        apart = max(differences(one, two, lengths, loads), event_differences(one, two, loads))
        worst, count = max(worst, apart), count + 1
        assert apart < allowed(one, two), joint.to_toml()
    tally(f"{count} joints of scaled lengths and stresses answer in scale within {worst:.0e}")


@pytest.mark.parametrize("lengths", [0.7, 13.0])
def test_demo_of_any_size_has_its_offset_load_in_scale_within_the_meshs_tolerance(lengths):
    joint = short_pull(pull__stop_displacement=0.3)
    one, other = (fejoint.pull(j, refine=COARSE) for j in (joint, scaled(joint, lengths)))
    sizes = [len(a.faces["ear"].problem.mesh.points) for a in (one, other)]
    assert sizes[1] == pytest.approx(sizes[0], rel=0.02)
    expected = lengths**2 * one.event("offset load").load
    assert other.event("offset load").load == pytest.approx(expected, rel=4e-3)


@pytest.mark.sampled
def test_other_side_of_a_joint_answers_as_its_mirror_image(few, tally):
    worst, count = 0.0, 0
    rng = np.random.default_rng([SEED, 10])
    while count < few // 2:
        joint = drawn_joint(rng, ears=2, unequal=True)
        # held in the first ear, or walked in steps of the first hole: not the same from behind
        if joint.pin.ends == "held" or joint.pull.legs:
            continue
        turned = replace(joint, ears=joint.ears[::-1], gaps=joint.gaps[::-1])
        one, two = (fejoint.pull(j, refine=COARSE) for j in (joint, turned))
        if turns_freely(one):
            continue
        apart = differences(one, two)
        if len(one.trace.load) == len(two.trace.load):
            shares = one.axial.shares - two.axial.shares[:, ::-1]
            apart = max(apart, float(np.abs(shares).max() / one.trace.load.max()))
        worst, count = max(worst, apart), count + 1
        assert apart < max(allowed(one, two), MIRRORED), joint.to_toml()
    tally(f"{count} joints of unequal ears mirrored within {worst:.0e}")


def test_first_yield_of_the_ears_is_the_same_from_the_other_side():
    joint = short_pull(ear__2__thickness=1.0, pull__stop_displacement=0.06)
    turned = replace(joint, ears=joint.ears[::-1], gaps=joint.gaps[::-1])
    one, two = (fejoint.pull(j, refine=COARSE) for j in (joint, turned))
    assert one.event("offset load").load is None
    assert event_differences(one, two) < SAME_STEPS


def short_pull(**changes: Any) -> Joint:
    """Return the demo joint pulled past its first yield, with some values changed."""
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", 0.2)
    for path, value in changes.items():
        joint = joint.replace(path.replace("__", "."), value)
    return joint


def test_plates_all_thicker_on_a_rigid_pin_carry_proportionally_more():
    # the pin's stand-in still bends a little (2 % of the first stiffness at 1.5 times the grip)
    rigid = short_pull(pin__rigid=True, pull__ductility=False, pull__stop_displacement=0.3)
    thick = rigid
    for path, value in (("ear.thickness", 3.0), ("shank.thickness", 9.0), ("fit.gap", 0.15)):
        thick = thick.replace(path, value)
    thin, more = (fejoint.pull(j, refine=COARSE).event("offset load").load for j in (rigid, thick))
    assert more == pytest.approx(1.5 * thin, rel=3e-3)


def test_thicker_ears_on_a_rigid_pin_never_lower_the_load():
    rigid = short_pull(pin__rigid=True, pull__ductility=False)
    answers = [fejoint.pull(rigid.replace("ear.thickness", t), refine=COARSE) for t in (2.0, 2.2)]
    at = np.linspace(0.02, 0.2, 30)
    thin, thick = (np.interp(at, a.trace.extension, a.trace.load) for a in answers)
    assert np.all(thick > thin)


def test_vanishing_friction_is_no_friction():
    none, little, less = (
        fejoint.pull(short_pull(fit__friction=x), refine=COARSE) for x in (0.0, 2e-3, 2e-5)
    )
    assert max(differences(none, little), event_differences(none, little)) < 5e-3
    assert differences(none, less) < 0.1 * differences(none, little) + 1e-5


def test_nothing_is_carried_from_one_pull_to_the_next():
    first = short_pull()
    second = short_pull(pin__hardness="300 HV", fit__friction=0.3, ear__hole_offset=0.5)
    alone = digits(fejoint.pull(first, refine=COARSE))
    between = digits(fejoint.pull(second, refine=COARSE))
    assert digits(fejoint.pull(first, refine=COARSE)) == alone
    assert digits(fejoint.pull(second, refine=COARSE)) == between


def test_plates_shared_with_a_joint_that_pulls_them_further_change_no_digit():
    hard = short_pull(pull__stop_displacement=0.8)
    light = hard.replace("shank.thickness", 1.0)  # so thin that it gives before the same ears do
    alone = [digits(fejoint.pull(joint, refine=COARSE)) for joint in (light, hard)]
    shared: dict[Any, Any] = {}
    in_turn = [fejoint.pull(j, refine=COARSE, shared=shared) for j in (light, hard, light)]
    assert len(shared) == 3  # one ear for both
    assert len(in_turn[1].faces["ear"].load) > len(in_turn[0].faces["ear"].load)
    told = [digits(answer) for answer in in_turn]
    for one, other in zip(told, (alone[0], alone[1], alone[0]), strict=True):
        for part in ("verdict", "events", "curve", "pin"):
            assert one[part] == other[part]


def test_another_process_gives_the_same_digits():
    joint = short_pull()
    ask = (
        "import sys, json, fejoint; sys.path[:0] = sys.argv[1:]; import test_metamorphic as m;"
        "joint = fejoint.load(json.loads(sys.stdin.read()));"
        "print(json.dumps(m.digits(fejoint.pull(joint, refine=m.COARSE))))"
    )
    told = subprocess.run(
        [sys.executable, "-c", ask, str(Path(__file__).parent), str(ROOT / "tests")],
        input=json.dumps(joint.to_dict()),
        env=os.environ | {"PYTHONHASHSEED": "12345"},
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    here = fejoint.pull(fejoint.load(joint.to_dict()), refine=COARSE)
    assert json.loads(told) == digits(here)
