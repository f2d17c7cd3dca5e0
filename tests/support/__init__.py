"""What several tests build on: joints, made-up logs, malformed cases, and where things lie."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
"""The checkout."""
DEMO_CASES = ROOT / "cases" / "demo"
DEMO = DEMO_CASES / "hard-pin.toml"
"""The demo's joint with the hard pin."""
