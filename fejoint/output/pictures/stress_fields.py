"""Stress and plastic strain about the hole, on the part as it is pulled out of shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis.definitions import end_words
from fejoint.analysis.odds import both_as_sure
from fejoint.analysis.result import Answer
from fejoint.arrays import Floats
from fejoint.inputs.units import both_units, figures
from fejoint.materials.material import Material
from fejoint.output.field_snapshot import Snapshot, of_part
from fejoint.output.pictures import panels, yield_front
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.picture import Picture, member_of, weakest_ear
from fejoint.output.pictures.triangulation import Patchwork, outline, rings
from fejoint.sections.face.pull import FaceHistory

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation

UNEVEN = 0.02
"""Share by which a plate bears other than it does by itself before the caption says so."""


@dataclass(frozen=True)
class _Quantity:
    """What a field picture shows: a snapshot's field less a base, times a factor, and its name."""

    field: str
    factor: float
    label: str
    base: float = 0.0

    def of(self, shot: Snapshot) -> Floats:
        """Return the values at the nodes."""
        return np.asarray(self.factor * (getattr(shot, self.field) - self.base))


QUANTITIES = {
    "stress": _Quantity("von_mises", 1.0, "equivalent true stress (von Mises), MPa"),
    "plastic": _Quantity(
        "plastic_strain", 100.0, "equivalent plastic strain, % (square-root scale)"
    ),
    "thickness": _Quantity("thickness_ratio", 100.0, "change of thickness, %", 1.0),
}


def draw(figure: Figure, answer: Answer, name: str, what: str, theme: look.Theme) -> None:
    """Draw a field at the offset load and at the end to one scale, side by side where it fits.

    Parameters
    ----------
    figure : Figure
        Empty.
    answer : Answer
        With its solved sections.
    name : str
        Of the part: a key of `answer.faces`.
    what : {"stress", "plastic", "thickness"}
    theme : Theme
    """
    shots = of_part(answer, name)
    quantity = QUANTITIES[what]
    box = window(answer.faces[name], shots)
    norm = scale(what, [shown(s, quantity, box) for s in shots])
    captions = _captions(answer, name, shots, figure.get_size_inches()[0])
    draw_shots(figure, answer, name, shots, captions, what, norm, box, theme)


def tall(answer: Answer, name: str, what: str, width: float) -> float:
    """Return the height of `draw`'s picture on a width, inches."""
    shots = of_part(answer, name)
    box = window(answer.faces[name], shots)
    captions = _captions(answer, name, shots, width)
    ratio = (box[3] - box[2]) / (box[1] - box[0])
    return panels.tall(captions, ratio, label_of(what, shots), width)


def _captions(answer: Answer, name: str, shots: Sequence[Snapshot], width: float) -> list[str]:
    return [panels.captioned(caption(s, answer, name), width, len(shots)) for s in shots]


def label_of(what: str, shots: Sequence[Snapshot]) -> str:
    """Return what the bar below the panels says."""
    label = QUANTITIES[what].label
    if what == "stress" and any(map(_front_shown, shots)):
        label += f"; {yield_front.SAID}"
    if what == "thickness":
        label += "; line: a quarter of the scale, dashed where thinner"
    return label


def draw_shots(
    figure: Figure,
    answer: Answer,
    name: str,
    shots: Sequence[Snapshot],
    captions: Sequence[str],
    what: str,
    norm: Normalize,
    box: tuple[float, float, float, float],
    theme: look.Theme,
    *,
    top: float = panels.TOP,
) -> None:
    """Draw snapshots of one plate in one window and to one scale, a caption under each.

    Above each panel `top` inches are left free.
    """
    quantity, history = QUANTITIES[what], answer.faces[name]
    label = label_of(what, shots)
    for k, place in enumerate(panels.places(figure, captions, label, top)):
        axes = figure.add_axes(place)
        image = _panel(axes, history, shots[k], quantity, norm, theme, what, box)
        if k == 0:
            scale_bar(axes, theme, box)
    if what == "plastic":
        panels.bar(figure, image, label, strain_ticks(float(norm.vmax or 1.0)))
    else:
        metal = metal_of(answer, name)
        panels.even_bar(figure, image, label, strength_marks(metal) if what == "stress" else ())


def metal_of(answer: Answer, name: str) -> Material:
    """Return the metal of the plate of a face section."""
    joint = answer.joint
    if name == "shank":
        return joint.shank.material
    return joint.ears[1 if name == "ear 2" else 0].material


def strength_marks(metal: Material) -> list[tuple[str, float]]:
    """Return what is marked on a scale of true stress, MPa: tensile strength is engineering's."""
    true = metal.rm * (1.0 + metal.uniform_strain)
    return [("Rp0.2", metal.rp02), ("Rm, true", true)]


def _panel(
    axes: Axes,
    history: FaceHistory,
    shot: Snapshot,
    quantity: _Quantity,
    norm: Normalize,
    theme: look.Theme,
    what: str,
    box: tuple[float, float, float, float],
) -> Any:
    from matplotlib.tri import Triangulation

    mesh, now = shot.mesh, shot.deformed
    triangles = mesh.triangles[mesh.regions["ear"]]
    patches = Patchwork.of(mesh.points, triangles)
    values = patches(quantity.of(shot))
    x, y = patches(now).T
    fine = Triangulation(x, y, patches.corners)
    axes.set(xlim=box[:2], ylim=box[2:], aspect="equal")
    axes.set_axis_off()
    for ring in rings(triangles):
        at_rest = outline(ring, mesh.points)
        axes.plot(*at_rest.T, color=theme.quiet, lw=0.6, ls=(0, (4, 3)), zorder=1)
    image = axes.tripcolor(
        fine, values, shading="gouraud", cmap=look.colours(what, theme),
        norm=norm, rasterized=True, zorder=2,
    )  # fmt: skip
    shapes = [outline(ring, now) for ring in rings(triangles)]
    for shape in shapes:
        axes.plot(*shape.T, color=theme.ink, lw=0.9, zorder=4)
    if what == "stress" and _front_shown(shot):
        edges = np.vstack([*shapes, pin_outline(shot)])
        size = history.problem.case.outline.hole
        strain = patches(shot.plastic_strain)
        yield_front.draw(axes, fine, strain, theme, size, edges=edges)
    if what == "thickness":
        _quarter_lines(axes, fine, values, float(norm.vmax or 0.0), theme)
    _pin(axes, shot, theme)
    _pull_arrow(axes, history, shot, theme)
    return image


def _quarter_lines(
    axes: Axes, mesh: Triangulation, values: Floats, most: float, theme: look.Theme
) -> None:
    """Draw lines at a quarter of the scale either way: in grey its two ends are alike."""
    for level, dash in ((0.25 * most, "solid"), (-0.25 * most, (0, (3, 2)))):
        if values.min() < level < values.max():
            axes.tricontour(mesh, values, levels=[level], colors=theme.ink, linewidths=0.6,
                            linestyles=[dash], zorder=3)  # fmt: skip


def _pin(axes: Axes, shot: Snapshot, theme: look.Theme) -> None:
    """Draw the pin, plain: the field is the plate's."""
    shape = pin_outline(shot)
    cx, cy = shape[:-1].mean(axis=0)
    radius = 0.5 * float(np.ptp(shape[:, 1]))
    axes.fill(*shape.T, facecolor=theme.steel, edgecolor=theme.ink, lw=0.9, zorder=5)
    arm = 0.16 * radius
    axes.plot([cx - arm, cx + arm], [cy, cy], color=theme.ink, lw=0.6, zorder=6)
    axes.plot([cx, cx], [cy - arm, cy + arm], color=theme.ink, lw=0.6, zorder=6)


def pin_outline(shot: Snapshot) -> Floats:
    """Return the pin's rim as it is now, a closed polygon (k, 2), mm."""
    if shot.pin_circle is not None:
        cx, cy, radius = shot.pin_circle
        turn = np.linspace(0.0, 2.0 * np.pi, 181)
        return np.column_stack([cx + radius * np.cos(turn), cy + radius * np.sin(turn)])
    pin = shot.mesh.triangles[shot.mesh.regions["pin"]]
    return outline(rings(pin)[0], shot.deformed)


def _pull_arrow(axes: Axes, history: FaceHistory, shot: Snapshot, theme: look.Theme) -> None:
    """Draw the pull as an arrow out of the pin's middle."""
    start = pin_outline(shot)[:-1].mean(axis=0)
    radius = 0.5 * history.problem.case.pin_diameter
    d = history.problem.direction
    axes.annotate(
        "",
        xy=tuple(start + 0.86 * radius * d),
        xytext=tuple(start + 0.24 * radius * d),
        arrowprops={"arrowstyle": "-|>,head_width=0.16,head_length=0.32", "color": theme.ink,
                    "lw": 1.0, "shrinkA": 0, "shrinkB": 0},
        zorder=7,
    )  # fmt: skip


def scale_bar(axes: Axes, theme: look.Theme, box: tuple[float, float, float, float]) -> None:
    """Draw a scale bar of a round length into the lower left corner."""
    length = look.rounded(0.24 * (box[1] - box[0]))
    x, y = box[0] + 0.02 * (box[1] - box[0]), box[2] + 0.03 * (box[3] - box[2])
    tick = 0.012 * (box[3] - box[2])
    axes.plot(
        x + length * np.array([0.0, 0.0, 0.0, 1.0, 1.0, 1.0]),
        y + tick * np.array([-1.0, 1.0, 0.0, 0.0, 1.0, -1.0]),
        color=theme.ink, lw=0.8, zorder=8,
    )  # fmt: skip
    beside = x + length + 0.015 * (box[1] - box[0])
    axes.text(beside, y, f"{length:g} mm", fontsize=7.5, va="center", ha="left")


def _front_shown(shot: Snapshot) -> bool:
    """Whether the yielded metal is an island; where nearly all has yielded its rim says little."""
    nodes = np.unique(shot.mesh.triangles[shot.mesh.regions["ear"]])
    near = nodes[shot.mesh.points[nodes, 0] > -0.5 * float(np.ptp(shot.mesh.points[nodes, 1]))]
    return 0.0 < float(np.mean(shot.plastic_strain[near] > yield_front.YIELDED)) < 0.7


def caption(shot: Snapshot, answer: Answer, name: str) -> tuple[str, ...]:
    """Say the moment, the joint's pull and the hole's growth, and what bearing is drawn."""
    said = {
        "offset load": "at the offset load",
        "end": f"at the end of the pull: {end_words(answer.trust.stopped_because)}",
    }.get(shot.moment, shot.moment)
    plate = member_of(answer, name)
    hole = f"{hole_in(plate)} {shot.elongation:.{look.places(shot.elongation)}f} mm longer"
    if shot.pull is None or shot.borne is None:
        return said, f"{both_units(shot.load)} on {plate}, {hole}"
    told = [said, f"pull {both_as_sure(shot.pull, answer.odds)}, {hole}"]
    if abs(shot.load - shot.borne) > UNEVEN * shot.load:
        told.append(
            f"drawn with even bearing, which takes {figures(shot.load)} N on {plate}; in the joint "
            f"it bears {figures(shot.borne)} N, more at one face"
        )
    return tuple(told)


def hole_in(plate: str) -> str:
    """Name a plate's hole, with the plate where the joint has another like it."""
    return "hole" if plate in ("the ear", "each ear") else f"hole in {plate}"


def window(history: FaceHistory, shots: Sequence[Snapshot]) -> tuple[float, float, float, float]:
    """Return what is shown, mm: the hole, the end and a stretch towards the grip."""
    o = history.problem.case.outline
    moved = shots[-1].deformed
    right = max(float(moved[:, 0].max()), o.edge_distance)
    left = -o.grip_length if o.drawn else -min(max(0.62 * o.width, 1.5 * o.hole), o.grip_length)
    low, high = float(moved[:, 1].min()), float(moved[:, 1].max())
    low, high = min(low, -0.5 * o.width), max(high, 0.5 * o.width)
    edge = 0.03 * (right - left)
    return left, right + edge, low - 2.6 * edge, high + edge


def shown(shot: Snapshot, quantity: _Quantity, box: tuple[float, float, float, float]) -> Floats:
    """Return the plate's values inside the window."""
    nodes = np.unique(shot.mesh.triangles[shot.mesh.regions["ear"]])
    x = shot.deformed[nodes, 0]
    return np.asarray(quantity.of(shot)[nodes[x >= box[0]]])


def scale(what: str, shown: Sequence[Floats]) -> Normalize:
    """Return one scale for every panel; strains on a square-root scale, to show small ones."""
    from matplotlib.colors import Normalize, PowerNorm

    if what == "thickness":
        most = max(float(np.quantile(np.abs(v), 0.998)) for v in shown)
        return Normalize(-max(most, 1.0), max(most, 1.0), clip=True)
    top = max(float(np.quantile(v, 0.998)) for v in shown)
    if what == "plastic":
        return PowerNorm(0.5, 0.0, max(top, 1.0), clip=True)
    return Normalize(0.0, max(top, 1.0), clip=True)


def strain_ticks(top: float) -> list[float]:
    """Return strains (%) that stand clear of each other on a square-root scale."""
    ticks, last = [0.0], 0.0
    for t in (0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 150.0, 200.0, 300.0):
        place = (t / top) ** 0.5
        if t <= top and place - last > 0.09:
            ticks.append(t)
            last = place
    return ticks


def _of(what: str) -> dict[str, Any]:
    """Return the functions of a picture of the weakest ear."""
    return {
        "draw": lambda figure, answer, theme: draw(
            figure, answer, weakest_ear(answer), what, theme
        ),
        "tall": lambda answer, width: tall(answer, weakest_ear(answer), what, width),
    }


SIZE = (1800, 940)
PICTURES = (
    Picture(
        "stress", "stress", "Stress about the hole at the offset load and at the end", SIZE,
        "sections", file="stress.png", rank=3, **_of("stress"),
    ),
    Picture(
        "plastic", "plastic strain", "Plastic strain about the hole, the same two moments", SIZE,
        "sections", file="plastic-strain.png", rank=4, **_of("plastic"),
    ),
    Picture("thickness", "", "", SIZE, "sections", rank=6, **_of("thickness")),
)  # fmt: skip
