"""`fejoint doctor`."""

from __future__ import annotations

from fejoint.cli.options import Flag


def doctor(*, mend: Flag = False) -> int:
    """Try the mesher, a probe picture and the solvers; print the line that mends what fails.

    Parameters
    ----------
    mend
        Mend at once what can be mended from here: a folder of machine code that cannot be written.
    """
    from fejoint.system import doctor as examination

    return examination.main(mend=mend)
