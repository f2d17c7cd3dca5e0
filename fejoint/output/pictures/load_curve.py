"""Load against hole elongation, with what happens on the way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.analysis.definitions import EARS_ALIKE
from fejoint.analysis.odds import Odds, figures_as_sure
from fejoint.arrays import Floats
from fejoint.kernel import load_curve
from fejoint.kernel.pchip import Monotone
from fejoint.output.pictures import theme as look
from fejoint.output.pictures.panels import NARROW
from fejoint.output.pictures.picture import Picture
from fejoint.sections.face.pull import OFFSET

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

CLOSE = 2.4
"""The left panel ends at so many times the elongation at the offset load."""
COLUMN = 0.47
"""Share of a panel's width at which the events' names begin."""
TYPE = 7.0
"""Of the events' names, points."""
LINE = 1.22 * TYPE / 72.0
"""Height of a line of them, inches."""
SIDE, FOOT, HEAD, BETWEEN = 0.74, 0.46, 0.52, 0.62
"""Room at the sides for scales, below a panel, above it, and between two of them, inches."""
PANEL = 3.1
"""Height of a panel that stands under another, inches."""


def draw(figure: Figure, answer: Mapping[str, Any], theme: look.Theme) -> None:
    """Draw the curve twice: up to the offset load, with its construction, and whole.

    Parameters
    ----------
    figure : Figure
        Empty.
    answer : mapping
        Plain data, as in `answer.json`.
    theme : Theme
    """
    load = np.array(answer["curve"]["load_N"], float)
    grown = np.array(answer["curve"]["hole_elongation_mm"], float)
    seen = events_on_curve(answer)
    offset, near = _close_up(answer)
    end = 1.03 * float(grown.max()) or 0.01
    hole, label = _hole(answer), f"{hole_of(answer)} longer, mm"
    width, height = figure.get_size_inches()
    most = look.thousands(look.rounded(max(float(load.max()), 1.0)))
    side = max(SIDE, look.text_width(most, 7.5) + 0.36)
    left, across = side / width, 1.0 - 2.0 * side / width
    if near is None:
        bottom = FOOT / height
        axes = figure.add_axes((left, bottom, across, 1.0 - bottom - HEAD / height))
        _panel(axes, load, grown, seen, theme, end, label)
        _offset_line(axes, offset, hole, theme)
        scales(axes, theme, left=True, right=True)
        return
    if width < NARROW:
        up = 0.5 - (FOOT + HEAD) / height
        close = figure.add_axes((left, 0.5 + FOOT / height, across, up))
        whole = figure.add_axes((left, FOOT / height, across, up))
    else:
        gap, up = BETWEEN / width, 1.0 - (FOOT + HEAD) / height
        half = 0.5 * (across - gap)
        close = figure.add_axes((left, FOOT / height, half, up))
        whole = figure.add_axes((left + half + gap, FOOT / height, half, up))
    early = [e for e in seen if e["hole_elongation_mm"] <= 1.03 * offset.elongation]
    late = [e for e in seen if e not in early or e["name"] == "offset load" or e["first"]]
    _panel(close, load, grown, early, theme, near, label)
    _offset_line(close, offset, hole, theme)
    _panel(whole, load, grown, late, theme, end, label)
    whole.set_title("the whole pull", fontsize=8.0, loc="left", pad=5.0)
    scales(close, theme, left=True, right=width < NARROW)
    scales(whole, theme, left=width < NARROW, right=True)


def tall(answer: Mapping[str, Any], width: float) -> float:
    """Return the height of `draw`'s picture on a width, inches."""
    if width >= NARROW:
        return 0.5 * width
    return (PANEL + FOOT + HEAD) * (1.0 if _close_up(answer)[1] is None else 2.0)


def _close_up(answer: Mapping[str, Any]) -> tuple[Any, float | None]:
    """Return the offset point and where a close-up of it ends, mm; None where it needs none."""
    load = np.array(answer["curve"]["load_N"], float)
    grown = np.array(answer["curve"]["hole_elongation_mm"], float)
    offset = load_curve.offset_point(load, grown, OFFSET * _hole(answer))
    if offset is None or CLOSE * offset.elongation > 0.7 * 1.03 * float(grown.max()):
        return offset, None
    return offset, CLOSE * offset.elongation


def _hole(answer: Mapping[str, Any]) -> float:
    """Return the diameter of the hole that the curve tells of, mm."""
    ears = answer["case"]["ear"]
    return float(ears[1 if answer.get("weaker_ear") == "ear 2" else 0]["hole"])


def hole_of(answer: Mapping[str, Any]) -> str:
    """Name the hole that the curve tells of."""
    if len(answer["case"]["ear"]) == 1:
        return "hole"
    ears = (row for row in answer["verdict"]["order"] if row["part"] == "ear")
    member = next((row["member"] for row in ears), EARS_ALIKE)
    return "holes" if member == EARS_ALIKE else f"hole in {member}"


def events_on_curve(answer: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the events reached, each with the curve's own elongation there.

    An event of the other ear or of the pin tells the elongation of another hole, or none.
    """
    odds = Odds.of_answer(answer)
    curve = [np.array(answer["curve"][k], float) for k in ("extension_mm", "load_N")]
    grown = np.array(answer["curve"]["hole_elongation_mm"], float)
    found = []
    for event in answer["events"]:
        if event["load_N"] is None:
            continue
        index = nearest_index(curve[0], curve[1], event["extension_mm"], event["load_N"])
        digits = figures_as_sure(event["load_N"], odds)
        told = {"hole_elongation_mm": load_curve.at_index(grown, index), "digits": digits}
        found.append(dict(event) | told | {"first": False})
    return _with_first(answer, found, curve[1], grown, odds)


def _with_first(
    answer: Mapping[str, Any],
    events: list[dict[str, Any]],
    load: Floats,
    grown: Floats,
    odds: Odds | None,
) -> list[dict[str, Any]]:
    """Mark the event that is the first limit; where none is, add that limit."""
    gives = answer["verdict"]["order"][0]
    at = load_curve.first_reach(load, gives["load_N"])
    if gives["mode"] == definitions.NOTHING or at is None:
        return events
    for event in events:
        own = event.get("member") in (None, "", gives["member"])
        if own and abs(event["load_N"] - gives["load_N"]) < 1e-6 * gives["load_N"]:
            event["first"] = True
            return events
    first = {
        "name": definitions.named(gives["mode"], gives["member"]), "load_N": gives["load_N"],
        "hole_elongation_mm": load_curve.at_index(grown, at), "first": True,
        "digits": figures_as_sure(gives["load_N"], odds),
    }  # fmt: skip
    return [*events, first]


def nearest_index(x: Floats, y: Floats, at_x: float, at_y: float) -> float:
    """Return the fractional index of a curve's point nearest to one, its ranges taken as 1."""
    points = np.column_stack([x / max(np.ptp(x), 1e-300), y / max(np.ptp(y), 1e-300)])
    place = np.array([at_x / max(np.ptp(x), 1e-300), at_y / max(np.ptp(y), 1e-300)])
    steps = np.diff(points, axis=0)
    along = ((place - points[:-1]) * steps).sum(axis=1)
    share = np.clip(along / np.maximum((steps**2).sum(axis=1), 1e-300), 0.0, 1.0)
    away = np.hypot(*(points[:-1] + share[:, None] * steps - place).T)
    k = int(np.argmin(away))
    return k + float(share[k])


def _panel(
    axes: Axes,
    load: Floats,
    grown: Floats,
    events: Sequence[Mapping[str, Any]],
    theme: look.Theme,
    to: float,
    label: str,
) -> None:
    axes.plot(*smooth(grown, load), color=theme.ink, lw=1.5, zorder=3)
    top = float(np.interp(to, grown, load)) if to < grown.max() else float(load.max())
    axes.set(xlim=(0.0, to), ylim=(0.0, max(1.08 * top, 1.0)))
    axes.set_xlabel(label)
    _name_events(axes, load, grown, [e for e in events if e["hole_elongation_mm"] <= to], theme)


def smooth(grown: Floats, load: Floats) -> tuple[Floats, Floats]:
    """Return the curve as it is read for the offset load, without its corners.

    Every stretch that grows or shrinks throughout is rounded by itself.
    """
    step = np.sign(np.diff(grown))
    ends = np.flatnonzero(np.diff(step) != 0.0) + 1
    xs, ys = [], []
    for begin, end in zip([0, *ends], [*ends, len(grown) - 1], strict=True):
        x, y = grown[begin : end + 1], load[begin : end + 1]
        if len(x) > 2 and step[begin] != 0.0:
            places = np.arange(8 * len(x) - 7) / 8.0
            fine = np.interp(places, np.arange(len(x)), x)
            order = slice(None) if step[begin] > 0.0 else slice(None, None, -1)
            x, y = fine, np.asarray(Monotone(x[order], y[order])(fine))
        xs.append(x)
        ys.append(y)
    return np.concatenate(xs), np.concatenate(ys)


def _name_events(
    axes: Axes,
    load: Floats,
    grown: Floats,
    events: Sequence[Mapping[str, Any]],
    theme: look.Theme,
) -> None:
    """Mark events and name them in a column under the curve, where a rising curve leaves room."""
    reach, high = axes.get_xlim()[1], axes.get_ylim()[1]
    shape = axes.get_window_extent()
    inches = axes.figure.dpi
    per_inch = high / (shape.height / inches)
    room = (1.0 - COLUMN) * shape.width / inches - 0.04
    column = COLUMN * reach
    order = np.argsort(grown)
    under = float(np.interp(column, grown[order], load[order])) - 1.2 * LINE * per_inch
    falling = sorted(events, key=lambda e: -e["load_N"])
    said = [_said(e, room) for e in falling]
    # closer together where they would not stay under the curve
    spare = under / (LINE * per_inch) - sum(map(len, said))
    gap = float(np.clip(spare / max(len(said), 1), 0.1, 0.5))
    heights = [(len(lines) + gap) * LINE * per_inch for lines in said]
    tops: list[float] = []
    for k, event in enumerate(falling):
        wanted = event["load_N"] + 0.5 * heights[k]
        place = min(wanted, under, tops[-1] - heights[k - 1] if tops else np.inf)
        # leave room for those below
        tops.append(max(place, sum(heights[k:])))
    for event, lines, place, tall_one in zip(falling, said, tops, heights, strict=True):
        x, y = event["hole_elongation_mm"], event["load_N"]
        main = event["first"]
        colour = theme.mark if main else theme.ink
        axes.plot(
            [x], [y], "o", ms=4.4, mfc=theme.mark if main else theme.paper, mec=colour, mew=1.0,
            zorder=5, clip_on=False,
        )  # fmt: skip
        beside = x < column
        middle = place - 0.5 * (tall_one - gap * LINE * per_inch)
        per_across = reach / (shape.width / inches)
        ends = column + (0.03 + max(look.text_width(line, TYPE) for line in lines)) * per_across
        foot = (x, place + 0.02 * per_inch)
        if beside:
            foot = (column - 0.012 * reach, middle)
        elif x > ends:
            foot = (ends, place - 0.6 * LINE * per_inch)
        axes.plot([x, foot[0]], [y, foot[1]], color=theme.quiet, lw=0.5, zorder=2)
        axes.text(
            column, place, "\n".join(lines), va="top", fontsize=TYPE, linespacing=1.2, color=colour,
            zorder=6, bbox={"facecolor": theme.paper, "edgecolor": "none", "pad": 0.6},
        )  # fmt: skip


def _said(event: Mapping[str, Any], room: float) -> list[str]:
    """Return an event's name and load, on lines that fit into a room in inches."""
    load = definitions.load_words(event["name"], event["load_N"], event["digits"])
    if look.text_width(load, TYPE) > room:
        load = load.partition(" (")[0]
    return [*look.broken(_named(event), TYPE, room), load]


def _named(event: Mapping[str, Any]) -> str:
    # what the offset load is stands above the panel
    title = definitions.EVENT_TITLES.get(event["name"], event["name"]).partition(" (")[0]
    member = event.get("member")
    return f"{member}: {title}" if member else title


def _offset_line(
    axes: Axes, offset: load_curve.OffsetPoint | None, hole: float, theme: look.Theme
) -> None:
    """Draw the elastic line moved by 2 % of the hole's diameter."""
    if offset is None:
        return
    start = OFFSET * hole
    top = min(axes.get_ylim()[1], 1.06 * offset.load)
    axes.plot(
        [start, start + top / offset.slope], [0.0, top], color=theme.mark, lw=0.8,
        ls=(0, (5, 3)), zorder=2,
    )  # fmt: skip
    width = axes.get_window_extent().width / axes.figure.dpi
    said = (
        "up to the offset load; dashed: the elastic line moved by "
        f"{100.0 * OFFSET:g} % of the hole, {start:.3f} mm"
    )
    lines = look.broken(said, 7.5, width + 0.3)
    axes.set_title("\n".join(lines), fontsize=7.5, loc="left", pad=5.0)


def scales(axes: Axes, theme: look.Theme, *, left: bool, right: bool) -> None:
    """Write loads in N on the left and in kgf on the right."""
    from matplotlib.ticker import MaxNLocator

    axes.yaxis.set_major_formatter(look.thousands)
    axes.yaxis.set_major_locator(MaxNLocator(6))
    axes.tick_params(length=2.5, width=0.6)
    if left:
        axes.set_ylabel("pull on the joint, N")
    if right:
        other = look.loads_up(axes)
        other.yaxis.set_major_locator(MaxNLocator(6))
        other.tick_params(length=2.5, width=0.6)
        other.spines["right"].set(color=theme.quiet, linewidth=0.7)
        other.set_ylabel("pull on the joint, kgf")


PICTURES = (
    Picture(
        "curve", "curve", "Pull on the joint over the stretch of the hole", (1800, 900), "data",
        draw, "load-curve.png", rank=2, vector=True, tall=tall,
    ),
)  # fmt: skip
