"""Anything given where a value belongs ends in a joint (or a number), or in readable faults."""

from __future__ import annotations

import copy
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.anything import QUANTITIES, SCALARS, VALUES, is_readable
from support.malformed_cases import GOOD

import fejoint
from fejoint.errors import BadInput
from fejoint.inputs import units
from fejoint.joint import model, schema
from fejoint.joint.model import Joint
from fejoint.kernel.linear import BACKENDS
from fejoint.materials import hardness, library
from fejoint.studies.sweeps import variation
from fejoint.studies.sweeps.plan import Plan

pytestmark = pytest.mark.sampled

TABLES = {**{name: list(keys) for name, keys in schema.PARTS.items()}, "": list(schema.TOP)}
PATHS = st.one_of(
    st.sampled_from([f"{part}.{key}".strip(".") for part in TABLES for key in TABLES[part]]),
    st.sampled_from(["ear.1.hole", "ear.3.hole", "ear.²", "material.my bar.yield", "", ".", "ear"]),
    st.text(max_size=8),
    SCALARS,
)


def given_or_refused(call, *arguments, **named):
    """Return what a call gives, or None where it refuses readably."""
    try:
        return call(*arguments, **named)
    except BadInput as refused:
        bad = refused
    assert is_readable(bad), str(bad)
    return None


@st.composite
def cases(draw):
    """The good case with a few values replaced, added or taken away."""
    table = tomllib.loads(GOOD)
    for _ in range(draw(st.integers(1, 3))):
        part = draw(st.sampled_from([*TABLES, "material", "scatter"]))
        home = table if part == "" else table.setdefault(part, {})
        if part == "material":
            home = home.get("my bar")
        if not isinstance(home, dict):
            continue
        known = [*library.FIELDS] if part == "material" else TABLES.get(part, ["ear.hole"])
        key = draw(st.one_of(st.sampled_from(known), st.text(max_size=6)))
        if draw(st.integers(0, 5)):
            home[key] = draw(st.one_of(SCALARS, VALUES))
        else:
            home.pop(key, None)
    if not draw(st.integers(0, 4)):
        table[draw(st.sampled_from([*schema.PARTS, "material", "scatter"]))] = draw(VALUES)
    return table


@given(cases())
def test_a_case_is_a_joint_that_survives_its_texts_or_is_refused(case):
    joint = given_or_refused(fejoint.load, case)
    if joint is not None:
        assert Joint.from_dict(joint.to_dict()) == joint
        assert model.read(tomllib.loads(joint.to_toml())) == joint


@given(st.lists(st.tuples(st.integers(0, len(GOOD)), st.text(max_size=4)), max_size=3))
def test_a_text_with_slips_is_a_joint_or_is_refused(tmp_path_factory, slips):
    text = GOOD
    for place, slip in slips:
        text = text[:place] + slip + text[place + len(slip) // 2 :]
    path = tmp_path_factory.getbasetemp() / "slips.toml"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    given_or_refused(fejoint.load, path)


@given(PATHS, VALUES)
def test_replace_gives_a_joint_or_refuses_and_leaves_the_old_one(path, value):
    joint = model.read(tomllib.loads(GOOD))
    before = copy.deepcopy(joint.to_dict())
    given_or_refused(joint.replace, path, value)
    assert joint.to_dict() == before


@given(st.sampled_from(list(units.UNIT)), st.one_of(QUANTITIES, VALUES))
def test_a_quantity_is_finite_or_refused(kind, value):
    try:
        assert abs(units.read(value, kind)) < float("inf")
    except units.Misread as refused:
        misread = refused
    else:
        return
    assert misread.allowed
    assert misread.mend


@given(st.one_of(QUANTITIES, VALUES))
def test_a_hardness_is_a_strength_or_refused(value):
    found = given_or_refused(hardness.to_strength, value)
    if found is not None:
        assert 0.0 < found.low <= found.rm <= found.high


@given(st.one_of(VALUES, st.text(max_size=30)))
def test_a_metal_s_name_or_table_is_known_or_refused(value):
    given_or_refused(library.find, value)
    given_or_refused(library.custom, value)


@given(
    st.one_of(st.sampled_from(["ear.hole", "pin.hardness", "fit.friction", "ear.end"]), st.text()),
    st.one_of(
        st.lists(QUANTITIES, max_size=3).map(",".join),
        st.from_regex(r"[-0-9.e]{1,5}(:[-0-9.e]{1,5}){0,3} ?(mm|HV|N)?", fullmatch=True),
        st.text(max_size=12),
    ),
)
def test_a_variation_is_a_plan_or_refused(path, values):
    varied = given_or_refused(variation.parse, f"{path}={values}")
    if varied is not None:
        plan = given_or_refused(Plan, model.read(tomllib.loads(GOOD)), (varied,))
        if plan is not None:
            assert plan.row(len(plan) - 1).number == len(plan) - 1


BAD_SETTINGS = st.sampled_from([float("nan"), float("inf"), -float("inf"), 0.0, -1.0, 1e300])


@given(st.sampled_from(["refine", "pace"]), BAD_SETTINGS)
def test_settings_that_no_solve_could_have_are_refused_before_it(name, value):
    joint = model.read(tomllib.loads(GOOD))
    with pytest.raises(BadInput) as caught:
        fejoint.pull(joint, **{name: value})
    assert is_readable(caught.value)


@given(st.one_of(st.text(max_size=9).filter(lambda x: x not in BACKENDS), st.integers(), st.none()))
def test_a_solver_that_is_none_is_refused_before_the_solve(value):
    joint = model.read(tomllib.loads(GOOD))
    with pytest.raises(BadInput) as caught:
        fejoint.pull(joint, solver=value)
    assert is_readable(caught.value)
