"""Small trials of the mesher, the solvers and the drawing, each in a process of its own.

Drawing without the system's OpenGL libraries ends in a segmentation fault, which no exception
handler can catch, so this file is also the program that the trial processes run; it imports
nothing of the package.
"""

from __future__ import annotations

import functools
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

PROBE_SECONDS = 120.0
"""Time a probe is given; a cold disk takes ten seconds to load the drawing library."""


@functools.cache
def can_render() -> bool:
    """Whether the drawing library draws a picture here without crashing."""
    return run_probe("render")[0]


def rendering_environment() -> dict[str, str]:
    """Environment for drawing off screen: EGL, quiet and quick, where there is no display."""
    environment = dict(os.environ)
    if sys.platform.startswith("linux") and not environment.get("DISPLAY"):
        environment.setdefault("VTK_DEFAULT_OPENGL_WINDOW", "vtkEGLRenderWindow")
    return environment


def run_probe(name: str) -> tuple[bool, str]:
    """Run one probe in a process of its own.

    Parameters
    ----------
    name : str
        A key of `PROBES`.

    Returns
    -------
    tuple of (bool, str)
        Whether it went well, and its last line of output or how it died.
    """
    # -P keeps this folder, whose module names are ours, out of the probe's import path.
    command = [sys.executable, "-P", str(Path(__file__).resolve()), name]
    try:
        done = subprocess.run(
            command,
            env=rendering_environment(),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=PROBE_SECONDS,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return False, f"no answer within {PROBE_SECONDS:.0f} s"
    if done.returncode < 0:
        return False, f"the process died of {signal.Signals(-done.returncode).name}"
    lines = (done.stdout if done.returncode == 0 else done.stderr or done.stdout).split("\n")
    last = next((line.strip() for line in reversed(lines) if line.strip()), "no message")
    return done.returncode == 0, last


def _probe_mesh() -> str:
    import gmsh

    gmsh.initialize(interruptible=False)
    gmsh.option.setNumber("General.Terminal", 0)
    gmsh.model.occ.addDisk(0.0, 0.0, 0.0, 1.0, 1.0)
    gmsh.model.occ.synchronize()
    gmsh.model.mesh.generate(2)
    triangles = len(gmsh.model.mesh.getElementsByType(2)[0])
    gmsh.finalize()
    return f"{gmsh.__version__}, a disc in {triangles} triangles"


def _probe_solver(name: str) -> str:
    import numpy as np
    import scipy
    import scipy.sparse as sp

    n = 400
    matrix = sp.csr_matrix(2.5 * np.eye(n) - np.eye(n, k=1) - np.eye(n, k=-1))
    load = np.ones(n)
    if name == "pardiso":
        import pypardiso

        found, version = pypardiso.spsolve(matrix, load), "answers"
    else:
        import scipy.sparse.linalg as spla

        found, version = spla.splu(matrix.tocsc()).solve(load), f"scipy {scipy.__version__}"
    residual = float(np.max(np.abs(matrix @ found - load)))
    if not residual < 1e-10:
        message = f"residual of a {n}-row system is {residual:.1e}"
        raise ArithmeticError(message)
    return f"{version}, residual {residual:.0e}"


def _probe_curves() -> str:
    import io

    import matplotlib as mpl

    mpl.use("Agg")
    from matplotlib import font_manager, pyplot

    font = font_manager.findfont("DejaVu Sans", fallback_to_default=False)
    figure, axes = pyplot.subplots()
    axes.plot([0.0, 1.0], [0.0, 1.0])
    axes.set_xlabel("hole elongation, mm (σ, ε, °)")
    buffer = io.BytesIO()
    figure.savefig(buffer, format="png")
    return f"{mpl.__version__}, {Path(font).name}, a picture of {len(buffer.getvalue())} bytes"


def _probe_render() -> str:
    import pyvista

    plotter = pyvista.Plotter(off_screen=True, window_size=[64, 64])
    plotter.add_mesh(pyvista.Disc(), color="black")
    picture = plotter.screenshot(return_img=True)
    plotter.close()
    if picture is None or int(picture.min()) == int(picture.max()):
        message = "the picture is empty"
        raise RuntimeError(message)
    return f"{pyvista.__version__}, a picture of {picture.shape[1]} x {picture.shape[0]} points"


def _probe_compiler() -> str:
    import numba

    doubled = numba.njit(lambda x: 2.0 * x)(21.0)
    return f"{numba.__version__}, twice 21 is {doubled:.0f}"


PROBES: dict[str, Callable[[], str]] = {
    "mesh": _probe_mesh,
    "superlu": functools.partial(_probe_solver, "superlu"),
    "pardiso": functools.partial(_probe_solver, "pardiso"),
    "curves": _probe_curves,
    "render": _probe_render,
    "compiler": _probe_compiler,
}
"""What this file tries when it is run as a program with the key as its only argument."""

if __name__ == "__main__":
    print(PROBES[sys.argv[1]]())
