"""Strategies for what anyone might give where a value belongs, and what a refusal must be."""

from __future__ import annotations

import datetime
import decimal
import math

import numpy as np
from hypothesis import strategies as st

from fejoint.errors import BadInput

NUMBERS = st.one_of(
    st.floats(),
    st.integers(),
    st.sampled_from([math.nan, math.inf, -math.inf, -0.0, 1e308, 5e-324, 10**400, -(16**3000)]),
)
UNITS = ["", "mm", "in", "N", "kgf", "kg", "MPa", "GPa", "deg", "°", "%", "HRC", "HV", "HB", "zoll"]
QUANTITIES = st.builds(
    "{}{}{}".format,
    st.one_of(st.floats(), st.integers(), st.sampled_from(["4,5", "5/32", "1 1/2", "5/0", ""])),
    st.sampled_from(["", " ", "\u00a0"]),
    st.sampled_from(UNITS),
)
ODD = st.sampled_from(
    [
        None,
        True,
        b"4 mm",
        {1, 2},
        2 + 3j,
        object(),
        decimal.Decimal("4.1"),
        datetime.date(2024, 1, 1),
        np.array([1.0, 2.0]),
        np.float32(2.0),
        np.float64(4.1),
        np.int64(3),
        "\ud800",
        "\u202e4 mm",
        "\0",
    ]
)
SCALARS = st.one_of(NUMBERS, QUANTITIES, st.text(max_size=12), ODD)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.one_of(st.text(max_size=5), st.integers(0, 3)), inner, max_size=3),
    ),
    max_leaves=4,
)


def is_readable(bad: BadInput) -> bool:
    """Whether every line of a refusal names a field, what is allowed and the mend."""
    lines = str(bad).split("\n")
    return len(lines) == len(bad.faults) > 0 and all(
        bool(f.field and f.allowed and f.mend) and line.isprintable() and len(line) < 800
        for f, line in zip(bad.faults, lines, strict=True)
    )
