"""`fejoint doctor`."""

from __future__ import annotations


def doctor() -> int:
    """Try the mesher, a probe picture and the solvers; print the line that mends what fails."""
    from fejoint.system import doctor as examination

    return examination.main()
