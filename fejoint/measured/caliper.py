"""A pull judged by caliper alone: hole lengths, the pin's bend and the peak.

The sheet is TOML, so that it can be filled in at the rig; `fejoint match CASE --plan` writes one.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis.limit_loads import JointReading
from fejoint.analysis.plotted import RowsOf
from fejoint.analysis.progress import Progress
from fejoint.analysis.pull import pull_axial, solve_members, watching
from fejoint.analysis.section_cases import PlateInJoint, PullSettings, names_along
from fejoint.errors import BadInput
from fejoint.inputs import toml_syntax
from fejoint.inputs.fields import Field, Reading
from fejoint.joint import model
from fejoint.joint.model import CaseLike, Joint
from fejoint.kernel.load_curve import first_reach
from fejoint.kernel.pchip import Monotone
from fejoint.measured.failure_modes import MODES, SEEN
from fejoint.sections.face.bearing_law import SliceReader

if TYPE_CHECKING:
    import pandas as pd

SHORTER = 0.1
"""How much shorter a hole may be measured after a pull than before, mm: a caliper's own error."""
FACES = ("inner", "outer", "mean")

SHEET: dict[str, Field] = {
    "peak": Field("force", '"8.4 kN"', 1.0, 1e8, needed=True, note="largest load of the pull"),
    "pin_bend": Field("length", '"0.12 mm"', 0.0, 1e3, note="sag the pin keeps between the ears"),
    "broke": Field(
        "choice", '"hole elongation"', choices=(*MODES, *SEEN, "nothing"), note="what was seen"
    ),
    "note": Field("text", '"sample 3, drilled"', note="anything to remember"),
}
HOLE: dict[str, Field] = {
    "where": Field(
        "choice", '"ear 1"', choices=("ear", "ear 1", "ear 2", "shank"), needed=True,
        note="which part",
    ),
    "face": Field("choice", '"inner"', choices=FACES, note="inner lies against its neighbour"),
    "before": Field("length", '"4.10 mm"', 0.1, 1e3, needed=True, note="length along the pull"),
    "after": Field("length", '"4.35 mm"', 0.1, 1e3, needed=True, note="the same after the pull"),
}  # fmt: skip


@dataclass(frozen=True)
class Hole:
    """A hole's length along the pull on one face, before and after, mm."""

    where: str
    face: str
    before: float
    after: float


@dataclass(frozen=True)
class Sheet:
    """What was measured after a pull without a log: N and mm.

    Attributes
    ----------
    peak : float
        Largest load of the pull, N.
    holes : tuple of Hole
    pin_bend : float or None
        Sag that the pin keeps between the ears.
    broke, note : str
        What was seen; anything to remember.
    """

    peak: float
    holes: tuple[Hole, ...] = ()
    pin_bend: float | None = None
    broke: str = ""
    note: str = ""

    @property
    def digest(self) -> str:
        """What the sample is known by: all that was measured of it, and its note."""
        told = json.dumps(asdict(replace(self, broke="")), sort_keys=True)
        return hashlib.sha256(told.encode()).hexdigest()


@dataclass(frozen=True)
class Beside:
    """One measured value beside the predicted one (None: not predicted), mm."""

    what: str
    measured: float
    predicted: float | None
    why: str = ""


@dataclass(frozen=True, eq=False)
class ByCaliper(RowsOf[Beside]):
    """What a caliper found after a pull, beside what was predicted.

    Attributes
    ----------
    sheet : Sheet
    rows : tuple of Beside
        One a measured value; the result is the sequence of them.
    """

    sheet: Sheet
    rows: tuple[Beside, ...]

    @property
    def frame(self) -> pd.DataFrame:
        """A row a measured value: what, measured_mm, predicted_mm, and why it is not predicted."""
        import pandas as pd

        return pd.DataFrame(self.to_dicts())

    def to_dicts(self) -> list[dict[str, Any]]:
        """Return plain data, one a measured value."""
        return [
            {"what": r.what, "measured_mm": r.measured, "predicted_mm": r.predicted,
             "reason": r.why} for r in self.rows
        ]  # fmt: skip


def load(path: Path) -> Sheet:
    """Read a caliper sheet.

    Raises
    ------
    BadInput
        With every fault of the sheet.
    """
    return read(toml_syntax.parse(path))


def read(table: Mapping[str, Any]) -> Sheet:
    """Return the sheet of its tables; see `load`."""
    reading = Reading()
    own = {key: value for key, value in table.items() if key != "hole"}
    got = reading.table("", own, SHEET)
    holes = table.get("hole", [])
    rows = []
    for k, each in enumerate(holes if isinstance(holes, list) else [holes], start=1):
        where = f"hole.{k}"
        row = reading.table(where, each, HOLE)
        if row.get("before", 0.0) > row.get("after", math.inf) + SHORTER:
            reading.fault(
                f"{where}.after", row["after"], "is less than it was before the pull", "swap them?"
            )
        rows.append(row)
    if reading.faults:
        raise BadInput(*reading.faults)
    return Sheet(
        got["peak"],
        tuple(Hole(r["where"], r.get("face", "mean"), r["before"], r["after"]) for r in rows),
        got.get("pin_bend"),
        got.get("broke", ""),
        got.get("note", ""),
    )


def blank(joint: Joint) -> str:
    """Return an empty sheet for a joint, to be filled in at the rig."""
    lines = [
        f"# Caliper sheet: {' '.join(joint.title.split()) or 'pinned joint'}",
        "# Fill in at the rig, take away the lines not measured, then:",
        "#   fejoint match CASE --caliper THIS_FILE",
        'peak = ""           # largest load of the pull: "8.4 kN", "850 kgf"',
        '# pin_bend = "0.00 mm"   # sag the pin keeps between the ears, on a flat plate',
        f'# broke = "nothing"      # or {", ".join(MODES)}',
    ]
    ears = ["ear"] if len(joint.ears) == 1 else ["ear 1", "ear 2"]
    for where in (*ears, "shank"):
        for face in ("inner", "outer") if where != "shank" else ("mean",):
            lines += ["", "[[hole]]", f'where = "{where}"', f'face = "{face}"',
                      'before = ""         # length along the pull, mm', 'after = ""']  # fmt: skip
    return "\n".join(lines) + "\n"


def by_caliper(
    joint: CaseLike,
    sheet: Sheet | Mapping[str, Any] | str | os.PathLike[str],
    *,
    refine: float = 1.0,
    progress: Progress | None = None,
) -> ByCaliper:
    """Predict what a caliper sheet measured, for a pull to its peak and back.

    Parameters
    ----------
    joint : Joint, path or mapping
        The joint, its case file, or the tables of one; its own path and stops are left aside.
    sheet : Sheet, mapping or path
        What was measured: as a sheet, the tables of one ("8.4 kN" as in the file), or the file.
    refine : float
    progress : callable, optional
        Called with the phase in words, the share of the whole that is done (0 to 1, never falling;
        an estimate) and the pull that the joint has reached (N, or None).

    Returns
    -------
    ByCaliper

    Raises
    ------
    BadInput
        If the joint or the sheet cannot be used.

    Examples
    --------
    >>> sheet = Sheet(8400.0, (Hole("ear 1", "mean", 4.1, 4.25),), pin_bend=0.02)
    >>> found = by_caliper("cases/demo/hard-pin.toml", sheet, refine=0.35)
    >>> 0.05 < found[0].predicted < 0.25
    True
    """
    joint = model.load(joint).until_it_gives()
    if not isinstance(sheet, Sheet):
        sheet = read(sheet) if isinstance(sheet, Mapping) else load(Path(sheet))
    settings = PullSettings(refine)
    watch = watching(joint, settings, progress)
    members = solve_members(joint, settings, progress=watch)
    history = pull_axial(joint, members, settings, watch)
    index = first_reach(history.load, sheet.peak)
    top = float(history.load.max())
    why = f"the prediction never reaches this peak: {top:,.0f} N at most" if index is None else ""
    rows = []
    names = names_along(joint)
    for hole in sheet.holes:
        grown = hole.after - hole.before
        what = f"{hole.where}, {hole.face}: hole longer by"
        found = None
        if index is None:
            rows.append(Beside(what, grown, None, why))
            continue
        if hole.where in names or (hole.where == "ear" and "ear 1" in names):
            plate = names.index(hole.where if hole.where in names else "ear 1")
            kept = _kept(members[plate], history, plate, index)
            found = _on_face(kept, hole.face, plate, names)
            rows.append(Beside(what, grown, found))
        else:
            rows.append(Beside(what, grown, None, f"this joint has no {hole.where}"))
    if sheet.pin_bend is not None:
        reading = JointReading(joint, members, history, settings.axial(joint))
        both = None if index is None or joint.pin.rigid else reading.kept_bend(index)
        bend = None if both is None else both[0]
        reason = why or ("the pin is rigid here" if joint.pin.rigid else "could not be let go")
        rows.append(
            Beside("pin keeps a sag of", sheet.pin_bend, bend,
                   "" if bend is not None else reason)
        )  # fmt: skip
    if progress is not None:
        progress("done", 1.0, top)
    return ByCaliper(sheet, tuple(rows))


def _kept(member: PlateInJoint, history: Any, plate: int, index: float) -> np.ndarray[Any, Any]:
    """Elongation that every slice of a plate keeps, by place along the pin, mm."""
    problem, points = history.problem, history.path.points
    last = int(index)
    travels = np.array([problem.slice_travels(p, plate) for p in points])
    share = index - last
    here = travels[last] + share * (travels[min(last + 1, len(travels) - 1)] - travels[last])
    deepest = np.maximum(np.maximum(travels[: last + 1].max(axis=0), here), 0.0)
    end = member.kept[0][-1]
    reader = SliceReader(member.history)
    inside = np.minimum(deepest, end)
    grown = reader.elongation(deepest) - reader.elongation(inside)
    return np.asarray(Monotone(*member.kept)(inside) + grown)


def _on_face(kept: np.ndarray[Any, Any], face: str, plate: int, names: tuple[str, ...]) -> float:
    """Read a face: extrapolate the two slices next to it by half a slice."""
    if face == "mean" or len(kept) < 2:
        return float(kept.mean())
    first = 1.5 * kept[0] - 0.5 * kept[1]
    last = 1.5 * kept[-1] - 0.5 * kept[-2]
    if names[plate] == "shank":
        return float(max(first, last)) if face == "inner" else float(min(first, last))
    inner = last if plate == 0 else first
    return float(max(inner if face == "inner" else (first if plate == 0 else last), 0.0))
