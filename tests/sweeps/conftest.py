"""The demo joint, for every test of sweeps."""

from __future__ import annotations

from pathlib import Path

import pytest

import fejoint

CASES = Path(__file__).parent.parent.parent / "cases" / "demo"


@pytest.fixture(scope="session")
def joint():
    return fejoint.load(CASES / "hard-pin.toml")
