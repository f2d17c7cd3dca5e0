"""The wheel holds all that the package needs, and the lock holds all that it stands on."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
import venv
import zipfile
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from support import ROOT

from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.system import resources

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
LOCK = ROOT / "scripts/constraints.txt"
BUILD = "import sys; from hatchling.build import build_wheel; build_wheel(sys.argv[1])"


def in_git(*folders: str) -> list[str]:
    """Names of the files of some folders under version control; skips where there is none."""
    listing = subprocess.run(
        ["git", "-C", str(ROOT), "ls-files", *folders], capture_output=True, text=True, check=False
    )
    if listing.returncode != 0 or not listing.stdout:
        pytest.skip("not a git checkout")
    return [name for name in listing.stdout.splitlines() if (ROOT / name).exists()]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    pytest.importorskip("hatchling")
    folder = tmp_path_factory.mktemp("wheel")
    subprocess.run([sys.executable, "-c", BUILD, str(folder)], cwd=ROOT, check=True)
    (path,) = folder.glob("*.whl")
    return path


def test_the_wheel_holds_the_package_and_its_cases(wheel):
    held = set(zipfile.ZipFile(wheel).namelist())
    wanted = set(in_git("fejoint"))
    wanted |= {f"fejoint/{name}" for name in in_git("cases/demo", "cases/reference")}
    assert wanted - held == set()


def test_the_wheel_holds_nothing_that_git_does_not(wheel):
    held = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    known = set(in_git("fejoint")) | {f"fejoint/{name}" for name in in_git("cases")}
    fresh = subprocess.run(
        ["git", "-C", str(ROOT), "ls-files", "--others", "--exclude-standard", "fejoint", "cases"],
        capture_output=True, text=True, check=True,
    ).stdout.splitlines()  # fmt: skip
    known |= set(fresh) | {f"fejoint/{name}" for name in fresh}
    assert held - known == set()


def test_the_wheel_is_for_every_platform_and_names_its_command(wheel):
    assert wheel.name.endswith("-py3-none-any.whl")
    archive = zipfile.ZipFile(wheel)
    (points,) = (n for n in archive.namelist() if n.endswith("entry_points.txt"))
    assert "fejoint = fejoint.cli.main:main" in archive.read(points).decode()
    assert any(n.endswith("licenses/fejoint/LICENSE") for n in archive.namelist())


def test_the_unpacked_wheel_finds_its_cases_without_a_checkout(wheel, tmp_path):
    zipfile.ZipFile(wheel).extractall(tmp_path / "site")
    code = (
        "from fejoint.cli import main as cli\n"
        "from fejoint.system import resources\n"
        "from fejoint.validation import reference_case\n"
        "assert not resources.is_checkout(); "
        "print(reference_case.folder(), len(reference_case.read_all())); "
        "assert cli.main(['demo', 'anchor']) == 0; "
        "assert cli.main(['check', '--page']) == 2"
    )
    environment = os.environ | {"PYTHONPATH": str(tmp_path / "site")}
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env=environment, check=True, text=True,
        capture_output=True,
    )  # fmt: skip
    folder, _, count = done.stdout.splitlines()[0].rpartition(" ")
    assert Path(folder) == tmp_path / "site/fejoint/cases/reference"
    assert int(count) == len(list((ROOT / "cases/reference").glob("*/expected.toml")))
    assert "page: is written in a checkout" in done.stderr
    copied = [p for p in (tmp_path / "anchor").rglob("*") if p.is_file()]
    assert len(copied) == len(in_git("cases/demo/*.toml", "cases/demo/*.csv"))
    for path in copied:
        original = ROOT / "cases/demo" / path.relative_to(tmp_path / "anchor")
        assert path.read_bytes() == original.read_bytes()


@pytest.mark.stress
def test_the_installed_wheel_pulls_the_demo_and_checks_itself(wheel, tmp_path, tally):
    place = tmp_path / "empty"
    venv.create(place, with_pip=True)
    bin_ = place / ("Scripts" if os.name == "nt" else "bin")
    environment = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}

    def run(program, *words):
        return subprocess.run(
            [str(bin_ / program), *map(str, words)], cwd=tmp_path, env=environment, check=True,
            capture_output=True, text=True,
        ).stdout  # fmt: skip

    run("python", "-m", "pip", "install", "--no-input", "-c", LOCK, wheel)
    run("fejoint", "demo", "anchor")
    assert "the holes in both ears stretch first" in run("fejoint", "pull", "anchor/hard-pin.toml")
    assert (tmp_path / "out/hard-pin/answer.json").exists()
    checked = run("fejoint", "check", "--only", "handbook").splitlines()[-1]
    tally(f"from the wheel in an empty environment: demo pulled; {checked}")


def test_the_demo_is_copied_once_and_never_over_a_users_file(tmp_path):
    files = resources.copy_demo(tmp_path / "mine")
    assert {p.name for p in files} > {"hard-pin.toml", "soft-pin.toml", "hard-pin-1.csv"}
    assert files[0].suffix == ".toml"
    files[0].write_text("mine")
    with pytest.raises(BadInput) as bad:
        resources.copy_demo(tmp_path / "mine")
    assert len(bad.value.faults) == len(files)
    assert files[0].read_text() == "mine"
    resources.copy_demo(tmp_path / "mine", overwrite=True)
    assert files[0].read_text() != "mine"


def test_the_command_names_the_demo_s_files_and_what_to_do_next(tmp_path, capsys):
    assert main(["demo", str(tmp_path / "anchor")]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[-1] == f"next: fejoint pull {tmp_path / 'anchor/hard-pin.toml'}"
    assert main(["demo", str(tmp_path / "anchor")]) == 2
    assert "is there already" in capsys.readouterr().err
    assert main(["demo", str(tmp_path / "anchor"), "--overwrite", "--json"]) == 0
    files = json.loads(capsys.readouterr().out)["files"]
    assert [f"wrote {path}" for path in files] == said[:-1]


def test_a_demo_that_cannot_be_written_says_so(tmp_path):
    (tmp_path / "taken").write_text("a file")
    with pytest.raises(BadInput, match="cannot be written"):
        resources.copy_demo(tmp_path / "taken")


def locked() -> dict[str, str]:
    """Versions of the lock by canonical name."""
    lines = [line for line in LOCK.read_text().splitlines() if line and not line.startswith("#")]
    pairs = [line.split("==") for line in lines]
    return {canonicalize_name(name): version for name, version in pairs}


def stood_on(extra: str) -> dict[str, str]:
    """Versions of every installed package that the project stands on, itself excepted."""
    wanted = [*PROJECT["project"]["dependencies"], *PROJECT["build-system"]["requires"]]
    wanted += PROJECT["project"]["optional-dependencies"][extra]
    queue, found = [Requirement(text) for text in wanted], {}
    asked = set()
    while queue:
        need = queue.pop()
        extras = need.extras or {""}
        if need.marker is not None and not need.marker.evaluate({"extra": ""}):
            continue
        name = canonicalize_name(need.name)
        if (name, frozenset(extras)) in asked:
            continue
        asked.add((name, frozenset(extras)))
        try:
            known = distribution(name)
        except PackageNotFoundError:
            continue
        found[name] = known.version
        for text in known.requires or ():
            inner = Requirement(text)
            on = [
                e for e in {"", *extras} if not inner.marker or inner.marker.evaluate({"extra": e})
            ]
            if on:
                inner.marker = None
                queue.append(inner)
    return found


def test_the_lock_holds_every_installed_package_at_its_version():
    found, lock = stood_on("dev"), locked()
    assert len(found) > 60
    assert {n: v for n, v in found.items() if lock.get(n) != v} == {}


def test_the_lock_names_each_package_once_and_exactly():
    lines = [line for line in LOCK.read_text().splitlines() if not line.startswith("#")]
    assert all(re.fullmatch(r"[A-Za-z0-9._-]+==[0-9][A-Za-z0-9.+!]*", line) for line in lines)
    assert len(locked()) == len(lines)


def test_the_lock_allows_what_the_project_asks_for():
    lock = locked()
    asked = [*PROJECT["project"]["dependencies"], *PROJECT["build-system"]["requires"]]
    for extra in PROJECT["project"]["optional-dependencies"].values():
        asked += extra
    for need in map(Requirement, asked):
        version = lock.get(canonicalize_name(need.name))
        assert version is not None, need.name
        assert need.specifier.contains(version), (need.name, version)
