"""A case is a file or standard input, `--set` changes it, and no other case's answer is lost."""

from __future__ import annotations

import io
import json
import sys

import pytest
from support import DEMO
from support.pulled import quick_answer

from fejoint.analysis import pull as analysis
from fejoint.cli import case_source
from fejoint.cli.main import COMMANDS, app, main
from fejoint.errors import BadInput
from fejoint.studies import side_blow

SOLVES_A_CASE = (
    *(
        "advise",
        "blow",
        "cut",
        "directions",
        "match",
        "pin-range",
        "pull",
        "scatter",
        "solid",
        "sweep",
        "used",
    ),
)


@pytest.fixture
def pulled(monkeypatch, tmp_path):
    """The joints that were pulled; the solve itself is spared. Commands run in a new folder."""
    joints, answer = [], quick_answer()

    def pull(joint, **_):
        joints.append(joint)
        return answer

    monkeypatch.setattr(analysis, "pull", pull)
    monkeypatch.chdir(tmp_path)
    return joints


@pytest.fixture
def send(monkeypatch):
    """Put text on standard input."""

    def send(text: str | bytes) -> None:
        raw = text.encode() if isinstance(text, str) else text
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(raw)))

    return send


def written(folder, name="mine.toml"):
    folder.mkdir(parents=True)
    (folder / name).write_bytes(DEMO.read_bytes())
    return folder / name


def pull(case, *words) -> int:
    return main(["pull", str(case), "--no-pictures", *words])


def test_every_command_that_takes_a_case_takes_what_is_set_in_it():
    for name in COMMANDS:
        arguments = app[name].assemble_argument_collection(parse_docstring=True)
        names = {option for argument in arguments for option in argument.names}
        assert ("--set" in names) == (name in SOLVES_A_CASE), name


@pytest.mark.parametrize(
    ("change", "found"),
    [
        ("pin.hardness=40 HRC", lambda j: j.case["pin"]["hardness"] == "40 HRC"),
        ('pin.hardness="40 HRC"', lambda j: j.case["pin"]["hardness"] == "40 HRC"),
        ("ear.width = 15 mm", lambda j: [e.width for e in j.ears] == [15.0] * len(j.ears)),
        ("ear.2.width=15", lambda j: (j.ears[0].width != 15.0, j.ears[1].width) == (True, 15.0)),
        ("title=with = in it", lambda j: j.title == "with = in it"),
        ("title=2026-11-27", lambda j: j.title == "2026-11-27"),
        ("pin.rigid=true", lambda j: j.case["pin"]["rigid"] is True),
    ],
)
def test_what_is_set_takes_the_place_of_what_the_file_says(change, found):
    assert found(case_source.read(DEMO, [change]).joint)


def test_several_values_are_set_before_the_joint_is_looked_at_as_a_whole():
    # the first alone is a pin that does not go into its hole
    joint = case_source.read(DEMO, ["pin.diameter=6 mm", "ear.hole=6.1 mm", "shank.hole=6.1 mm"])
    assert joint.joint.pin.diameter == 6.0
    with pytest.raises(BadInput, match="at least the pin's diameter"):
        case_source.read(DEMO, ["pin.diameter=6 mm"])


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ("pin.hardnes=40 HRC", "pin.hardnes: is not a key of a case; did you mean pin.hardness?"),
        ("pin.hardness=4 HRC", "pin.hardness = 4 HRC: must lie from 20 to 57.8 HRC"),
        ("fit.gap=much", "fit.gap = much: must be a length"),
        ("pin.hardness", "--set = pin.hardness: must be KEY=VALUE"),
        ("=4 mm", "--set = =4 mm: must be KEY=VALUE"),
        ("ear.9.hole=4 mm", "ear.9.hole: must name one of the 2 ears"),
        ("title=[[[[[[[[[[[[1]]]]]]]]]]]]", "is nested too deeply"),
        ("fit.gap=" + "[" * 5000, "fit.gap"),
    ],
)
def test_a_change_that_is_none_is_told_as_in_a_file_and_nothing_is_written(
    change, told, pulled, capsys, tmp_path
):
    assert pull(DEMO, "--set", change) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(told) or told in err
    assert len(err.splitlines()) == 1
    assert pulled == []
    assert list(tmp_path.iterdir()) == []


def test_a_changed_case_has_a_folder_of_its_own(pulled, tmp_path):
    case = written(tmp_path / "a")
    assert pull(case) == 0
    assert pull(case, "--set", "pin.hardness=40 HRC") == 0
    assert pull(case, "--set", "pin.hardness=44 HRC", "--set", "fit.gap=0.2 mm") == 0
    assert {p.name for p in (tmp_path / "out").iterdir()} == {
        *("mine", "mine+pin.hardness=40-HRC", "mine+pin.hardness=44-HRC+fit.gap=0.2-mm"),
    }
    assert [j.case["pin"]["hardness"] for j in pulled[1:]] == ["40 HRC", "44 HRC"]
    # a name never leads out of the folder, or grows without end
    assert pull(case, "--set", "title=/../../" + "x" * 300) == 0
    assert {p.parent for p in tmp_path.rglob("answer.json")} >= {tmp_path / "out" / "mine"}
    assert len(list((tmp_path / "out").iterdir())) == 4


def test_a_case_of_another_folder_and_one_name_is_refused(pulled, tmp_path, capsys):
    one, other = written(tmp_path / "a"), written(tmp_path / "b")
    assert pull(one) == 0
    first = (tmp_path / "out" / "mine" / "answer.json").read_bytes()
    stamp = (tmp_path / "out" / "mine" / "answer.json").stat().st_mtime_ns
    capsys.readouterr()
    assert pull(other) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == ("out/mine: holds the results of a/mine.toml; choose another folder with --out\n")
    assert len(pulled) == 1
    assert (tmp_path / "out" / "mine" / "answer.json").stat().st_mtime_ns == stamp
    assert (tmp_path / "out" / "mine" / "answer.json").read_bytes() == first
    # by whatever way the first one is named, it is the same case; edited, too
    one.write_text(one.read_text() + "\n# edited\n")
    assert pull("a/../a/mine.toml") == 0
    (tmp_path / "link").symlink_to(tmp_path / "a", target_is_directory=True)
    assert pull("link/mine.toml") == 0
    assert pull(other, "--out", "out/other") == 0
    assert pull(other, "--out", "out/other") == 0
    assert capsys.readouterr().err == ""


def test_a_folder_that_is_asked_for_is_taken_and_what_it_held_is_told(pulled, tmp_path, capsys):
    one, other = written(tmp_path / "a"), written(tmp_path / "b")
    assert pull(one, "--out", "here", "--set", "fit.gap=0.2 mm") == 0
    capsys.readouterr()
    assert pull(other, "--out", "here") == 0
    assert capsys.readouterr().err == (
        "here held the results of a/mine.toml with fit.gap=0.2 mm: files of the same name are "
        "replaced\n"
    )
    assert pull(other, "--out", "here") == 0
    assert capsys.readouterr().err == ""


def test_a_case_is_read_from_standard_input(pulled, send, tmp_path, capsys):
    send(b"\xef\xbb\xbf" + DEMO.read_bytes())
    assert pull("-", "--set", "pin.hardness=40 HRC", "--out", "it") == 0
    assert pulled[0].case["pin"]["hardness"] == "40 HRC"
    send(b"\xef\xbb\xbf" + DEMO.read_bytes())
    capsys.readouterr()
    assert pull("-", "--set", "pin.hardness=44 HRC", "--out", "it") == 0
    assert "it held the results of another case of standard input with pin.hardness=40 HRC" in (
        capsys.readouterr().err
    )
    send(DEMO.read_text())
    assert main(["pull", "--no-pictures", "-"]) == 0
    assert (tmp_path / "out" / "stdin" / "answer.json").exists()
    send(DEMO.read_text())
    assert pull("-") == 0
    send(DEMO.read_text() + "\n")
    assert pull("-") == 2
    assert "out/stdin: holds the results of another case of standard input" in (
        capsys.readouterr().err
    )


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (b"\xff\xfe", "standard input: is not UTF-8 text"),
        (b"#" * 1_000_001, "standard input: is over 1 MB"),
        (b"pin = 4", "ear: is missing"),
        (b"a" + b".a" * 40 + b" = 1", "standard input: is nested too deeply"),
    ],
)
def test_what_is_no_case_on_standard_input_is_refused(text, told, pulled, send, capsys, tmp_path):
    send(text)
    assert pull("-") == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith(told)
    assert pulled == []
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_option_before_the_case_is_no_case(capsys):
    assert main(["blow", "--nonsense", str(DEMO)]) == 2
    assert "--nonsense: is no option of this command" in capsys.readouterr().err


def test_a_command_that_writes_nothing_takes_both_too(send, monkeypatch, capsys):
    joints = []

    def blow(joint, **_):
        joints.append(joint)
        raise BadInput

    monkeypatch.setattr(side_blow, "side_blow", blow)
    send(DEMO.read_text())
    main(["blow", "-", "--set", "ear.width=15 mm"])
    assert joints[0].ears[0].width == 15.0
    capsys.readouterr()


def test_a_mark_that_cannot_be_read_is_none(pulled, tmp_path):
    case = written(tmp_path / "a")
    assert pull(case) == 0
    mark = tmp_path / "out" / "mine" / case_source.MARK
    assert json.loads(mark.read_text()) == {"case": "../../a/mine.toml", "set": []}
    for text in ("", "3", "{"):
        mark.write_text(text)
        assert pull(case) == 0
        assert json.loads(mark.read_text())["case"] == "../../a/mine.toml"
