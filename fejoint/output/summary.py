"""An answer in short, for Python: as text, as a notebook shows it, as a figure and as a grid."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fejoint.analysis.cautions import CAUTIONS
from fejoint.analysis.result import Answer
from fejoint.output import report
from fejoint.output.field_snapshot import of_part
from fejoint.output.limit_table import HEADS, LEFT, limit_table
from fejoint.output.pictures import drawing_of, theme
from fejoint.output.result_files import as_grid, solve_again

if TYPE_CHECKING:
    import pyvista
    from matplotlib.figure import Figure


def text(answer: Answer) -> str:
    """Return the verdict and the table of limits as plain text."""
    table = limit_table(answer)
    lines = [HEADS, *table.rows]
    widths = [max(len(line[k]) for line in lines) for k in range(len(HEADS))]
    rows = (
        "  ".join(
            cell.ljust(width) if head in LEFT else cell.rjust(width)
            for cell, width, head in zip(line, widths, HEADS, strict=True)
        ).rstrip()
        for line in lines
    )
    ended = () if answer.trust.finished else (f"Stopped early: {answer.trust.stopped_because}",)
    said = (answer.joint.title, answer.verdict.sentence, *ended)
    return "\n".join([*filter(None, said), "", *rows, *table.notes])


def html(answer: Answer) -> str:
    """Return the summary as a piece of HTML that needs no other file, all text escaped."""
    table = limit_table(answer)
    pictures = [report.picture_address(answer, name) for name in ("drawing", "curve")]
    return report.rendered(
        "summary.html", a=answer, heads=HEADS, left=LEFT, table=table, pictures=pictures,
        cautions=CAUTIONS,
    )  # fmt: skip


def plot(answer: Answer, what: str, look: str) -> Figure:
    """Return one picture as a figure that a notebook shows whatever its plotting is set to."""
    return theme.shown(*drawing_of(answer, what, theme=look))


def grid(answer: Answer) -> pyvista.UnstructuredGrid:
    """Return the weaker ear's snapshots as a grid; solved again where the answer holds none."""
    import pyvista

    solved = answer if answer.faces else solve_again(answer.to_dict())
    return pyvista.from_meshio(as_grid(of_part(solved, solved.weaker_ear)))
