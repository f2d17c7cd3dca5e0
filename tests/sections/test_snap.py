from __future__ import annotations

from dataclasses import replace

import numpy as np
from pulled_faces import RIGID, pulled

from fejoint.kernel.hardening import Hardening
from fejoint.kernel.plasticity import Metal
from fejoint.meshing import EarOutline

NARROW = replace(
    RIGID,
    outline=EarOutline(6.0, 4.1, 6.5, 200.0, "square"),
    metal=Metal(196e3, 0.3, Hardening.swift(1170.0, 0.02, 0.02)),
)
"""A net section that necks at once, on a long strip that springs back faster than it necks."""


def test_ear_that_snaps_is_followed_past_its_load_maximum():
    history = pulled(NARROW, None, sides=24)
    assert history.path.finished
    assert history.path.stopped_because == "load maximum passed by 2 %"
    assert np.diff(history.travel).min() < 0.0  # the travel shrinks on the way over the snap
    assert np.diff(history.elongation).min() > 0.0
    assert max(p.residual for p in history.path.points) < 1e-6
    assert history.load.max() < 1.2 * 2.0 * (6.0 - 4.1) * 1300.0
