"""The bent pin in its plates, cut along its axis, and how the bearing spreads along it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.analysis.result import Answer
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.handbook.beams import full_plastic_moment
from fejoint.inputs.units import both_units
from fejoint.joint.parts import Ear, Shank
from fejoint.kernel import load_curve
from fejoint.output.field_snapshot import Snapshot, pin_at
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.picture import Picture
from fejoint.output.pictures.stress_fields import YIELDED, even_bar, scale_bar
from fejoint.output.pictures.triangulation import Patchwork, outline, rings
from fejoint.sections.axial.pull import AxialHistory

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

BARE = 0.62
"""Pin shown beyond its plates, and plate shown beside the pin, in pin diameters."""


@dataclass(frozen=True, eq=False)
class _Panel:
    """One pin at one moment, and what is said of it."""

    answer: Answer
    history: AxialHistory
    index: float
    shot: Snapshot
    caption: str


def draw(figure: Figure, answer: Answer, theme: look.Theme) -> None:
    """Draw the pin when the first part gives, and at the end of the pull.

    Raises
    ------
    BadInput
        If the answer holds no axial section.
    """
    history = _history(answer)
    first = answer.verdict.first
    panels = []
    index = load_curve.first_reach(history.load, first.load)
    gave = first.mode != definitions.NOTHING
    if gave and index is not None and index < len(history.load) - 1.5:
        panels.append(_panel(answer, index, f"when the first part gives: {first.mode}"))
    stopped = history.path.stopped_because
    panels.append(_panel(answer, len(history.load) - 1.0, f"at the end: {stopped}"))
    _draw(figure, panels, theme)


def draw_pair(figure: Figure, answers: Sequence[Answer], theme: look.Theme) -> None:
    """Draw the pins of two joints side by side, at the same pull and to one scale."""
    histories = [_history(a) for a in answers]
    common = min(float(h.load.max()) for h in histories)
    pull = min(common, max(a.verdict.first.load for a in answers))
    panels = []
    for answer, history in zip(answers, histories, strict=True):
        index = load_curve.first_reach(history.load, pull)
        last = len(history.load) - 1.0
        panels.append(_panel(answer, last if index is None else index, answer.joint.title))
    _draw(figure, panels, theme)


def _history(answer: Answer) -> AxialHistory:
    if answer.axial is None or answer.joint.pin.rigid:
        reason = "needs the pin's axial section, which a rigid or unsolved pin has not"
        fault = Fault("what", "pin", reason, "draw another")
        raise BadInput(fault)
    return answer.axial


def _panel(answer: Answer, index: float, title: str) -> _Panel:
    history = _history(answer)
    shot = pin_at(history, index, title)
    problem = history.problem
    k = round(index)
    sag, _ = problem.bend(history.path.points[k])
    caption = look.wrapped(title, f"{both_units(shot.load)} on the joint, pin bent by {sag:.2f} mm")
    return _Panel(answer, history, index, shot, caption)


def _draw(figure: Figure, panels: Sequence[_Panel], theme: look.Theme) -> None:
    from matplotlib.colors import Normalize

    height = figure.get_size_inches()[1]
    norm = Normalize(0.0, max(float(np.quantile(p.shot.von_mises, 0.995)) for p in panels), True)
    box = _window(panels)
    lowest = min(float(_turned(p.shot.deformed)[:, 1].min()) for p in panels)
    heaviest = max(float(np.abs(line).max()) for p in panels for _, line in _bearing(p))
    bottom, top = look.foot([p.caption for p in panels]) / height, 0.26 / height
    share = 1.0 / len(panels)
    side = 0.3
    for k, panel in enumerate(panels):
        left = k * share + 0.012
        axes = figure.add_axes((left, bottom, (1.0 - side) * share - 0.02, 1.0 - bottom - top))
        image = _section(axes, panel, norm, theme, box)
        if k == 0:
            scale_bar(axes, theme, box)
        axes.apply_aspect()
        place = axes.get_position()
        # the strip ends under the pin, so that its numbers stand clear of the caption
        foot = place.y0 + 0.62 * place.height * (lowest - box[2]) / (box[3] - box[2])
        left = place.x1 + 0.025
        beside = figure.add_axes((left, foot, (k + 1) * share - 0.03 - left, place.y1 - foot))
        _bearing_strip(beside, panel, theme, heaviest)
        beside.set_ylim(box[2] + (foot - place.y0) / place.height * (box[3] - box[2]), box[3])
        figure.text(
            (k + 0.5) * share, 0.66 / height, panel.caption, ha="center", va="bottom",
            linespacing=1.45, fontsize=8.0,
        )  # fmt: skip
    label = "equivalent stress in the pin (von Mises), MPa"
    if any(_front_shown(p.shot) for p in panels):
        label += f"; line: plastic strain {100.0 * YIELDED:g} %"
    if any(_hinges(p) for p in panels):
        label += "; thick line: plastic hinge"
    even_bar(figure, image, label)


def _turned(points: Floats) -> Floats:
    """Turn the section so that the pull goes right and the first ear lies on top."""
    return np.column_stack([points[:, 1], -points[:, 0]])


def _window(panels: Sequence[_Panel]) -> tuple[float, float, float, float]:
    lefts, rights, lows = [], [], []
    for p in panels:
        d = p.history.problem.case.diameter
        now = _turned(p.shot.deformed)
        lefts.append(min(float(now[:, 0].min()), -0.5 * d) - BARE * d)
        rights.append(float(now[:, 0].max()) + BARE * d)
        lows.append(float(now[:, 1].min()))
    d = panels[0].history.problem.case.diameter
    return min(lefts), max(rights), min(lows) - 0.42 * d, 0.16 * d


def _section(
    axes: Axes,
    panel: _Panel,
    norm: Normalize,
    theme: look.Theme,
    box: tuple[float, float, float, float],
) -> Any:
    from matplotlib.tri import Triangulation

    axes.set(xlim=box[:2], ylim=box[2:], aspect="equal", anchor="C")
    axes.set_axis_off()
    _plates(axes, panel, theme, box)
    mesh, shot = panel.shot.mesh, panel.shot
    patches = Patchwork.of(mesh.points, mesh.triangles)
    now = _turned(shot.deformed)
    x, y = patches(now).T
    fine = Triangulation(x, y, patches.corners)
    (ring,) = rings(mesh.triangles)
    axes.plot(*outline(ring, _turned(mesh.points)).T, color=theme.quiet, lw=0.6, ls=(0, (4, 3)),
              zorder=4)  # fmt: skip
    image = axes.tripcolor(
        fine, patches(shot.von_mises), shading="gouraud", cmap=look.colours("pin", theme),
        norm=norm, rasterized=True, zorder=5,
    )  # fmt: skip
    strain = patches(shot.plastic_strain)
    if _front_shown(shot):
        axes.tricontour(fine, strain, levels=[YIELDED], colors=[theme.mark], linewidths=0.9,
                        zorder=6)  # fmt: skip
    axes.plot(*outline(ring, now).T, color=theme.ink, lw=0.9, zorder=7)
    for piece in _hinges(panel):
        axes.plot(*_turned(piece).T, color=theme.mark, lw=2.6, solid_capstyle="butt", zorder=8)
    return image


def _hinges(panel: _Panel) -> list[Floats]:
    """Stretches of the pin's bent axis along which the moment has passed the full plastic one."""
    pin = panel.answer.joint.pin
    problem, points = panel.history.problem, panel.history.path.points
    low = int(panel.index)
    high, share = min(low + 1, len(points) - 1), panel.index - low
    x, _, before = problem.section_forces(points[low])
    _, _, after = problem.section_forces(points[high])
    moment = np.abs((1.0 - share) * before + share * after)
    mesh = panel.shot.mesh
    axis = np.flatnonzero(np.abs(mesh.points[:, 1]) < 1e-6 * pin.diameter)
    axis = axis[np.argsort(mesh.points[axis, 0])]
    fine = np.linspace(x[0], x[-1], 400)
    bent = np.column_stack(
        [np.interp(fine, mesh.points[axis, 0], panel.shot.deformed[axis, i]) for i in (0, 1)]
    )
    # at the hinge load one section is just there; the tolerance makes that a dash to be seen
    full = 0.99 * full_plastic_moment(pin.diameter, pin.material.rp02)
    reached = np.interp(fine, x, moment) >= full
    runs = np.split(np.arange(len(fine)), np.flatnonzero(np.diff(reached)) + 1)
    return [bent[run] for run in runs if len(run) > 1 and reached[run[0]]]


def _front_shown(shot: Snapshot) -> bool:
    """Whether the yielded metal is a part of the pin; once most has yielded its rim says little."""
    return 0.0 < float(np.mean(shot.plastic_strain > YIELDED)) < 0.4


def _plates(
    axes: Axes, panel: _Panel, theme: look.Theme, box: tuple[float, float, float, float]
) -> None:
    """Draw ears and shank where they are now, their bores as far as the pin has pressed them."""
    from matplotlib.patches import Polygon

    problem = panel.history.problem
    radius = 0.5 * problem.case.diameter
    points = panel.history.path.points[: round(panel.index) + 1]
    middles = 0.5 * (problem.cuts[1:] + problem.cuts[:-1])
    n = len(problem.mesh.points)
    for k, (part, face) in enumerate(zip(_parts(panel.answer), problem.case.faces, strict=True)):
        ear = k != problem.case.shank
        sense = 1.0 if ear else -1.0
        moved = float(points[-1].z[2 * n + k])
        pressed = np.max([np.maximum(problem.slice_travels(p, k), 0.0) for p in points], axis=0)
        along = np.concatenate([[face[0]], middles[problem.columns[k]], [face[1]]])
        depth = np.concatenate([pressed[:1], pressed, pressed[-1:]])
        bore = _turned(np.column_stack([along, moved + sense * (radius + depth)]))
        far = moved + sense * (radius - part.hole)
        outer = box[1] if ear else box[0]
        back = box[0] if ear else box[1]
        high, low = -face[0], -face[1]
        near_piece = np.vstack([bore, [[outer, low], [outer, high]]])
        far_piece = np.array([[far, high], [far, low], [back, low], [back, high]])
        for piece in (near_piece, far_piece):
            axes.add_patch(Polygon(piece, facecolor=theme.metal, edgecolor="none", zorder=2))
            hatch = Polygon(piece, fill=False, edgecolor=theme.faint, lw=0.0, zorder=2.5)
            hatch.set_hatch("////")
            axes.add_patch(hatch)
        edge = np.vstack([[[outer, high]], bore, [[outer, low]]])
        axes.plot(*edge.T, color=theme.ink, lw=0.8, zorder=3)
        axes.plot([back, far, far, back], [high, high, low, low], color=theme.ink, lw=0.8,
                  zorder=3)  # fmt: skip
        name = "shank" if not ear else "ear"
        inset = 0.03 * (box[1] - box[0])
        edge_x = box[0] + inset if ear else box[1] - inset
        axes.text(edge_x, 0.5 * (high + low), name, fontsize=7.5, va="center",
                  ha="left" if ear else "right", zorder=8,
                  bbox={"facecolor": theme.metal, "edgecolor": "none", "pad": 1.0})  # fmt: skip


def _parts(answer: Answer) -> list[Ear | Shank]:
    joint = answer.joint
    return [joint.ears[0], joint.shank, *joint.ears[1:]]


def _bearing(panel: _Panel) -> list[tuple[Floats, Floats]]:
    """Return grid lines along each plate (mm) and the force per length on it (N/mm)."""
    problem = panel.history.problem
    point = panel.history.path.points[round(panel.index)]
    found = []
    for k, columns in enumerate(problem.columns):
        sense = 1.0 if k != problem.case.shank else -1.0
        force = sense * problem.slice_forces(point, k) / np.diff(problem.cuts)[columns]
        found.append((problem.cuts[np.append(columns, columns[-1] + 1)], np.asarray(force)))
    return found


def _bearing_strip(
    axes: Axes,
    panel: _Panel,
    theme: look.Theme,
    heaviest: float,
) -> None:
    """Draw the force per length of pin beside it: ears to the right, shank to the left."""
    for cuts, line in _bearing(panel):
        axes.stairs(line, -cuts, orientation="horizontal", fill=True, color=theme.second,
                    alpha=0.35, lw=0.0)  # fmt: skip
        axes.stairs(line, -cuts, orientation="horizontal", color=theme.second, lw=0.9,
                    baseline=None)  # fmt: skip
    axes.axvline(0.0, color=theme.ink, lw=0.7)
    axes.set(xlim=(-1.12 * heaviest, 1.12 * heaviest))
    axes.set_yticks([])
    axes.spines["left"].set_visible(False)
    step = look.rounded(0.5 * heaviest)
    step *= float(np.floor(heaviest / step))
    axes.set_xticks([-step, 0.0, step], labels=[f"{step:,.0f}", "", f"{step:,.0f}"])
    axes.tick_params(length=2.5, width=0.6, labelsize=7.0, pad=1.5)
    axes.set_title("bearing, N/mm", fontsize=7.5, pad=3.0)
    for x, side, name in ((-0.04, "right", "on shank"), (0.04, "left", "on ears")):
        axes.text(0.5 + x, 0.0, name, fontsize=7.0, ha=side, va="bottom", transform=axes.transAxes)


PICTURES = (
    Picture(
        "pin", "pin", "The pin in its plates, and how the bearing spreads along it", (1800, 1040),
        "sections", draw, "pin.png", rank=5, of_pin=True,
    ),
)  # fmt: skip
