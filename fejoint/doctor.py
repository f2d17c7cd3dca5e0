"""Whether this machine can mesh, solve and draw, and the exact line that mends what it cannot."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from fejoint.probes import run_probe
from fejoint.system_libraries import install_line, missing_libraries

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


@dataclass(frozen=True)
class Finding:
    """One thing tried: what it was, how it went, and what mends it."""

    what: str
    fine: bool
    detail: str
    mend: str = ""
    needed: bool = True

    def __str__(self) -> str:
        """One line, and a second one with the mend where there is one."""
        mark = "ok  " if self.fine else "FAIL" if self.needed else "none"
        line = f"{mark}  {self.what}: {self.detail}"
        return f"{line}\n      mend: {self.mend}" if self.mend else line


def find_browser() -> str | None:
    """Path of a Chromium for PDF reports and browser tests; ``FEJOINT_CHROMIUM`` comes first."""
    chosen = os.environ.get("FEJOINT_CHROMIUM")
    if chosen:
        return shutil.which(chosen)
    unpacked = Path(sys.prefix, "sysroot/usr/lib/chromium/chromium")
    application = Path("/Applications/Chromium.app/Contents/MacOS/Chromium")
    found = (shutil.which(name) for name in (*BROWSERS, str(unpacked), str(application)))
    return next((path for path in found if path), None)


def examine() -> tuple[Finding, ...]:
    """Try everything and return one finding for each thing tried."""
    return (
        _libraries_finding(),
        _probe_finding("mesher (gmsh)", "mesh"),
        _probe_finding("solver (SciPy SuperLU)", "superlu"),
        _pardiso_finding(),
        _probe_finding("curves and fonts (matplotlib)", "curves"),
        _render_finding(),
        _compiler_finding(),
        _browser_finding(),
    )


def healthy(findings: Iterable[Finding]) -> bool:
    """Whether everything that is needed works."""
    return all(finding.fine for finding in findings if finding.needed)


def _mend() -> str:
    """Return what mends a failed probe, from the likeliest cause to the last resort."""
    missing = missing_libraries()
    activate = Path(sys.prefix, "bin/activate")
    if missing and Path(sys.prefix, "sysroot").is_dir():
        return f". {activate}"
    if missing:
        return install_line(missing)
    return f"{sys.executable} -m pip install --force-reinstall fejoint"


def _libraries_finding() -> Finding:
    missing = missing_libraries()
    detail = "missing " + ", ".join(missing) if missing else "all found"
    return Finding("system libraries", not missing, detail, _mend() if missing else "")


def _probe_finding(what: str, name: str) -> Finding:
    fine, detail = run_probe(name)
    return Finding(what, fine, detail, "" if fine else _mend())


def _pardiso_finding() -> Finding:
    fine, detail = run_probe("pardiso")
    absent = "No module named 'pypardiso'" in detail
    if absent:
        detail = "not installed (no wheel for this machine?): SuperLU solves, about 5 x slower"
    again = "" if fine else f"{sys.executable} -m pip install --force-reinstall pypardiso mkl"
    return Finding("fast solver (pypardiso)", fine, detail, again, needed=False)


def _render_finding() -> Finding:
    fine, detail = run_probe("render")
    if fine:
        return Finding("field pictures (pyvista)", True, detail, needed=False)
    # The libraries may all be there with no driver behind them.
    mend = (
        _mend() if missing_libraries() else "sudo apt-get install -y libegl-mesa0 libgl1-mesa-dri"
    )
    plain = "; plain triangle plots are drawn instead"
    return Finding("field pictures (pyvista)", False, detail + plain, mend, needed=False)


def _compiler_finding() -> Finding:
    fine, detail = run_probe("compiler")
    if not fine and "No module named 'numba'" in detail:
        detail = "not installed: the plain numpy kernels are used"
    mend = "" if fine else f"{sys.executable} -m pip install 'fejoint[fast]'"
    return Finding("compiled kernels (numba)", fine, detail, mend, needed=False)


def _browser_finding() -> Finding:
    found = find_browser()
    detail = found or "no Chromium: PDF reports and browser tests are left out"
    mend = "" if found else "install Chromium, or set FEJOINT_CHROMIUM to its path"
    return Finding("browser", found is not None, detail, mend, needed=False)


def main() -> int:
    """Print what works and what mends the rest; return 0 when everything needed works, else 1."""
    findings = examine()
    print(*findings, sep="\n")
    return 0 if healthy(findings) else 1


if __name__ == "__main__":
    sys.exit(main())
