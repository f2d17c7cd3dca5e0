"""Pictures of measured beside predicted: the plan's curve, the overlay, the book's parity."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fejoint.analysis import definitions
from fejoint.arrays import Floats
from fejoint.errors import BadInput, Fault
from fejoint.inputs.units import both_units
from fejoint.measured import results_book
from fejoint.measured.comparison import Expected, Matched, difference_at, maxima
from fejoint.output.pictures import theme as look

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from fejoint.measured.book import Book
    from fejoint.measured.outcome import Outcome
    from fejoint.measured.test_plan import Plan


def _axes(figure: Figure, bottom: float, top: float, right: float = 0.74) -> Axes:
    width, height = figure.get_size_inches()
    return figure.add_axes(
        (0.78 / width, bottom / height, 1.0 - (0.78 + right) / width, (top - bottom) / height)
    )


def plan_curve(plan: Plan, *, title: str = "", theme: str = "print") -> Figure:
    """Draw the predicted curve with its band, the proof stop and the first to give."""
    colours, c = look.theme(theme), plan.expected.curve
    first = plan.answer.verdict.order[0].first if plan.answer.verdict.order else None
    lines = [(plan.proof, "proof pull: stop here")]
    if first is not None and first.mode != definitions.NOTHING:
        lines.append((first.load, f"{definitions.named(first.mode)}: the first to give"))
    with look.styled(colours):
        figure, over = look.titled_figure(760, title, 0.78)
        height = figure.get_size_inches()[1]
        axes = _axes(figure, 0.46, height - 0.12 - over)
        half = 2.0 * plan.scatter
        axes.fill_between(
            c.extension, (1 - half) * c.load, (1 + half) * c.load, color=colours.faint, lw=0.0,
            alpha=0.6,
        )  # fmt: skip
        axes.plot(c.extension, c.load, color=colours.ink, lw=1.6)
        end = float(c.extension.max())
        axes.set(xlim=(0.0, 1.02 * end), ylim=(0.0, (1.05 + half) * float(c.load.max())))
        axes.set_xlabel("extension of the joint, mm (grey: two standard deviations of the load)")
        axes.set_ylabel("pull, N")
        for load, said in lines:
            axes.axhline(load, color=colours.mark, lw=0.8, ls=(0, (5, 2)))
            axes.text(0.99 * end, load, f"{said}, {both_units(load)}", color=colours.mark,
                      ha="right", va="bottom", bbox=_halo(colours))  # fmt: skip
        look.loads_up(axes).set_ylabel("kgf", color=colours.quiet)
        return look.shown(figure)


def _halo(theme: look.Theme) -> dict[str, Any]:
    return {"facecolor": theme.paper, "edgecolor": "none", "pad": 0.8, "alpha": 0.85}


def overlay(found: Outcome, *, title: str = "", theme: str = "print") -> Figure:
    """Draw measured and predicted curves, and below them their difference.

    Parameters
    ----------
    found : Outcome
        With the curve by the law learned from the logs, where it has one.
    title : str
        The joint's own if left out.
    theme : {"print", "screen", "dark"}
    """
    colours = look.theme(theme)
    expected, matches = found.expected, found.matches
    learned = found.fit.curve if found.fit else None
    drawn = [m for m in matches if m.curve is not None and len(m.curve.load) > 2]
    with look.styled(colours):
        figure = look.page_figure((look.PIXELS, 1320 if drawn else 900))
        height = figure.get_size_inches()[1]
        axes = _axes(figure, 1.75 if drawn else 0.5, height - 0.42)
        measured = f"{len(drawn)} measured" if len(drawn) > 1 else "measured"
        title = title or " ".join(expected.answer.joint.title.split()) or "pinned joint"
        figure.text(0.78 / look.WIDTH, 1.0 - 0.22 / height, title, fontsize=10, va="center")
        c = expected.curve
        ends = [float(m.curve.extension.max()) for m in drawn if m.curve is not None]
        # the whole of either: a break predicted far behind the measured one is the largest miss
        end = 1.04 * max([*ends, float(c.extension.max())])
        for k, m in enumerate(drawn):
            assert m.curve is not None
            axes.plot(m.curve.extension, m.curve.load, color=colours.second, lw=1.0, alpha=0.85,
                      ls=(0, (6, 1.2)),
                      label=f"{measured}, slack and rig removed" if k == 0 else None)  # fmt: skip
            top = int(np.argmax(m.curve.load))
            own: dict[str, Any] = {
                "zorder": 6,
                "mfc": colours.paper,
                "mec": colours.second,
                "ls": "",
            }
            axes.plot([m.curve.extension[top]], [m.maximum], "^", ms=5.5, **own,
                      label="highest pull, measured" if k == 0 else None)  # fmt: skip
            if m.offset is not None:
                axes.plot([m.offset.elongation], [m.offset.load], "o", ms=4.5, **own,
                          label="offset load on the extension" if k == 0 else None)  # fmt: skip
        axes.plot(c.extension, c.load, color=colours.ink, lw=1.7, label="predicted")
        o = expected.offset
        if o is not None:
            shift = 0.02 * expected.hole
            up = np.array([0.0, 1.08 * o.load])
            axes.plot(shift + up / o.slope, up, color=colours.mark, lw=0.8, ls=(0, (5, 2)))
            label = f"its offset load, {both_units(o.load)}"
            axes.plot(
                [o.elongation], [o.load], "o", ms=5.5, color=colours.mark, zorder=7, label=label
            )
        if learned is not None:
            axes.plot(learned.extension, learned.load, color=colours.mark, lw=1.5,
                      ls=(0, (1, 1.4)), zorder=5, label="by the law learned")  # fmt: skip
        if expected.most_mode:
            what = definitions.named(expected.most_mode)
            label = f"predicted: {what} at {both_units(expected.most)}"
            axes.plot([c.extension[-1]], [c.load[-1]], "^", ms=6.5, color=colours.mark, ls="",
                      zorder=7, label=label)  # fmt: skip
        tops = maxima(matches)
        highest = max([*tops, float(c.load.max())])
        bare = [m for m in matches if m.curve is None]
        for k, load in enumerate(maxima(bare) if bare else []):
            label_or_none = "highest pull, measured without travel" if k == 0 else None
            axes.plot(
                [0.985 * end], [load], marker="_", ms=16, mew=1.6, color=colours.second, ls="",
                label=label_or_none,
            )  # fmt: skip
        axes.set(xlim=(0.0, end), ylim=(0.0, 1.1 * highest), ylabel="pull, N")
        axes.legend(loc="lower right", frameon=False, fontsize=7.5)
        look.loads_up(axes).set_ylabel("kgf", color=colours.quiet)
        if drawn:
            axes.tick_params(labelbottom=False)
            _differences(_axes(figure, 0.5, 1.6), expected, drawn, end, colours)
        else:
            axes.set_xlabel("extension of the joint, mm")
        return look.shown(figure)


def _differences(
    axes: Axes, expected: Expected, drawn: Sequence[Matched], end: float, colours: look.Theme
) -> None:
    c = expected.curve
    most = 0.0
    for m in drawn:
        assert m.curve is not None
        top = float(m.curve.extension[int(np.argmax(m.curve.load))])
        to = min(top, float(c.extension.max()), end)
        grid = np.linspace(0.0, to, 300)[1:]
        left = difference_at(grid, m.curve, c)
        most = max(most, float(np.abs(left).max()))
        axes.plot(grid, left, color=colours.second, lw=0.9)
    axes.axhline(0.0, color=colours.ink, lw=1.0)
    axes.set(xlim=(0.0, end), ylim=(-1.15 * max(most, 1.0), 1.15 * max(most, 1.0)))
    axes.set_xlabel("extension of the joint, mm")
    axes.set_ylabel("measured less\npredicted, N")
    axes.yaxis.set_major_formatter(look.thousands)


def parity(pulls: Sequence[results_book.Entry], *, title: str = "", theme: str = "print") -> Figure:
    """Draw measured against predicted loads of the book, with the band of the next pull.

    Parameters
    ----------
    pulls : sequence of Entry
        At least one with a predicted load.
    title : str
    theme : {"print", "screen", "dark"}

    Raises
    ------
    BadInput
        If no pull has a predicted load.
    """
    colours = look.theme(theme)
    known = [e for e in pulls if e.predicted]
    if not known:
        mend = "`fejoint match ... --book` adds them"
        raise BadInput(Fault("book", "", "holds no pull with a predicted load", mend))
    judged = [j for m in results_book.MEASURES if (j := results_book.judge(pulls, m)) is not None]
    with look.styled(colours):
        figure, over = look.titled_figure(1560, title, 0.78)
        height = figure.get_size_inches()[1]
        axes = _axes(figure, 0.5, height - over - 0.2 - 0.42 * len(judged), 0.3)
        loads = np.array([(e.predicted, e.measured) for e in known], float)
        low, high = 0.75 * float(loads.min()), 1.3 * float(loads.max())
        line = np.array([low, high])
        axes.plot(line, line, color=colours.ink, lw=1.0, label="as predicted")
        for k, j in enumerate(judged):
            ink, mark = ((colours.mark, "o"), (colours.second, "s"))[k]
            if j.band is not None:
                # over the loads that were pulled: of others the book knows nothing
                known_to = band_span([e for e in known if e.measure == j.measure])
                axes.fill_between(
                    known_to, j.band[0] * known_to, j.band[1] * known_to, lw=0.0, color=ink,
                    alpha=0.1,
                )  # fmt: skip
                label = f"{j.measure}: where the next pull should lie (19 in 20)"
                for n, edge in enumerate(j.band):
                    axes.plot(known_to, edge * known_to, color=ink, lw=0.8,
                              ls=((0, (5, 2)), (0, (1, 1.4)))[k],
                              label=None if n else label)  # fmt: skip
            for hit in (True, False):
                chosen = [e for e in known if e.measure == j.measure and _as_seen(e) == hit]
                if chosen:
                    label = f"{j.measure}" + ("" if hit else ", seen to give in another mode")
                    axes.plot([e.predicted or 0.0 for e in chosen], [e.measured for e in chosen],
                              mark, ms=5.5, ls="", mec=ink, mfc=ink if hit else colours.paper,
                              alpha=0.85, label=label)  # fmt: skip
            for n, text in enumerate(j.sentence().split("; ", 1)):
                top = height - over - 0.2 - 0.42 * k - 0.17 * n
                figure.text(0.78 / look.WIDTH, top / height, text, va="center", color=ink)
        axes.set(xlim=(low, high), ylim=(low, high), xscale="log", yscale="log")
        ticks = [d * 10.0**p for p in range(0, 9) for d in (1, 1.5, 2, 3, 4, 5, 6, 8)]
        ticks = [t for t in ticks if low <= t <= high]
        for axis in (axes.xaxis, axes.yaxis):
            axis.set_ticks(ticks)
            axis.set_ticks([], minor=True)
            axis.set_major_formatter(look.thousands)
        axes.set_xlabel("predicted, N")
        axes.set_ylabel("measured, N")
        axes.legend(
            loc="upper left", fontsize=7.5, facecolor=colours.paper, edgecolor="none",
            framealpha=0.85,
        )  # fmt: skip
        return look.shown(figure)


def parity_of(book: Book, *, title: str = "", theme: str = "print") -> Figure:
    """Draw the pulls of a book; see `parity`."""
    return parity(book.entries, title=title, theme=theme)


def band_span(pulled: Sequence[results_book.Entry]) -> Floats:
    """Return the predicted loads between which a band is drawn: those pulled and 3 % beside, N."""
    loads = [e.predicted for e in pulled if e.predicted]
    return np.array([0.97 * min(loads), 1.03 * max(loads)])


def _as_seen(entry: results_book.Entry) -> bool:
    return not entry.seen_mode or entry.seen_mode == entry.predicted_mode
