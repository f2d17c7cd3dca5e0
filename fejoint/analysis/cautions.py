"""The cautions that go with every answer, in one place."""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "A loaded rig stores energy: stand clear of the line of pull, and shield the sample.",
    "Not for lifting and not where a life hangs on the joint.",
    "A prediction does not replace a test: pull the real joint before anything depends on it.",
    "The loads carry no safety factor; local codes and licensed practice govern.",
)

LIMITS: tuple[str, ...] = (
    "Plane stress: where a thin end dishes behind the pin is told by a rule, not followed.",
    "Tearing is indicated by the ductility limit, not followed as a crack.",
    "Not modelled: snatch loads, fatigue, corrosion, wear, residual stress, and how the hole was "
    "made (drilled, punched, edge hardened by a laser).",
    "Isotropic hardening: after a reversal real metal yields earlier (Bauschinger effect).",
    "Ears stay parallel.",
)
"""What the model leaves out, for answers and reports."""

IN_A_LINE = "Stand clear; no lifting, no lives; test it; codes and licensed practice govern."
"""What `CAUTIONS` say, for a terminal."""
