"""A cheap case, its answer, and a folder that holds both, for every test of faults."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from support import hostile

import fejoint
from fejoint.analysis.result import Answer
from fejoint.output import result_files


@pytest.fixture(scope="session")
def case(tmp_path_factory) -> Path:
    """The demo's case file, its pull stopped soon."""
    path = tmp_path_factory.mktemp("case") / "cheap.toml"
    path.write_text(hostile.cheap_text(), encoding="utf-8")
    return path


@pytest.fixture(scope="session")
def answer(case) -> Answer:
    """The cheap case, pulled."""
    return fejoint.pull(fejoint.load(case), refine=0.35)


@pytest.fixture(scope="session")
def _stored(answer, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("stored") / "out"
    result_files.write_all(answer, folder)
    return folder


@pytest.fixture
def stored(_stored, tmp_path) -> Path:
    """A folder with the cheap case's answer and fields, to be written into."""
    return Path(shutil.copytree(_stored, tmp_path / "out"))
