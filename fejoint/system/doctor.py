"""Whether this machine can mesh, solve and draw, and the exact line that mends what it cannot."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from functools import partial
from pathlib import Path

from fejoint.system.finding import Finding
from fejoint.system.probes import run_probe
from fejoint.system.surroundings import disk_finding, display_finding, threads_finding
from fejoint.system.system_libraries import driver_line, install_line, missing_libraries

_UNSET_SOLVER = "unset FEJOINT_SOLVER"
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


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
        _probe_finding("mesher (gmsh)", "mesh", "gmsh"),
        _probe_finding("solver (SciPy SuperLU)", "superlu", "numpy", "scipy"),
        _pardiso_finding(),
        _probe_finding("curves and fonts (matplotlib)", "curves", "matplotlib"),
        _render_finding(),
        _compiler_finding(),
        _browser_finding(),
        threads_finding(),
        display_finding(),
        disk_finding(),
    )


def healthy(findings: Iterable[Finding]) -> bool:
    """Whether everything that is needed works."""
    return all(finding.fine for finding in findings if finding.needed)


def _mend(*packages: str) -> str:
    """Return what mends a failed probe: the system's libraries first, then a new installation."""
    missing = missing_libraries()
    if missing and Path(sys.prefix, "sysroot").is_dir():
        return f". {Path(sys.prefix, 'bin/activate')}"
    if missing:
        return install_line(missing)
    return f"{sys.executable} -m pip install --force-reinstall {' '.join(packages)}"


def _libraries_finding() -> Finding:
    missing = missing_libraries()
    detail = "missing " + ", ".join(missing) if missing else "all found"
    return Finding("system libraries", not missing, detail, _mend() if missing else "")


def _probe_finding(what: str, name: str, *packages: str) -> Finding:
    fine, detail = run_probe(name)
    return Finding(what, fine, detail, "" if fine else _mend(*packages))


def _pardiso_finding() -> Finding:
    found = _probe_finding("fast solver (pypardiso)", "pardiso", "pypardiso", "mkl")
    if found.fine and os.environ.get("FEJOINT_SOLVER") == "superlu":
        detail = f"{found.detail}; but FEJOINT_SOLVER=superlu keeps it from use, for a slower one"
        return replace(found, fine=False, detail=detail, mend=_UNSET_SOLVER, needed=False)
    if found.fine:
        return replace(found, needed=False)
    return replace(
        found, detail=f"{found.detail}; SuperLU solves, several times slower", needed=False
    )


def _render_finding() -> Finding:
    found = _probe_finding("field pictures (pyvista)", "render", "pyvista", "vtk")
    if found.fine:
        return replace(found, needed=False)
    mend = found.mend
    imported = not found.detail.startswith(("ImportError", "ModuleNotFoundError"))
    if imported and not missing_libraries():
        # The libraries are all there, but with no driver behind them.
        mend = driver_line()
    detail = f"{found.detail}; plain triangle plots are drawn instead"
    return replace(found, detail=detail, mend=mend, needed=False)


def _compiler_finding() -> Finding:
    found = replace(_probe_finding("compiled kernels (numba)", "compiler", "numba"), needed=False)
    slower = "the kernels run in bare Python, about a hundred times slower"
    if not found.fine:
        return replace(found, detail=f"{found.detail}; {slower}")
    if os.environ.get("FEJOINT_COMPILED", "1") == "0":
        detail = f"{found.detail}, but FEJOINT_COMPILED=0 keeps it from use: {slower}"
        return replace(found, fine=False, detail=detail, mend="unset FEJOINT_COMPILED")
    from fejoint.kernel import compiled

    if not compiled.warm():
        detail = f"{found.detail}, but it cannot keep them: compiled anew in every process"
        mend = "set NUMBA_CACHE_DIR to a folder that can be written"
        cure = partial(_let_write, compiled.cache_folders())
        return replace(found, fine=False, detail=detail, mend=mend, cure=cure)
    if compiled.made_anew():
        detail = f"{found.detail}; {compiled.made_anew()} were damaged on disk and are made anew"
        return replace(found, detail=detail)
    return found


def _let_write(folders: Iterable[Path]) -> bool:
    """Let this user write the folders of machine code that are his; True if one can be written."""
    for folder in folders:
        with suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
            folder.chmod(folder.stat().st_mode | 0o700)
            with tempfile.TemporaryFile(dir=folder):
                return True
    return False


def _browser_finding() -> Finding:
    found = find_browser()
    detail = found or "no Chromium: PDF reports and browser tests are left out"
    mend = "" if found else "install Chromium, or set FEJOINT_CHROMIUM to its path"
    return Finding("browser", found is not None, detail, mend, needed=False)


def main(*, mend: bool = False) -> int:
    """Print what works and what mends the rest.

    Parameters
    ----------
    mend : bool
        Mend at once what can be mended without the user.

    Returns
    -------
    int
        0 when everything needed works, else 1.
    """
    findings = examine()
    print(*findings, sep="\n")
    for finding in findings if mend else ():
        if finding.cure is not None:
            done = finding.cure()
            print(f"{finding.what}: " + ("mended" if done else "cannot be mended from here"))
    return 0 if healthy(findings) else 1


if __name__ == "__main__":
    sys.exit(main())
