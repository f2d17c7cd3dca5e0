"""The bent pin in its plates, cut along its axis, and how the bearing spreads along it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.analysis.odds import both_as_sure
from fejoint.analysis.result import Answer
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.handbook.beams import full_plastic_moment
from fejoint.kernel import load_curve
from fejoint.kernel.continuation import EquilibriumPoint
from fejoint.output.field_snapshot import Snapshot, pin_at
from fejoint.output.pictures import bearing_strip, panels, pin_holes, yield_front
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.picture import Picture, has_pin
from fejoint.output.pictures.pin_holes import Box, Hole, Name, turned
from fejoint.output.pictures.stress_fields import scale_bar, strength_marks
from fejoint.output.pictures.triangulation import Patchwork, outline, rings
from fejoint.sections.axial.pull import AxialHistory

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

HARDLY = 5e-4
"""Bend below which a pin is told to be hardly bent, mm."""
TURNED = 2.0
"""Turn in its holes from which on it is told, degrees."""
HEAD = (1.45, 0.16)
"""Diameter and height of a pin's head as drawn, over the pin's, where the case says none."""
BARE = 0.62
"""Plate shown at both sides of the pin together, in pin diameters, where names have room."""


@dataclass(frozen=True, eq=False)
class _Panel:
    """One pin at one moment, and what is said of it."""

    answer: Answer
    history: AxialHistory
    index: float
    shot: Snapshot
    caption: tuple[str, str]

    @cached_property
    def holes(self) -> list[Hole]:
        """Those of ears and shank."""
        return pin_holes.holes(self.answer, self.history, self.index)

    def names(self, box: Box, per_inch: float) -> list[Name]:
        """Those of the plates, in a window of which so many mm are an inch of paper."""
        return pin_holes.names(self.holes, turned(self.shot.deformed), box, per_inch)


def draw(figure: Figure, answer: Answer, theme: look.Theme) -> None:
    """Draw the pin when the first part gives, and at the end of the pull.

    Raises
    ------
    BadInput
        If the answer holds no axial section.
    """
    _draw(figure, _moments(answer), theme)


def tall(answer: Answer, width: float) -> float:
    """Return the height of `draw`'s picture on a width, inches."""
    return _tall(_moments(answer), width)


def draw_pair(figure: Figure, answers: Sequence[Answer], theme: look.Theme) -> None:
    """Draw the pins of two joints side by side, at the same pull and to one scale."""
    _draw(figure, _pair(answers), theme)


def tall_pair(answers: Sequence[Answer], width: float) -> float:
    """Return the height of `draw_pair`'s picture on a width, inches."""
    return _tall(_pair(answers), width)


def _moments(answer: Answer) -> list[_Panel]:
    history = _history(answer)
    first = answer.verdict.first
    panels = []
    index = load_curve.first_reach(history.load, first.load)
    gave = first.mode != definitions.NOTHING
    if gave and index is not None and index < len(history.load) - 1.5:
        said = definitions.named(first.mode, first.member)
        panels.append(_panel(answer, index, f"when the first part gives: {said}"))
    ended = definitions.end_words(answer.trust.stopped_because)
    panels.append(_panel(answer, len(history.load) - 1.0, f"at the end of the pull: {ended}"))
    return panels


def _pair(answers: Sequence[Answer]) -> list[_Panel]:
    histories = [_history(a) for a in answers]
    common = min(float(h.load.max()) for h in histories)
    pull = min(common, max(a.verdict.first.load for a in answers))
    panels = []
    for answer, history in zip(answers, histories, strict=True):
        index = load_curve.first_reach(history.load, pull)
        last = len(history.load) - 1.0
        panels.append(_panel(answer, last if index is None else index, answer.joint.title))
    return panels


def _history(answer: Answer) -> AxialHistory:
    if answer.axial is None or answer.joint.pin.rigid:
        reason = "needs the pin's axial section, which a rigid or unsolved pin has not"
        fault = Fault("what", "pin", reason, "draw another")
        raise BadInput(fault)
    return answer.axial


def _panel(answer: Answer, index: float, title: str) -> _Panel:
    history = _history(answer)
    shot = pin_at(history, index, title)
    point = history.path.points[round(index)]
    said = f"pull {both_as_sure(shot.load, answer.odds)}, {_shape(history, point)}"
    return _Panel(answer, history, index, shot, (title, said))


def _shape(history: AxialHistory, point: EquilibriumPoint) -> str:
    """Say how far the pin is bent, and turned in its holes where all of it leans one way."""
    sag, _ = history.problem.bend(point)
    x, v = history.problem.axis(point)
    leans = abs(float(np.degrees(np.arctan2(v[-1] - v[0], x[-1] - x[0]))))
    said = "pin hardly bent" if sag < HARDLY else f"pin bent by {sag:.{look.places(sag)}f} mm"
    if leans < TURNED:
        return said
    return f"{said}, turned by up to {history.problem.most_turned(point):.0f}° in its holes"


def _label(panels_shown: Sequence[_Panel]) -> str:
    label = "equivalent true stress in the pin (von Mises), MPa"
    if any(_front_shown(p.shot) for p in panels_shown):
        label += f"; {yield_front.SAID}"
    if any(_hinges(p) for p in panels_shown):
        label += "; thick line: plastic hinge"
    if any(ear.flare_depth > 0.0 for p in panels_shown for ear in p.answer.joint.ears):
        label += "; flares bear nothing and are left out"
    return label


def _captions(shown: Sequence[_Panel], width: float) -> list[str]:
    return [panels.captioned(p.caption, width, len(shown)) for p in shown]


TITLE = 0.24
"""Room above a panel for the title of its strip of bearing, inches."""
STRIP = 0.3
"""Share of a panel's width that the strip of bearing takes."""


def _tall(shown: Sequence[_Panel], width: float) -> float:
    box = _window(shown, width)
    ratio = (1.0 - STRIP) * (box[3] - box[2]) / (box[1] - box[0])
    return panels.tall(_captions(shown, width), ratio, _label(shown), width, TITLE)


def _draw(figure: Figure, shown: Sequence[_Panel], theme: look.Theme) -> None:
    from matplotlib.colors import Normalize

    width, _ = figure.get_size_inches()
    # a pin that bears next to nothing has next to no colour
    least = 0.01 * max(p.answer.joint.pin.material.rp02 for p in shown)
    top = max(least, *(float(np.quantile(p.shot.von_mises, 0.995)) for p in shown))
    norm = Normalize(0.0, top, clip=True)
    box = _window(shown, width)
    lowest = min(_lowest(p) for p in shown)
    loads = (float(np.abs(line).max()) for p in shown for _, line in _bearing(p))
    heaviest = max(loads, default=0.0) or 1.0
    label, names = _label(shown), []
    for k, place in enumerate(panels.places(figure, _captions(shown, width), label, TITLE)):
        left, foot, wide, high = place
        axes = figure.add_axes((left, foot, (1.0 - STRIP) * wide, high))
        image = _section(axes, shown[k], norm, theme, box)
        if k == 0:
            scale_bar(axes, theme, box)
        axes.apply_aspect()
        drawn = axes.get_position()
        per_inch = (box[1] - box[0]) / (drawn.width * width)
        names += [(axes, shown[k], name) for name in shown[k].names(box, per_inch)]
        # the strip ends under the pin, so that its numbers stand clear of the caption
        low = drawn.y0 + 0.55 * drawn.height * (lowest - box[2]) / (box[3] - box[2])
        begin = drawn.x1 + 0.04 * wide
        beside = figure.add_axes((begin, low, left + 0.97 * wide - begin, drawn.y1 - low))
        bearing_strip.draw(beside, _bearing(shown[k]), theme, heaviest)
        per_share = (box[3] - box[2]) / drawn.height
        beside.set_ylim(box[2] + (low - drawn.y0) * per_share, box[3])
    for axes, panel, name in names:
        # one that has room nowhere stands where it has most
        others = (n.spare for _, p, n in names if p.answer is panel.answer and n.text == name.text)
        if name.spare >= min(0.0, max(others)):
            axes.text(name.x, name.y, name.text, fontsize=pin_holes.NAME, va="center",
                      ha=name.side, zorder=8,
                      bbox={"facecolor": theme.metal, "edgecolor": "none", "pad": 1.0})  # fmt: skip
    metals = {p.answer.joint.pin.material.name: p.answer.joint.pin.material for p in shown}
    marks = strength_marks(next(iter(metals.values()))) if len(metals) == 1 else ()
    panels.even_bar(figure, image, label, marks)


def _lowest(panel: _Panel) -> float:
    """Return how far down a pin and its plates reach, mm."""
    pin = float(turned(panel.shot.deformed)[:, 1].min())
    return min(pin, *(hole.low for hole in panel.holes))


def _window(shown: Sequence[_Panel], width: float) -> Box:
    """Return what is shown, mm: pins with their heads, and so much of plates that names fit."""
    across = (1.0 - STRIP) * panels.cell(width, len(shown))
    for bare in BARE * np.array([1.0, 1.5, 2.0, 3.0]):
        box = _round_about(shown, float(bare))
        per_inch = max((box[1] - box[0]) / across, (box[3] - box[2]) / panels.HIGHEST)
        found = [(p, name) for p in shown for name in p.names(box, per_inch)]
        roomy = {(id(p.answer), name.text) for p, name in found if name.spare > 0.0}
        if all((id(p.answer), name.text) in roomy for p, name in found):
            break
    return box


def _round_about(shown: Sequence[_Panel], bare: float) -> Box:
    """Return where pins with their heads and holes are, and as much beyond, in diameters."""
    lefts, rights, lows, tops = [], [], [], []
    for p in shown:
        d = p.history.problem.case.diameter
        now = np.vstack([turned(p.shot.deformed), *_head_shapes(p)])
        walls = np.concatenate([[hole.far, *hole.bore[:, 0]] for hole in p.holes])
        lefts.append(min(float(now[:, 0].min()), float(walls.min()), -0.5 * d) - 0.5 * bare * d)
        rights.append(max(float(now[:, 0].max()), float(walls.max())) + 0.5 * bare * d)
        low = min(float(now[:, 1].min()), _lowest(p))
        tops.append(max(float(now[:, 1].max()) + 0.03 * d, 0.16 * d))
        # room for the scale bar
        lows.append(low - max(0.42 * d, 0.08 * (tops[-1] - low)))
    return min(lefts), max(rights), min(lows), max(tops)


def _section(
    axes: Axes,
    panel: _Panel,
    norm: Normalize,
    theme: look.Theme,
    box: Box,
) -> Any:
    from matplotlib.tri import Triangulation

    axes.set(xlim=box[:2], ylim=box[2:], aspect="equal", anchor="C")
    axes.set_axis_off()
    pin_holes.draw(axes, panel.holes, theme, box)
    mesh, shot = panel.shot.mesh, panel.shot
    patches = Patchwork.of(mesh.points, mesh.triangles)
    now = turned(shot.deformed)
    x, y = patches(now).T
    fine = Triangulation(x, y, patches.corners)
    (ring,) = rings(mesh.triangles)
    axes.plot(*outline(ring, turned(mesh.points)).T, color=theme.quiet, lw=0.6, ls=(0, (4, 3)),
              zorder=4)  # fmt: skip
    image = axes.tripcolor(
        fine, patches(shot.von_mises), shading="gouraud", cmap=look.colours("pin", theme),
        norm=norm, rasterized=True, zorder=5,
    )  # fmt: skip
    shape = outline(ring, now)
    axes.plot(*shape.T, color=theme.ink, lw=0.9, zorder=7)
    _heads(axes, panel, theme)
    hinges = [turned(piece) for piece in _hinges(panel)]
    if _front_shown(shot):
        strain = patches(shot.plastic_strain)
        size = panel.history.problem.case.diameter
        edges = np.vstack([shape, *hinges])
        yield_front.draw(axes, fine, strain, theme, size, zorder=6.0, edges=edges)
    for piece in hinges:
        for colour, wide in ((theme.paper, 4.4), (theme.mark, 2.6)):
            axes.plot(*piece.T, color=colour, lw=wide, solid_capstyle="butt", zorder=8)
    return image


def _head_shapes(panel: _Panel) -> list[Floats]:
    """Return the corners of a headed pin's heads, turned with its ends, (4, 2) each, mm."""
    if panel.answer.joint.pin.ends != "headed":
        return []
    d = panel.history.problem.case.diameter
    head = panel.answer.joint.pin.head or HEAD[0] * d
    points, now = panel.shot.mesh.points, turned(panel.shot.deformed)
    found = []
    for end in (float(points[:, 0].min()), float(points[:, 0].max())):
        rim = np.flatnonzero(np.abs(points[:, 0] - end) < 1e-6 * d)
        rim = rim[np.argsort(points[rim, 1])]
        first, last = now[rim[0]], now[rim[-1]]
        across = (last - first) / max(float(np.hypot(*(last - first))), 1e-12)
        out = np.array([-across[1], across[0]])
        middle = 0.5 * (first + last)
        out = out if out @ (middle - now.mean(axis=0)) > 0.0 else -out
        half, high = 0.5 * head * across, HEAD[1] * d * out
        found.append(
            np.array([middle - half, middle + half, middle + half + high, middle - half + high])
        )
    return found


def _heads(axes: Axes, panel: _Panel, theme: look.Theme) -> None:
    """Draw heads behind the plates: those of a turned pin are not followed past their faces."""
    from matplotlib.patches import Polygon

    for corners in _head_shapes(panel):
        axes.add_patch(
            Polygon(corners, facecolor=theme.steel, edgecolor=theme.ink, lw=0.9, zorder=1.5)
        )


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
    return 0.0 < float(np.mean(shot.plastic_strain > yield_front.YIELDED)) < 0.4


def _bearing(panel: _Panel) -> list[tuple[Floats, Floats]]:
    point = panel.history.path.points[round(panel.index)]
    return bearing_strip.bearing(panel.history, point)


PICTURES = (
    Picture(
        "pin", "pin", "The pin in its plates, and how the bearing spreads along it", (1800, 1040),
        "sections", draw, "pin.png", rank=5, shows=has_pin, tall=tall,
    ),
)  # fmt: skip
