"""An answer names what it was computed with, and not what merely lies there."""

from __future__ import annotations

import pytest

from fejoint.analysis import cost
from fejoint.kernel import compiled, linear


def test_what_is_not_used_is_not_named_as_if_it_were(monkeypatch):
    pytest.importorskip("numba")
    pytest.importorskip("pypardiso")
    assert "not used" not in str(cost.versions())
    monkeypatch.setattr(compiled, "available", lambda: False)
    assert cost.versions()["numba"] == f"{cost.installed()['numba']} (not used)"
    monkeypatch.setattr(linear, "_mkl", lambda: None)
    assert cost.versions()["pypardiso"].endswith(" (not used)")
    assert cost.versions()["scipy"] == cost.installed()["scipy"]
