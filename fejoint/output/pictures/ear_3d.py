"""The ear in the round at the end of the pull: where it has thinned, and where it has heaped up.

The one picture that needs a third dimension, and so the one that pyvista draws: off screen, and
only after a trial in a process of its own, because on a bare machine drawing ends in a crash that
no exception can catch. Where the trial fails the ear is drawn flat, coloured by its thickness.
"""

from __future__ import annotations

import os
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis.result import Answer
from fejoint.arrays import Floats
from fejoint.output.field_snapshot import Snapshot, of_part
from fejoint.output.pictures import panels, stress_fields
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.picture import Picture, weakest_ear
from fejoint.output.pictures.triangulation import Patchwork, outline, rings
from fejoint.system import probes

if TYPE_CHECKING:
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

SIGHT = (0.42, -0.72, 0.62)
"""Where the eye is, seen from the hole: beside the end, above the face."""
SAMPLES = 8
"""Samples a pixel, so that edges are smooth."""


def draw(figure: Figure, answer: Answer, name: str, theme: look.Theme) -> None:
    """Draw a plate as a body of its present thickness, coloured by plastic strain.

    Parameters
    ----------
    figure : Figure
        Empty.
    answer : Answer
        With its solved sections.
    name : str
        Of the part: a key of `answer.faces`.
    theme : Theme
    """
    if not probes.can_render():
        stress_fields.draw(figure, answer, name, "thickness", theme)
        return
    from matplotlib.cm import ScalarMappable

    history = answer.faces[name]
    shot = of_part(answer, name)[-1]
    box = stress_fields.window(history, [shot])
    norm = stress_fields.scale(
        "plastic", [stress_fields.shown(shot, stress_fields.QUANTITIES["plastic"], box)]
    )
    width, height = figure.get_size_inches()
    caption, label = _words(shot, answer, name, width), stress_fields.QUANTITIES["plastic"].label
    ((left, foot, wide, high),) = panels.places(figure, [caption], label)
    pixels = (round(250 * wide * width), round(250 * high * height))
    image = _rendered(shot, history.problem.case.thickness, box[0], norm, theme, pixels)
    axes = figure.add_axes((left, foot, wide, high))
    axes.set_axis_off()
    axes.imshow(image, interpolation="antialiased", aspect="equal")
    panels.bar(
        figure, ScalarMappable(norm, look.colours("plastic", theme)), label,
        stress_fields.strain_ticks(float(norm.vmax or 1.0)),
    )  # fmt: skip


def _words(shot: Snapshot, answer: Answer, name: str, width: float) -> str:
    """Return the caption, wrapped."""
    ratios = shot.thickness_ratio[np.unique(shot.mesh.triangles[shot.mesh.regions["ear"]])]
    t = answer.faces[name].problem.case.thickness
    said = stress_fields.caption(shot, answer, name)
    thickness = (
        f"sheet of {t:g} mm, now {t * ratios.min():.2f} mm at the thinnest and "
        f"{t * ratios.max():.2f} mm at the thickest; true to scale"
    )
    return panels.captioned(["; ".join(said), thickness], width, 1)


def tall(answer: Answer, width: float) -> float:
    """Return the height of the weakest ear's picture on a width, inches."""
    name = weakest_ear(answer)
    shot = of_part(answer, name)[-1]
    if not probes.can_render():
        return stress_fields.tall(answer, name, "thickness", width)
    label = stress_fields.QUANTITIES["plastic"].label
    return panels.tall([_words(shot, answer, name, width)], 0.46, label, width)


def _rendered(
    shot: Snapshot,
    thickness: float,
    left: float,
    norm: Normalize,
    theme: look.Theme,
    pixels: tuple[int, int],
) -> Any:
    """Return the picture as an array of pixels."""
    os.environ.update(probes.rendering_environment())
    import pyvista

    plotter = pyvista.Plotter(off_screen=True, window_size=list(pixels), lighting="none")
    plotter.enable_anti_aliasing("msaa", multi_samples=SAMPLES)
    plotter.set_background(theme.paper)
    lamp = pyvista.Light(position=(-0.5, 1.0, 0.55), light_type="camera light", intensity=0.55)
    plotter.add_light(lamp)
    plotter.add_light(pyvista.Light(light_type="headlight", intensity=0.3))
    body, edges = _body(shot, thickness, left)
    colours = np.asarray(look.colours("plastic", theme)(norm(100.0 * body["strain"])))
    body["colour"] = (255.0 * colours[:, :3]).astype(np.uint8)
    matt = {"ambient": 0.58, "diffuse": 0.62, "specular": 0.0}
    plotter.add_mesh(body, scalars="colour", rgb=True, **matt)
    plotter.add_mesh(_pin(shot, thickness), color=theme.steel, **matt)
    for line in edges:
        plotter.add_mesh(pyvista.lines_from_points(line), color=theme.ink, line_width=2.4)
    plotter.enable_parallel_projection()
    plotter.view_vector(SIGHT, viewup=(0.0, 0.0, 1.0))
    plotter.camera.zoom(1.55)
    picture = plotter.screenshot(return_img=True)
    plotter.close()
    return picture


def _body(shot: Snapshot, thickness: float, left: float) -> tuple[Any, list[Floats]]:
    """Return the plate's skin with its strain, and its edges as lines."""
    import pyvista

    mesh, now = shot.mesh, shot.deformed
    triangles = mesh.triangles[mesh.regions["ear"]]
    # whole elements only: the cut towards the grip follows their sides
    triangles = triangles[now[triangles[:, :3], 0].mean(axis=1) > left]
    patches = Patchwork.of(mesh.points, triangles)
    flat = patches(now)
    half = 0.5 * thickness * patches(shot.thickness_ratio)
    n = len(flat)
    skin = np.vstack([np.column_stack([flat, half]), np.column_stack([flat, -half])])
    faces = [patches.corners, patches.corners[:, ::-1] + n]
    strain = patches(shot.plastic_strain)
    points, values, lines = [skin], [np.tile(strain, 2)], []
    count = 2 * n
    for ring in rings(triangles):
        loop = outline(ring, now)
        wall = outline(ring, 0.5 * thickness * shot.thickness_ratio[:, None])[:, 0]
        rim = outline(ring, shot.plastic_strain[:, None])[:, 0]
        m = len(loop)
        upper, lower = np.column_stack([loop, wall]), np.column_stack([loop, -wall])
        k = count + np.arange(m - 1)
        faces += [np.column_stack([k, k + m, k + 1]), np.column_stack([k + 1, k + m, k + m + 1])]
        points += [upper, lower]
        values.append(np.tile(rim, 2))
        count += 2 * m
        lines += [upper, lower]
    triangle = np.vstack(faces)
    cells = np.column_stack([np.full(len(triangle), 3), triangle]).ravel()
    body = pyvista.PolyData(np.vstack(points), cells)
    body["strain"] = np.maximum(np.concatenate(values), 0.0)
    return body, lines


def _pin(shot: Snapshot, thickness: float) -> Any:
    """Return the pin as a short bar that stands out on both sides."""
    import pyvista

    shape = stress_fields.pin_outline(shot)
    reach = 1.1 * thickness
    base = pyvista.PolyData(
        np.column_stack([shape[:-1], np.full(len(shape) - 1, -reach)]),
        np.concatenate([[len(shape) - 1], np.arange(len(shape) - 1)]),
    )
    return base.extrude((0.0, 0.0, 2.0 * reach), capping=True).compute_normals(
        split_vertices=True, feature_angle=40.0
    )


def _of_weakest(figure: Figure, answer: Answer, theme: look.Theme) -> None:
    draw(figure, answer, weakest_ear(answer), theme)


PICTURES = (Picture("relief", "", "", (1800, 1100), "sections", _of_weakest, rank=7, tall=tall),)
