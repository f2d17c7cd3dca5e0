"""Stress and plastic strain about the hole, on the part as it is pulled out of shape."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis.result import Answer
from fejoint.arrays import Floats
from fejoint.inputs.units import both_units
from fejoint.output.field_snapshot import Snapshot, of_part
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.picture import Picture, weakest_ear
from fejoint.output.pictures.triangulation import Patchwork, outline, rings
from fejoint.sections.face.pull import FaceHistory

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

YIELDED = 0.002
"""Plastic strain that the line in the stress picture marks."""


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
    "stress": _Quantity("von_mises", 1.0, "equivalent stress (von Mises), MPa"),
    "plastic": _Quantity("plastic_strain", 100.0, "equivalent plastic strain, %"),
    "thickness": _Quantity("thickness_ratio", 100.0, "change of thickness, %", 1.0),
}


def draw(figure: Figure, answer: Answer, name: str, what: str, theme: look.Theme) -> None:
    """Draw a field at the offset load and at the end, side by side and to one scale.

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
    history, shots = answer.faces[name], of_part(answer, name)
    quantity = QUANTITIES[what]
    box = window(history, shots)
    norm = scale(what, [shown(s, quantity, box) for s in shots])
    captions = [caption(shot, answer, name) for shot in shots]
    side_by_side(figure, history, shots, captions, what, norm, box, theme)


def side_by_side(
    figure: Figure,
    history: FaceHistory,
    shots: Sequence[Snapshot],
    captions: Sequence[str],
    what: str,
    norm: Normalize,
    box: tuple[float, float, float, float],
    theme: look.Theme,
) -> None:
    """Draw snapshots of one plate in one window and to one scale, a caption under each."""
    quantity = QUANTITIES[what]
    height = figure.get_size_inches()[1]
    bottom, top = look.foot(captions) / height, 0.06 / height
    share = 1.0 / len(shots)
    for k, shot in enumerate(shots):
        axes = figure.add_axes((k * share + 0.012, bottom, share - 0.024, 1.0 - bottom - top))
        image = _panel(axes, history, shot, quantity, norm, theme, what, box)
        if k == 0:
            scale_bar(axes, theme, box)
        figure.text(
            (k + 0.5) * share, 0.62 / height, captions[k], ha="center", va="bottom",
            linespacing=1.45, fontsize=8.0,
        )  # fmt: skip
    label = quantity.label
    if what == "stress" and any(map(_front_shown, shots)):
        label += f"; line: plastic strain {100.0 * YIELDED:g} %"
    if what == "plastic":
        bar(figure, image, label, strain_ticks(float(norm.vmax or 1.0)))
    else:
        even_bar(figure, image, label)


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
    if what == "stress" and _front_shown(shot):
        front = patches(shot.plastic_strain)
        axes.tricontour(
            fine, front, levels=[YIELDED], colors=[theme.mark], linewidths=0.9,
            zorder=3,
        )  # fmt: skip
    for ring in rings(triangles):
        axes.plot(*outline(ring, now).T, color=theme.ink, lw=0.9, zorder=4)
    _pin(axes, shot, theme)
    _pull_arrow(axes, history, shot, theme)
    return image


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
    return 0.0 < float(np.mean(shot.plastic_strain[near] > YIELDED)) < 0.7


def caption(shot: Snapshot, answer: Answer, name: str) -> str:
    """Say the moment, the load and the hole's growth."""
    said = {
        "offset load": "at the offset load",
        "end": f"at the end of the pull: {answer.trust.stopped_because}",
    }.get(shot.moment, shot.moment)
    alike = len(answer.joint.ears) if name == "ear" else 1
    on = f"on one ear of {alike}" if alike > 1 else f"on the {name}"
    return look.wrapped(said, f"{both_units(shot.load)} {on}, hole {shot.elongation:.2f} mm longer")


def window(history: FaceHistory, shots: Sequence[Snapshot]) -> tuple[float, float, float, float]:
    """Return what is shown, mm: the hole, the end and a stretch towards the grip."""
    o = history.problem.case.outline
    moved = shots[-1].deformed
    right = max(float(moved[:, 0].max()), o.edge_distance)
    left = -min(max(0.62 * o.width, 1.5 * o.hole), o.grip_length)
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


def even_bar(figure: Figure, image: Any, label: str) -> None:
    """Draw the bar of an even scale below the panels."""
    low, top = float(image.norm.vmin), float(image.norm.vmax)
    step = look.rounded((top - low) / 4.0)
    first = step * np.ceil(low / step - 1e-9) + 0.0
    bar(figure, image, label, list(np.arange(first, top + 1e-9 * step, step)))


def strain_ticks(top: float) -> list[float]:
    """Return strains (%) that stand clear of each other on a square-root scale."""
    ticks, last = [0.0], 0.0
    for t in (0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 150.0, 200.0, 300.0):
        place = (t / top) ** 0.5
        if t <= top and place - last > 0.09:
            ticks.append(t)
            last = place
    return ticks


def bar(figure: Figure, image: Any, label: str, ticks: list[float]) -> None:
    """Draw the bar of colours with its ticks and what they mean, below the panels."""
    width, height = figure.get_size_inches()
    axes = figure.add_axes((0.5 - 1.6 / width, 0.37 / height, 3.2 / width, 0.075 / height))
    colours = figure.colorbar(image, cax=axes, orientation="horizontal")
    colours.outline.set_visible(False)
    colours.set_ticks(ticks, labels=[f"{t:g}" for t in ticks])
    axes.tick_params(length=2.0, width=0.6, pad=1.5)
    axes.set_xlabel(label, labelpad=1.5)


def _of(what: str) -> Callable[[Figure, Answer, look.Theme], None]:
    return lambda figure, answer, theme: draw(figure, answer, weakest_ear(answer), what, theme)


SIZE = (1800, 940)
PICTURES = (
    Picture(
        "stress", "stress", "Stress about the hole at the offset load and at the end", SIZE,
        "sections", _of("stress"), "stress.png", rank=3,
    ),
    Picture(
        "plastic", "plastic strain", "Plastic strain about the hole, the same two moments", SIZE,
        "sections", _of("plastic"), "plastic-strain.png", rank=4,
    ),
    Picture("thickness", "", "", SIZE, "sections", _of("thickness"), rank=6),
)  # fmt: skip
