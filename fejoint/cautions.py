"""The cautions that go with every answer, in one place."""

from __future__ import annotations

CAUTIONS: tuple[str, ...] = (
    "A model, not a test: pull the real joint before anything depends on it.",
    "Plane stress: a thin end that dishes or curls behind the pin gives earlier than shown.",
    "Tearing is indicated by the ductility limit, not followed as a crack.",
    "Not modelled: snatch loads, fatigue, corrosion, wear, residual stress, and how the hole was "
    "made (drilled, punched, edge hardened by a laser).",
    "Isotropic hardening: after a reversal real metal yields earlier (Bauschinger effect).",
    "The loads carry no safety factor, and material scatter moves them as the bands say.",
)
