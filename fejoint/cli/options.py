"""Arguments and options that several commands take, each declared once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

Case = Annotated[Path, Parameter(help="The case file.")]

Json = Annotated[bool, Parameter(name="--json", negative="", help="Print JSON instead.")]

Flag = Annotated[bool, Parameter(negative="")]
"""Off unless named; there is no word that turns it off."""

Texts = Annotated[tuple[str, ...], Parameter(negative="")]
"""An option that may be given several times."""

Refine = Annotated[float, Parameter(help="Mesh refinement: 1 for every day.")]

FinerRefine = Annotated[
    float, Parameter(help="Mesh refinement: 1 for every day, 2 halves the elements.")
]
"""Where a finer mesh is worth a word: the answer is of one joint, and kept."""

Workers = Annotated[
    int | None, Parameter(help="Processes; one a core if left out, 0 for this one alone.")
]

Scheduler = Annotated[
    str | None, Parameter(help="Address of a dask scheduler instead of local processes.")
]
