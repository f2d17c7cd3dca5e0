"""The plan of a test as a page to print."""

from __future__ import annotations

from pathlib import Path

from fejoint.analysis.cautions import CAUTIONS, LIMITS
from fejoint.analysis.definitions import MESH_SCALE
from fejoint.files import write_atomically
from fejoint.inputs.units import KGF, figures
from fejoint.measured import plots, statistics
from fejoint.measured.test_plan import RIG_CAUTIONS, Plan
from fejoint.output.pictures import theme as look


def write_page(plan: Plan, path: Path) -> Path:
    """Write the plan as one printable page of HTML.

    Raises
    ------
    BadInput
        If the file cannot be written.
    """
    import base64

    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("fejoint.output", "templates"), autoescape=True,
        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.filters["n"] = lambda x, digits=None: figures(x, digits) if digits else f"{x:,.0f}"
    drawn = look.encoded(plots.plan_curve(plan), "svg", look.PIXELS)
    picture = base64.b64encode(drawn).decode()
    limits = [x for x in LIMITS if x.startswith(("Plane stress", "Not modelled"))]
    text = environment.get_template("plan.html").render(
        plan=plan, mesh_scale=MESH_SCALE, joint=plan.answer.joint, kgf=KGF,
        cautions=[*CAUTIONS, *RIG_CAUTIONS], limits=limits,
        picture=f"data:image/svg+xml;base64,{picture}",
        smallest=statistics.power(plan.count, plan.difference, plan.scatter),
    )  # fmt: skip
    write_atomically(path, text)
    return path
