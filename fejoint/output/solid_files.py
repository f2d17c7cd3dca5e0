"""What a solid ear becomes on disk: fields for any VTK reader, load curves, and the dished end."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from fejoint.analysis.solid_ear import AWAY, TOWARDS, SolidAnswer
from fejoint.arrays import Floats
from fejoint.files import write_atomically
from fejoint.output.pictures import theme as look
from fejoint.output.result_files import write_grid
from fejoint.sections.solid.fields import SolidFields, fields
from fejoint.system import probes

SIGHT = (0.55, -0.75, 0.42)
"""Where the eye is, seen from the hole: beside the end, a little above the face."""
PIXELS = (1800, 900)


def write_each(answer: SolidAnswer, folder: Path) -> Iterator[Path]:
    """Write fields and pictures one after another, and yield their paths.

    Raises
    ------
    BadInput
        If a file cannot be written.
    """
    if not answer.solids:
        return
    history = answer.worst
    bent = fields(history.problem, history.path.points[-1])
    yield write_fields(bent, folder / "solid.vtu")
    yield draw_curves(answer, folder / "solid-curve.png")
    if answer.flat is not None and probes.can_render():
        flat = fields(answer.flat.problem, answer.flat.path.points[-1])
        yield draw_ends(bent, flat, answer, folder / "solid.png")


def write_fields(found: SolidFields, path: Path) -> Path:
    """Write fields as VTU, 20-node hexahedra at rest with their displacements."""
    import meshio

    grid = meshio.Mesh(
        found.points,
        [("hexahedron20", found.bricks)],
        point_data={
            "displacement_mm": found.displacement,
            "plastic_strain": found.plastic_strain,
            "von_mises_MPa": found.von_mises,
        },
    )
    return write_grid(grid, path)


def draw_curves(answer: SolidAnswer, path: Path) -> Path:
    """Draw load against the hole's elongation, in the plane and in the round."""
    theme = look.theme("print")
    with look.styled(theme):
        figure = look.page_figure((1200, 800))
        axes = figure.add_axes((0.12, 0.14, 0.84, 0.8))
        plane = answer.plane
        axes.plot(plane.elongation, plane.load, color=theme.quiet, label="in its plane")
        for name, style in ((AWAY, "-"), (TOWARDS, "--")):
            if name in answer.solids:
                h = answer.solids[name]
                axes.plot(h.elongation, h.load, style, color=theme.mark, label=f"solid, {name}")
                if h.leaves is not None:
                    at = float(
                        np.interp(0.1 * answer.case.thickness, abs(h.deflection), h.elongation)
                    )
                    axes.plot([at], [h.leaves], "o", color=theme.mark, ms=4)
        axes.set_xlabel("hole longer by, mm")
        axes.set_ylabel("load on the ear, N")
        axes.set_xlim(left=0.0)
        axes.set_ylim(bottom=0.0)
        axes.legend(frameon=False, loc="lower right")
        return look.save(figure, path, 1200)


def draw_ends(bent: SolidFields, flat: SolidFields, answer: SolidAnswer, path: Path) -> Path:
    """Draw the dished ear beside the one kept in its plane, deformed, by plastic strain."""
    os.environ.update(probes.rendering_environment())
    import pyvista

    theme = look.theme("print")
    plotter = pyvista.Plotter(off_screen=True, window_size=list(PIXELS), shape=(1, 2), border=False)
    reach = answer.case.outline.hole
    top = float(max(_near(f, reach).max() for f in (bent, flat)))
    colours = look.colours("plastic", theme)
    names = (
        f"solid, at {answer.worst.load[-1]:,.0f} N", "kept in its plane, same pin travel",
    )  # fmt: skip
    for k, (found, name) in enumerate(zip((bent, flat), names, strict=True)):
        plotter.subplot(0, k)
        plotter.set_background(theme.paper)
        plotter.add_mesh(
            _skin(found, 0.55 * answer.case.outline.width), scalars="plastic strain", cmap=colours,
            clim=[0.0, top], show_scalar_bar=k == 1, ambient=0.4, diffuse=0.7, specular=0.0,
            scalar_bar_args={"color": theme.ink, "title": "plastic strain\n", "fmt": "%.2f"},
        )  # fmt: skip
        plotter.add_text(name, color=theme.ink, font_size=12)
        plotter.enable_parallel_projection()
        plotter.view_vector(SIGHT, viewup=(0.0, 0.0, 1.0))
        plotter.camera.zoom(1.15)
    image = plotter.screenshot(return_img=True)
    plotter.close()
    from PIL import Image

    data = io.BytesIO()
    Image.fromarray(image).save(data, "PNG")
    write_atomically(path, data.getvalue())
    return path


def _near(found: SolidFields, reach: float) -> Floats:
    """Plastic strains near the hole, without the few highest nodes."""
    close = np.hypot(found.points[:, 0], found.points[:, 1]) < reach
    return np.asarray(np.quantile(found.plastic_strain[close], [0.99]))


def _skin(found: SolidFields, back: float) -> Any:
    """Return the deformed surface of the end, cut off towards the grip by whole elements."""
    import pyvista

    keep = found.points[found.bricks[:, :8], 0].mean(axis=1) > -back
    bricks = found.bricks[keep]
    cells = np.column_stack([np.full(len(bricks), 20), bricks]).reshape(-1)
    kinds = np.full(len(bricks), pyvista.CellType.QUADRATIC_HEXAHEDRON, np.uint8)
    grid = pyvista.UnstructuredGrid(cells, kinds, found.points + found.displacement)
    grid["plastic strain"] = found.plastic_strain
    return grid.extract_surface(nonlinear_subdivision=2, algorithm="dataset_surface")
