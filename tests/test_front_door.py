"""The package as Python users meet it: its names, their help, what it takes and what it refuses."""

from __future__ import annotations

import doctest
import inspect
import itertools
import pydoc
import re
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest
from support import DEMO, ROOT

import fejoint
from fejoint.errors import BadInput

NAMES = [name for name in fejoint.__all__ if not name.startswith("_")]
FUNCTIONS = [name for name in NAMES if inspect.isfunction(getattr(fejoint, name))]
CLASSES = [name for name in NAMES if inspect.isclass(getattr(fejoint, name))]
NOT_SOLVED = ("pull", "directions", "side_blow", "used", "sweep", "sensitivities", "advise",
              "scatter", "pin_range", "plan", "match")  # fmt: skip
"""Studies whose first argument is a joint and that refuse before anything is solved."""


def test_dir_lists_every_public_name_before_any_is_imported():
    code = (
        "import sys, fejoint; names = dir(fejoint);"
        "assert set(fejoint.__all__) <= set(names), names;"
        "assert not [m for m in sys.modules if m.startswith('fejoint.')];"
        "assert 'numpy' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True)


def test_every_public_name_is_there_and_its_home_is_told_once():
    assert sorted(fejoint._HOMES) == sorted(NAMES)
    for name, home in fejoint._HOMES.items():
        assert getattr(fejoint, name) is getattr(import_module(f"fejoint.{home}"), name)
    with pytest.raises(AttributeError, match="has no attribute 'push'"):
        fejoint.push  # noqa: B018


def test_the_version_is_that_of_the_project():
    written = re.search(r'^version = "(.+)"', (ROOT / "pyproject.toml").read_text(), re.MULTILINE)
    assert fejoint.__version__ == written[1]


def test_help_shows_every_public_name_with_its_first_line():
    text = pydoc.plaintext.document(fejoint)
    for name in NAMES:
        said = inspect.getdoc(getattr(fejoint, name)).splitlines()[0]
        assert name in text
        assert said in text, name


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_function_s_help_has_its_parameters_returns_raises_and_an_example(name):
    function = getattr(fejoint, name)
    text = inspect.getdoc(function)
    for heading in ("Parameters", "Returns", "Raises", "Examples"):
        assert re.search(rf"^{heading}\n-+$", text, re.MULTILINE), heading
    told = sections(text)
    documented = {
        each.strip(" *") for line in told["Parameters"] for each in line.split(" : ")[0].split(",")
    }
    assert documented == set(inspect.signature(function).parameters)


@pytest.mark.parametrize("name", CLASSES)
def test_a_class_s_help_names_every_attribute(name):
    kind = getattr(fejoint, name)
    text = inspect.getdoc(kind)
    assert text.splitlines()[0].endswith(".")
    if hasattr(kind, "__dataclass_fields__"):
        told = " ".join(sections(text).get("Attributes", [text]))
        for field in kind.__dataclass_fields__:
            assert re.search(rf"\b{field}\b", told), field


def sections(text: str) -> dict[str, list[str]]:
    """Return the unindented lines of every section of a docstring."""
    found: dict[str, list[str]] = {}
    lines = text.splitlines()
    for above, line in itertools.pairwise(lines):
        if re.fullmatch("-+", line):
            current = found[above] = []
        elif found and not line.startswith(" ") and line and line + "\n" + "-" not in text:
            current.append(line)
    return {k: [x for x in v if x not in found] for k, v in found.items()}


@pytest.mark.parametrize("home", ["joint.parts", "joint.model", "materials.library"])
def test_the_examples_in_the_docstrings_of_parts_run(home, monkeypatch):
    monkeypatch.chdir(ROOT)
    done = doctest.testmod(import_module(f"fejoint.{home}"))
    assert done.attempted > 0
    assert done.failed == 0


def test_a_path_a_text_a_dict_and_a_joint_are_one():
    joint = fejoint.load(DEMO)
    tables = {**joint.case}
    assert fejoint.load(str(DEMO)) == fejoint.load(tables) == fejoint.load(joint) == joint
    assert fejoint.load(joint) is joint


def parts(**changes):
    known = {
        "ears": fejoint.Ear("2 mm", 14, "4.1 mm", 7, 25, "316 strip, annealed"),
        "pin": fejoint.Pin(np.float32(4.0), "48 HRC"),
        "shank": fejoint.Shank("6 mm", "4.1 mm", 12, 6, 20, "A4-70 bolt shank"),
        "fit": fejoint.Fit(["0.1 mm", 0.1], friction="15 %"),
    }
    return fejoint.Joint.of(**(known | changes))


def test_a_joint_built_of_its_parts_is_that_of_the_case():
    case = {
        "ear": {"thickness": 2, "width": 14, "hole": 4.1, "edge_distance": 7, "grip_length": 25,
                "material": "316 strip, annealed"},
        "pin": {"diameter": 4, "hardness": "48 HRC"},
        "shank": {"thickness": 6, "hole": 4.1, "width": 12, "edge_distance": 6, "length": 20,
                  "material": "A4-70 bolt shank"},
        "fit": {"gap": 0.1, "friction": 0.15},
    }  # fmt: skip
    assert parts() == fejoint.load(case)
    one = parts(ears=[parts().ears[0]], fit=fejoint.Fit(0.1, 0.15))
    assert len(one.ears) == len(one.gaps) == 1


def test_a_metal_is_a_name_a_hardness_tensile_values_or_a_table():
    tensile = {"modulus": "193 GPa", "rp02": 290, "rm": "620 MPa", "uniform_strain": "45 %"}
    lot = fejoint.metal(tensile, "lot 7")
    assert (lot.name, lot.rp02, round(lot.rm)) == ("lot 7", 290.0, 620)
    drawn = {"modulus": 193000, "strain": [0, 0.1, 0.4], "stress": [290, 500, 800], "law": "table"}
    assert fejoint.metal(drawn).hardening(0.1)[0] == pytest.approx(500.0, rel=1e-3)
    assert fejoint.metal("48 HRC").hardness_hv == pytest.approx(484.0, abs=1.0)
    assert fejoint.metal(lot) is lot
    assert fejoint.Pin(4, tensile).material.rp02 == 290.0


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: fejoint.pull(42), "case = 42: must be a joint, the path of a case file"),
        (lambda: fejoint.pull("no/such.toml"), "no/such.toml: "),
        (lambda: fejoint.pull(DEMO, refine="fine"), "refine = 'fine': must be above 0"),
        (lambda: fejoint.pull(DEMO, solver="magic"), "solver = magic: must be one of fastest"),
        (lambda: fejoint.advise(DEMO, "950 kg"), "target = 950 kg: must be a force, not a mass"),
        (lambda: fejoint.advise(DEMO, None), "target = None: must be a force"),
        (lambda: fejoint.sweep(DEMO, 3), "vary = 3: must say what varies"),
        (lambda: fejoint.sweep(DEMO, {"ear.hole": 4.0}), "ear.hole = 4.0: must be a list of"),
        (lambda: fejoint.directions(DEMO, "sideways"), "angles = 'sideways': must be a list of"),
        (lambda: fejoint.side_blow(DEMO, angle="1 kN"), "angle = 1 kN: must be an angle"),
        (lambda: fejoint.used(DEMO, hole="0.1 N"), "hole = 0.1 N: must be a length, not a force"),
        (lambda: fejoint.pin_range(DEMO, hardest="70 HRC"), "hardest = 70 HRC: must lie from"),
        (lambda: fejoint.load(DEMO).replace("pin.hardness", "hard"), "pin.hardness = hard: "),
        (lambda: fejoint.metal(48), "material = 48: must be a metal's name, a hardness"),
        (lambda: fejoint.metal("316 stripe"), "is not a known material; did you mean"),
        (lambda: fejoint.Ear(None, 14, 4.1, 7, 25, "48 HRC"), "ear.thickness = None: must be a l"),
        (lambda: fejoint.Pin("4 N", "48 HRC"), "pin.diameter = 4 N: must be a length, not a"),
        (lambda: parts(pin={"diameter": 4}), "pin = {'diameter': 4}: must be made by fejoint.Pin"),
        (lambda: parts(fit=0.1), "fit = 0.1: must be made by fejoint.Fit"),
        (lambda: parts(ears="ear"), "ear = 'e': must be made by fejoint.Ear"),
        (lambda: fejoint.plan(DEMO, refine=0), "refine = 0: must be above 0"),
        (lambda: fejoint.report([], "it.html"), "answers: must be at least one"),
        (lambda: fejoint.report([{}], "it.docx"), "report = it.docx: must end in .html or .pdf"),
        (lambda: fejoint.Leg("load", "2 mm"), "pull.leg.load = 2 mm: must be a force, not a"),
    ],
)
def test_a_wrong_call_says_what_is_allowed_and_how_to_mend_it(call, said):
    with pytest.raises(BadInput) as error:
        call()
    assert said in str(error.value)
    assert "; " in str(error.value)


@pytest.mark.parametrize("name", NOT_SOLVED)
def test_every_study_takes_a_path_and_a_dict(name, tmp_path):
    more = {"sweep": [["ear.hole=4:5:2 mm"]], "advise": ["9 kN"], "match": [["log.csv"]]}.get(
        name, []
    )
    for case in (Path("gone.toml"), {"ear": {}}):
        with pytest.raises(BadInput, match=r"gone\.toml|is missing"):
            getattr(fejoint, name)(case, *more)


@pytest.mark.stress
@pytest.mark.parametrize(
    "home", sorted({home for name, home in fejoint._HOMES.items() if name in FUNCTIONS})
)
def test_the_examples_in_the_docstrings_of_studies_run(home, monkeypatch):
    monkeypatch.chdir(ROOT)
    assert doctest.testmod(import_module(f"fejoint.{home}")).failed == 0
