"""How far the model is off, limit by limit: read from the table that `fejoint check --page` writes.

An error is ln(predicted/true): 0.1 where the model promises 10 % too much. A limit that tests of
real metal speak of has their bias and spread; one that a finer model speaks of has its difference
from that; any other borrows its neighbour's, without a shift, since nobody knows which way.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Literal, get_args

from fejoint.analysis import definitions as d

Kind = Literal[
    "hole stretches", "greatest load", "end dishes", "net section", "strip yields", "ear bends",
    "pin hinge", "bend left", "pin shears", "pin breaks",
]  # fmt: skip
Basis = Literal["tests", "finer model", "borrowed", "textbook", "own pulls"]
TABLE = "model_error.toml"


@dataclass(frozen=True)
class ModelError:
    """What is known of the model's error in one kind of limit; logarithms.

    Attributes
    ----------
    kind : str
    basis : {"tests", "finer model", "borrowed", "textbook", "own pulls"}
    bias, spread : float
        Mean and standard deviation over the rows, the references' own noise included.
    noise : float
        Standard deviation of the references about each other, as far as it is sure; 0 where there
        is none.
    shift, deviation : float
        What an answer takes: by how much its load is too high, and the standard deviation of what
        is left for a metal that no row has seen, the references' noise taken off.
    rows, groups : int
        Values, and metals (or joints) that they come from.
    covered : int or None
        How many of the rows lie in the 90 % band that the other metals' rows give; None where
        there are no tests.
    says : str
        In words.
    """

    kind: Kind
    basis: Basis
    bias: float
    spread: float
    noise: float
    shift: float
    deviation: float
    rows: int
    groups: int
    covered: int | None
    says: str


def kind_of(mode: str, cause: str) -> Kind:
    """Return the kind of limit whose error a mode, counted in one way, has."""
    if cause == d.OFFSET_LOAD:
        return "hole stretches"
    if mode == "pin bending":
        return "bend left" if cause == d.BEND_LEFT else "pin hinge"
    by_mode: dict[str, Kind] = {
        "end dishes": "end dishes",
        "net section": "net section",
        "strip yield": "strip yields",
        "ear bending": "ear bends",
        "pin shear": "pin shears",
        "pin break": "pin breaks",
    }
    # whatever else ends a plate is read at or near its greatest load
    return by_mode.get(mode, "greatest load")


Own = Mapping[Kind, ModelError]
"""Errors that a workshop's own pulls tell, by kind of limit."""


def of(mode: str, cause: str, own: Own | None = None) -> ModelError:
    """Return the model's error in a limit: a workshop's own where that is the surer one."""
    kind = kind_of(mode, cause)
    published, found = table()[kind], (own or {}).get(kind)
    if found is not None and found.deviation < published.deviation:
        return found
    return published


@cache
def table() -> Mapping[Kind, ModelError]:
    """Return every kind's error."""
    text = files("fejoint.analysis").joinpath(TABLE).read_text(encoding="utf-8")
    rows = {row["kind"]: row for row in tomllib.loads(text)["limit"]}
    return {kind: ModelError(**({"covered": None} | rows[kind])) for kind in get_args(Kind)}
