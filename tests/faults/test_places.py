"""Locales, time zones, homes, paths and line ends that are not those of the author's machine."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from support.hostile import PYTHON, REFINE, cheap_text, check_quiet, fejoint, surroundings
from support.whole_files import read_all

import fejoint as package
from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.joint import model
from fejoint.measured import log_reader

ITS_LOCALE = (
    sys.executable,
    "-c",
    "import locale, sys; locale.setlocale(locale.LC_ALL, '');"
    "from fejoint.cli.main import main; sys.exit(main(sys.argv[1:]))",
)
"""The command line as a program runs it that has taken on the user's locale."""


@pytest.fixture(scope="session")
def german(tmp_path_factory) -> dict[str, str]:
    """Return the environment of a locale with decimal comma, compiled here."""
    folder = tmp_path_factory.mktemp("locales")
    if shutil.which("localedef") is None or not Path("/usr/share/i18n/locales/de_DE").exists():
        pytest.skip("no German locale to compile")
    name = folder / "de_DE.UTF-8"
    subprocess.run(["localedef", "-i", "de_DE", "-f", "UTF-8", str(name)], check=True)
    return {"LOCPATH": str(folder), "LC_ALL": "de_DE.UTF-8", "LANG": "de_DE.UTF-8"}


NOWHERE = {"HOME": "/nowhere/at all", "DISPLAY": ":77", "TZ": "Pacific/Kiritimati"}
LOCKED = dict.fromkeys(
    ("HOME", "MPLCONFIGDIR", "NUMBA_CACHE_DIR", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "TMPDIR"),
    "/proc/none",
)
PLACES = {
    "no home, no display": {"HOME": None, "DISPLAY": None, "XDG_CACHE_HOME": None},
    "a home and a display that are not there": NOWHERE,
    "caches that cannot be written": LOCKED,
    "the C locale": {"LC_ALL": "C", "LANG": None},
    "ASCII alone": {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0",
                    "PYTHONIOENCODING": "ascii"},
    "an odd time zone": {"TZ": "<+1245>-12:45<+1345>,M9.5.0/2:45,M4.1.0/3:45"},
}  # fmt: skip


def pulled(folder: Path, *words: object, command=PYTHON, **changed):
    """Pull a case with a byte order mark and Windows line ends in a folder with blanks."""
    here = folder / "Anker für Öse 孔" / "zwei Wörter"
    here.mkdir(parents=True)
    case = here / "Fluke α.toml"
    text = cheap_text().replace("\n", "\r\n")
    case.write_bytes(b"\xef\xbb\xbf" + text.encode())
    done = fejoint(
        "pull", case, *REFINE, "--out", here / "out ü", *words, env=surroundings(**changed),
        command=command,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return done, here / "out ü"


def test_a_locale_with_decimal_comma_changes_no_digit(german, answer, tmp_path):
    done, folder = pulled(tmp_path, "--no-pictures", command=ITS_LOCALE, **german, **NOWHERE)
    check_quiet(done, folder, answer)
    assert f"wrote {folder / 'fields.vtu'}" in done.stdout
    drawn = fejoint(
        "picture", folder, "--what", "curve", command=ITS_LOCALE,
        env=surroundings(**german, **NOWHERE),
    )  # fmt: skip
    assert (drawn.returncode, drawn.stderr) == (0, "")
    assert len(read_all(folder)) == 4


WORST = ["caches that cannot be written"]


@pytest.mark.parametrize("place", PLACES if os.environ.get("FEJOINT_STRESS") == "1" else WORST)
@pytest.mark.sampled
def test_a_pull_works_and_says_next_to_nothing(place, answer, tmp_path):
    done, folder = pulled(tmp_path, "--no-pictures", **PLACES[place])
    check_quiet(done, folder, answer)
    assert len(read_all(folder)) == 3


def test_a_picture_is_drawn_where_no_cache_can_be_written(stored):
    done = fejoint("picture", stored, "--what", "curve", env=surroundings(**LOCKED))
    assert (done.returncode, done.stderr) == (0, "")
    assert "curve.png" in read_all(stored)


def test_a_light_command_works_with_no_home_at_all():
    done = fejoint("hardness", "48 HRC", env=surroundings(**LOCKED, **PLACES["ASCII alone"]))
    assert (done.returncode, done.stderr) == (0, "")
    assert "1571 MPa" in done.stdout


@pytest.mark.parametrize(
    ("mark", "end"), [("", "\r\n"), ("\ufeff", "\n"), ("\ufeff", "\r\n")], ids=repr
)
def test_case_files_from_windows_read_as_others(mark, end, tmp_path):
    path = tmp_path / "case.toml"
    path.write_bytes((mark + cheap_text().replace("\n", end)).encode())
    assert model.load(path) == package.load(_plain(tmp_path))


def _plain(folder: Path) -> Path:
    path = folder / "plain.toml"
    path.write_text(cheap_text(), encoding="utf-8")
    return path


def test_a_case_in_utf_16_is_told_in_one_line(tmp_path):
    path = tmp_path / "case.toml"
    path.write_bytes(cheap_text().encode("utf-16"))
    with pytest.raises(BadInput, match="save it as UTF-8"):
        model.load(path)


LOG = [("Weg (mm)", "Kraft (N)"), *((0.01 * k, 40.0 * k) for k in range(60))]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=repr)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("comma", [False, True], ids=["point", "comma"])
def test_logs_read_the_same_whatever_ends_their_lines(end, encoding, comma, tmp_path):
    rows = [";".join(map(str, row)) for row in LOG]
    text = end.join(rows) + end
    path = tmp_path / "Zug 1 – Öse.csv"
    path.write_bytes((text.replace(".", ",") if comma else text).encode(encoding))
    log = log_reader.read(path)
    np.testing.assert_allclose(log.force, [row[1] for row in LOG[1:]])
    np.testing.assert_allclose(log.travel, [row[0] for row in LOG[1:]])
    assert log.bad == ()


def test_the_answer_reads_back_where_paths_are_relative_and_odd(stored, monkeypatch):
    odd = stored.parent / "- ein 'Ordner' $HOME; &"
    os.rename(stored, odd)
    monkeypatch.chdir(odd.parent)
    assert main(["picture", "./" + odd.name, "--what", "limits"]) == 0
    assert (odd / "limits.png").exists()
