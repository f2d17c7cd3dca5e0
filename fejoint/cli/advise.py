"""`fejoint advise`."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fejoint.cli import console
from fejoint.cli.options import STUDY_DEFAULTS, Case, StudyOptions, Texts
from fejoint.errors import BadInput, Fault
from fejoint.inputs.units import both_units, figures

if TYPE_CHECKING:
    from fejoint.studies.sweeps.design_changes import Advice, Change


def advise(
    case: Case,
    /,
    *,
    target: str,
    margin: str = "0 %",
    limit: Texts = (),
    only: Texts = (),
    picture: Path | None = None,
    given: StudyOptions = STUDY_DEFAULTS,
) -> int:
    """Say the smallest change of one dimension, and of two, by which a joint carries a pull.

    Parameters
    ----------
    target
        The pull below which nothing may give, for example "900 kgf".
    margin
        By how much the target is to be passed, for example "10 %".
    limit
        How far a dimension may go, for example "ear.width=12:16 mm"; 40 % either way if left out.
        It may be given once for each dimension.
    only
        A dimension that may change, such as ear.width; all of them if left out. It may be given
        several times.
    picture
        A file for a picture of the loads before and after: PNG, SVG or PDF, by its suffix.

    Returns
    -------
    int
        1 if no change within the limits reaches the target.
    """
    from fejoint import files
    from fejoint.inputs.fields import quantity
    from fejoint.output.pictures import theme as look
    from fejoint.studies.sweeps import design_changes, variation

    joint = given.read(case).joint
    if picture is not None:
        look.check_suffix(picture)
        files.make_ready(picture.parent)
    limits = [variation.parse(each) for each in limit]
    for v in limits:
        if not v.is_range:
            raise BadInput(Fault("--limit", v.path, "must be LOW:HIGH UNIT", 'as "10:18 mm"'))
    tell = None if given.as_json else lambda phase, *_: console.warn(phase)
    found = design_changes.advise(
        joint, quantity("--target", target, "force"), margin=quantity("--margin", margin,
        "number"), limits=limits, only=only, refine=given.refine, workers=given.workers,
        scheduler=given.scheduler, progress=tell,
    )  # fmt: skip
    if picture is not None:
        look.save(found.plot(title=joint.title), picture)
    if given.as_json:
        console.say_json(_to_dict(found), indent=None)
    else:
        _show(found)
        console.wrote(*([picture] if picture is not None else []))
    return 0 if found.reached or found.single or found.double else 1


def _show(found: Advice) -> None:
    from fejoint.analysis import definitions

    goal = both_units(found.goal)
    now = found.present
    gives = (
        f"nothing gives up to {both_units(now['nothing_up_to_N'])}" if now["load_N"] is None
        else f"{definitions.named(now['mode'])} at {both_units(now['load_N'])}"
    )  # fmt: skip
    console.say(f"as it is: {gives}; to be reached: {goal}")
    if found.reached:
        console.say("the joint as it is reaches it: nothing needs to change")
        return
    for title, changes in (("one dimension", found.single), ("two dimensions", found.double)):
        console.say("", f"{title}:" if changes else f"{title}: none found within the limits")
        for change in changes:
            console.say(f"  {change.words}")
            console.say(f"    {_consequences(change, found.present)}")
    for name, best in found.short.items():
        console.say(f"{name} alone does not reach it: {both_units(best)} at best within its limits")
    console.say(f"{found.solves} joints solved; every change above was pulled again on its own")


def _consequences(change: Change, before: Mapping[str, Any]) -> str:
    from fejoint.analysis import definitions

    after = change.row
    said = [f"gives at {both_units(after['load_N'])}"]
    same = after["mode"] == before["mode"] and after["part"] == before["part"]
    mode = definitions.named(after["mode"])
    said.append(f"still {mode}" if same else f"now {mode}")
    said.append(f"weight {after['weight_g'] - before['weight_g']:+.1f} g")
    for column, name in (("permanent_set_2pc_N", "load that leaves 2 %"),):
        if after.get(column) and before.get(column):
            said.append(f"{name} {figures(after[column])} N (was {figures(before[column])} N)")
    bends = (after.get("permanent_bend_mm"), before.get("permanent_bend_mm"))
    if all(isinstance(b, float) for b in bends):
        said.append(f"bend left in the pin {bends[0]:.3f} mm then (was {bends[1]:.3f} mm)")
    if after.get("pin_flattens") and not before.get("pin_flattens"):
        said.append("the pin then flattens in its holes before that: see `fejoint pin-range`")
    return "; ".join(said)


def _to_dict(found: Advice) -> dict[str, Any]:
    def told(change: Change) -> dict[str, Any]:
        return {
            "change": [
                {"dimension": d.path, "from": d.value, "to": v, "unit": d.unit}
                for d, v in zip(change.dimensions, change.values, strict=True)
            ],
            "changes": dict(
                each
                for d, v in zip(change.dimensions, change.values, strict=True)
                for each in d.changes(v)
            ),
            "size": change.size,
            "case": change.joint.to_dict(),
            "row": dict(change.row),
        }

    return {
        "target_N": found.target, "margin": found.margin, "goal_N": found.goal,
        "present": dict(found.present), "reached": found.reached,
        "one_dimension": [told(c) for c in found.single],
        "two_dimensions": [told(c) for c in found.double],
        "out_of_reach_alone": found.short, "solves": found.solves,
    }  # fmt: skip
