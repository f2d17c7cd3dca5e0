"""The demo joint, for every test of sweeps."""

from __future__ import annotations

import pytest
from support import DEMO_CASES

import fejoint

CASES = DEMO_CASES


@pytest.fixture(scope="session")
def joint():
    return fejoint.load(CASES / "hard-pin.toml")
