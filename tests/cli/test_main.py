"""The command line's contract: exit codes, one line a fault, JSON, no traceback."""

from __future__ import annotations

import dataclasses
import json
import os
import subprocess
import sys

import pytest
from support import DEMO
from support.malformed_cases import MALFORMED

from fejoint.cli import failures
from fejoint.cli import main as cli
from fejoint.cli.main import app, main
from fejoint.joint.model import load
from fejoint.system import system_libraries


@pytest.fixture
def run(capsys):
    def run(*words: str) -> tuple[int, str, str]:
        code = main(words)
        out, err = capsys.readouterr()
        assert "Traceback" not in out + err
        return code, out, err

    return run


def test_new_writes_a_case_that_loads(run, tmp_path):
    path = tmp_path / "deeper" / "mine.toml"
    code, out, _ = run("new", str(path))
    assert code == 0
    assert str(path) in out
    assert load(path).title == "My joint"


def test_new_overwrites_only_when_told(run, tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("keep")
    code, _, err = run("new", str(path))
    assert code == 2
    assert "--overwrite" in err
    assert path.read_text() == "keep"
    assert run("new", str(path), "--overwrite")[0] == 0
    assert load(path)


def test_new_where_nothing_can_be_written_is_bad_input(run, tmp_path):
    (tmp_path / "file").write_text("")
    code, _, err = run("new", str(tmp_path / "file" / "mine.toml"))
    assert code == 2
    assert len(err.splitlines()) == 1


def test_materials_are_listed_one_a_line(run):
    code, out, _ = run("materials")
    assert code == 0
    assert "316 strip, annealed" in out
    assert not any(line.endswith(" ") for line in out.splitlines())


def test_one_material_is_shown_with_its_source(run):
    code, out, _ = run("materials", "316 strip, annealed")
    assert code == 0
    for word in ("290 MPa", "620 MPa", "from memory", "swift"):
        assert word in out


def test_wire_is_shown_by_diameter_or_at_one(run):
    assert "Rm 1350 MPa" in run("materials", "1.4310 spring wire, straightened")[1]
    name = "1.4310 spring wire, as drawn"
    code, out, _ = run("materials", name, "--diameter", "4 mm", "--json")
    assert code == 0
    assert json.loads(out)["rm"] == 1500.0


def test_materials_as_json_hold_every_number(run):
    listed = json.loads(run("materials", "--json")[1])
    assert len(listed) >= 15
    assert all({"name", "modulus", "fracture_strain", "source"} <= set(each) for each in listed)
    one = json.loads(run("materials", "S235 steel", "--json")[1])
    assert one["rm"] == 410.0


def test_hardness_is_shown_on_every_scale_with_band_and_source(run):
    code, out, _ = run("hardness", "48 HRC")
    assert code == 0
    for word in ("HV", "HB", "1571 MPa", "1445 to 1697", "ISO 18265", "scatter", "austenitic"):
        assert word in out
    assert run("hardness", "48", "HRC")[1] == out


def test_hardness_as_json(run):
    answer = json.loads(run("hardness", "500 HV", "--json")[1])
    assert answer["rm_MPa"] == 1630
    assert answer["rm_low_MPa"] < 1630 < answer["rm_high_MPa"]


@pytest.mark.parametrize(
    "words",
    [
        ("hardness",),
        ("hardness", "48"),
        ("hardness", "80 HRC"),
        ("hardness", "383 HV", "--of", "301 strip, full hard"),
        ("hardness", "383 HV", "--of", "unobtainium"),
        ("materials", "unobtainium"),
        ("materials", "1.4310 spring wire, as drawn", "--diameter", "4 kg"),
        ("materials", "1.4310 spring wire, as drawn", "--diameter", "40 mm"),
        ("materials", "--nonsense"),
        ("nonsense",),
        ("new",),
    ],
)
def test_bad_input_is_exit_2_one_line_and_nothing_on_standard_output(run, words):
    code, out, err = run(*words)
    assert code == 2
    assert out == ""
    assert len(err.splitlines()) == 1


@pytest.mark.skipif("pull" not in app, reason="this checkout has no pull command")
@pytest.mark.parametrize("what", MALFORMED)
def test_pull_of_a_malformed_case_is_exit_2_and_names_the_field(run, tmp_path, what):
    content, field = MALFORMED[what]
    path = tmp_path / "case.toml"
    path.write_bytes(content)
    code, out, err = run("pull", str(path), "--out", str(tmp_path / "out"))
    assert code == 2
    assert field in err
    assert out == ""
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("refine", ["1000", "0", "nan", "inf", "-1"])
@pytest.mark.parametrize(
    "words",
    [
        ("pull",),
        ("directions",),
        ("used", "--hole", "0.1 mm"),
        ("blow",),
        ("pin-range",),
        ("sweep",),
        ("advise", "--target", "900 kgf"),
        ("scatter",),
    ],
    ids=lambda words: words[0],
)
def test_a_refinement_out_of_range_is_told_before_anything_is_solved(run, words, refine):
    case = DEMO
    code, out, err = run(words[0], str(case), *words[1:], f"--refine={refine}")
    assert (code, out) == (2, "")
    assert err.splitlines() == [f"--refine = {refine}: must be 0.25 to 8; 1 is for every day"]


def test_help_and_version(run):
    assert run("--help")[0] == 0
    assert run("--version")[0] == 0
    assert "materials" in run()[1]


def test_a_reader_that_leaves_is_no_error():
    code = "from fejoint.cli.main import main; raise SystemExit(main(['materials', '--json']))"
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 0


def test_a_plain_pull_loads_nothing_that_it_does_not_need(tmp_path):
    case = DEMO
    words = ["pull", str(case), "--json", "--no-pictures", f"--out={tmp_path}", "--refine=0.35"]
    # scipy.sparse is the kernel's, scipy.linalg numba's, meshio writes the fields
    heavy = {
        *("scipy.fft", "scipy.integrate", "scipy.interpolate", "scipy.ndimage", "scipy.optimize"),
        *("scipy.spatial", "scipy.special", "scipy.stats", "dask", "distributed", "jinja2"),
        *("matplotlib", "pandas", "PIL", "pint", "pyarrow", "pyvista"),
        *("starlette", "tomlkit", "uvicorn", "vtk"),
    }
    code = (
        f"import sys; from fejoint.cli.main import main; assert main({words!r}) == 0;"
        f"sys.exit(', '.join(sorted({heavy!r} & set(sys.modules))) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "fields.vtu").exists()


def test_the_collector_works_again_in_the_pull_itself(run, monkeypatch, tmp_path):
    import gc

    from fejoint.analysis import pull

    class Reached(Exception):
        pass

    def reached(*_, **__):
        assert gc.isenabled()
        raise Reached

    monkeypatch.setattr(pull, "pull", reached)
    case = DEMO
    with pytest.raises(Reached):
        run("pull", str(case), "--json", f"--out={tmp_path}")
    assert gc.isenabled()


def test_light_commands_load_nothing_heavy():
    code = (
        "import sys; from fejoint.cli.main import main; main(['hardness', '48 HRC']);"
        "heavy = {'gmsh', 'pyvista', 'vtk', 'matplotlib', 'pandas', 'skfem', 'pint', 'meshio'};"
        "sys.exit(', '.join(heavy & set(sys.modules)) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=False)
    assert done.returncode == 0, done.stderr


def test_new_tells_the_file_as_json(run, tmp_path):
    path = tmp_path / "mine.toml"
    code, out, _ = run("new", str(path), "--json")
    assert code == 0
    assert json.loads(out) == {"case_file": str(path)}
    assert load(path)


def test_a_wire_without_diameter_is_all_its_diameters_in_json(run):
    name = "1.4310 spring wire, as drawn"
    found = json.loads(run("materials", name, "--json")[1])
    assert found["name"] == name
    assert found["rm_by_diameter"]


def test_a_metal_of_known_hardness_shows_it(run):
    assert "484 HV" in run("materials", "tool steel, 48 HRC")[1]
    assert " HV" not in run("materials", "S235 steel")[1]


def test_where_too_little_memory_is_left_to_look_the_reason_alone_is_told(monkeypatch):
    def none():
        raise MemoryError

    monkeypatch.setattr(system_libraries, "missing_libraries", none)
    line, code = failures.told(ImportError("libX: cannot\nopen"))
    assert line == "libX: cannot open; `fejoint doctor` tells what mends it"
    assert code == 3


def test_output_that_nobody_can_take_is_dropped_without_a_second_complaint(monkeypatch, tmp_path):
    taken = os.open(tmp_path / "taken", os.O_CREAT | os.O_WRONLY)

    class Full:
        def flush(self):
            raise OSError(28, "No space left on device")

        def fileno(self):
            return taken

    monkeypatch.setattr(cli.sys, "stdout", Full())
    try:
        cli._drop_output()
        os.write(taken, b"goes nowhere")
        assert os.path.samestat(os.fstat(taken), os.stat(os.devnull))
    finally:
        os.close(taken)
    assert (tmp_path / "taken").read_bytes() == b""


def test_a_pull_that_stopped_early_is_shown_and_ends_with_its_own_code(run, monkeypatch, tmp_path):
    from support.pulled import quick_answer

    from fejoint.analysis import pull
    from fejoint.kernel.stop_reason import Stop, StopReason

    answer, crept = quick_answer(), Stop(StopReason.TOO_MANY_STEPS, "crept to 3 mm")
    trust = dataclasses.replace(answer.trust, stopped_because=crept)
    stopped = dataclasses.replace(answer, trust=trust)
    monkeypatch.setattr(pull, "pull", lambda *_, **__: stopped)
    code, out, err = run("pull", str(DEMO), "--no-pictures", "--out", str(tmp_path))
    assert code == 3
    assert "stopped early: crept to 3 mm" in err
    assert answer.verdict.sentence.split(" first")[0] in " ".join(out.split())


def test_a_pull_tells_how_sure_it_is_unless_told_not_to(run, tmp_path):
    words = ["pull", str(DEMO), "--no-pictures", f"--out={tmp_path}", "--refine=0.35"]
    code, sure, _ = run(*words)
    assert code == 0
    assert "At a pull of 8,200 N (840 kgf)" in sure
    assert "In more than 99 of 100 such joints both ears give first." in " ".join(sure.split())
    assert "What matters most: the metal from lot to lot" in sure
    assert "both ears: offset load (2 % of the hole): 8,200 N (840 kgf)" in sure
    code, plain, _ = run(*words, "--no-band")
    assert code == 0
    assert "such joints" not in plain
    assert "At a pull of 8,220 N (839 kgf)" in plain
