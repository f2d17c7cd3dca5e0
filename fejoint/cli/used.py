"""`fejoint used`."""

from __future__ import annotations

from fejoint.cli import console
from fejoint.cli.options import CASE_DEFAULTS, Case, CaseOptions


def used(case: Case, /, *, kept: str, given: CaseOptions = CASE_DEFAULTS) -> int:
    """Say what a joint whose hole has stretched already still bears.

    Parameters
    ----------
    case
        The case file of the joint when it was new.
    kept
        How much longer the hole in each ear is than when it was new, for example "0.1 mm".
    """
    from fejoint.cli.pull import code_of, show
    from fejoint.inputs.fields import quantity
    from fejoint.studies import used_joint

    joint = given.read(case).joint
    length = quantity("--kept", kept, "length", 0.0, 500.0)
    answer = used_joint.used(joint, length, refine=given.refine)
    if given.as_json:
        console.say_json_text(answer.to_json())
    else:
        show(answer, [])
    return code_of(answer.trust.finished, str(answer.trust.stopped_because))
