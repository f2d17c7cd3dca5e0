"""Commands beyond a single pull: pictures, reports, checks, the page, and many joints."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from fejoint.cli.app import app
from fejoint.cli.options import Case, FinerRefine, Flag, Json, Refine, Scheduler, Texts, Workers


@app.command
def picture(
    answer: Path,
    /,
    *,
    what: str = "stress",
    out: Path | None = None,
    size: str | None = None,
    theme: str = "print",
) -> None:
    """Draw one picture of an answer.

    Parameters
    ----------
    answer
        The answer.json of a pull, or its folder. Pictures of fields solve its case again.
    what
        stress, plastic, thickness, relief, pin, curve, limits, drawing, or film (a GIF).
    out
        The file; its suffix says PNG, SVG, PDF or GIF. Beside the answer if left out.
    size
        Pixels, for example 1600x1000.
    theme
        print, screen or dark.
    """
    from fejoint.cli import picture as pictured

    print(f"wrote {pictured.run(answer, what=what, out=out, size=size, theme=theme)}")


@app.command
def report(
    *answers: Path,
    out: Path = Path("out/report.html"),
) -> None:
    """Write a report of one answer, or set several side by side.

    Parameters
    ----------
    answers
        One or more answer.json files of pulls, or their folders.
    out
        The file, ending in .html or .pdf (which takes a Chromium to print).
    """
    from fejoint.cli import picture as pictured

    print(f"wrote {pictured.write_report(answers, out)}")


@app.command
def pin_range(
    case: Path,
    /,
    *,
    softest: str = "150 HV",
    hardest: str = "600 HV",
    points: int = 12,
    after: str | None = None,
    refine: FinerRefine = 1.0,
    out: Path | None = None,
    as_json: Json = False,
) -> int:
    """Pull a joint with steel pins from soft to hard; find where the first part to give changes.

    Parameters
    ----------
    case
        The case file; its own pin material is not used.
    softest, hardest
        Ends of the range, such as "150 HV" or "52 HRC"; carbon and low-alloy steel.
    points
        Evenly spaced hardnesses; changes between them are found by further solves.
    after
        The pull, such as "400 kgf", after which the pin's kept bend is told; that at which the
        joint with the hardest pin first gives, if left out.
    out
        Folder for table and picture; "out/NAME" of the case if left out.
    """
    from fejoint.cli import pin_hardness

    return pin_hardness.run(
        case,
        softest=softest,
        hardest=hardest,
        points=points,
        after=after,
        refine=refine,
        out=out,
        as_json=as_json,
    )


@app.command
def check(
    *,
    only: str | None = None,
    jobs: int | None = None,
    page: Flag = False,
    as_json: Json = False,
) -> int:
    """Compute the reference cases and compare with textbooks, tests and a second library.

    Parameters
    ----------
    only
        A group (linear, contact, plasticity, joint, experiment, handbook, common practice, second
        opinion) or a case's name.
    jobs
        Processes; as many as there are cores if left out.
    page
        Write cases/reference/README.md with its pictures too.
    """
    from fejoint.cli import check as check_table

    return check_table.show(only, as_json=as_json, jobs=jobs, page=page)


@app.command
def page(
    *,
    host: str = "127.0.0.1",
    port: int = 8737,
    browser: Annotated[bool, Parameter(negative="--no-browser")] = True,
) -> int:
    """Serve the page: a drawing of the joint to turn, and the answer beside it.

    Parameters
    ----------
    host
        Address to bind to; this machine alone can reach the one it has.
    port
        0 takes a free one.
    browser
        Whether to open the browser.
    """
    from fejoint.page import serve

    return serve.run(host, port, open_browser=browser)


@app.command
def sweep(
    case: Case,
    /,
    *,
    vary: Texts = (),
    samples: int | None = None,
    spread: Literal["latin", "sobol", "halton"] = "latin",
    seed: int = 1,
    out: Path | None = None,
    refine: Refine = 1.0,
    workers: Workers = None,
    scheduler: str | None = None,
    most: int = 20_000,
    whole: Flag = False,
    estimate: Flag = False,
    as_json: Json = False,
) -> int:
    """Pull many joints that differ in some dimensions, into one table; the same command goes on.

    Parameters
    ----------
    vary
        For example "ear.hole=4.0:5.0:11 mm" (first, last, count), "pin.hardness=300,400 HV", or
        with --samples a range "ear.width=10:18 mm"; once for each dimension. Without any, every
        dimension is changed a little and the sensitivities are printed.
    samples
        Joints to spread over the ranges, instead of the grid of all values.
    spread
        How they are spread: latin, sobol or halton.
    seed
        Of the spreading.
    out
        Folder for rows and tables; "out/NAME-sweep" of the case if left out.
    scheduler
        Address of a dask scheduler, such as tcp://10.0.0.1:8786, instead of local processes.
    most
        Joints above which a sweep is not begun.
    whole
        Pull every joint to the end; else until its first part has given, in half the time.
    estimate
        Only say how many joints, how long and how much disk.
    """
    from fejoint.cli import sweeps

    return sweeps.sweep(
        case, vary, samples=samples, spread=spread, seed=seed, out=out, refine=refine,
        whole=whole, workers=workers, scheduler=scheduler, most=most, estimate=estimate,
        as_json=as_json,
    )  # fmt: skip


@app.command
def advise(
    case: Case,
    /,
    *,
    target: str,
    margin: str = "0 %",
    limit: Texts = (),
    only: Texts = (),
    refine: float = 1.0,
    workers: Workers = None,
    scheduler: Scheduler = None,
    as_json: Json = False,
) -> int:
    """Say the smallest change of one dimension, and of two, by which a joint carries a pull.

    Parameters
    ----------
    target
        The pull below which nothing may give, for example "900 kgf".
    margin
        By how much it is to be passed, for example "10 %".
    limit
        How far a dimension may go, for example "ear.width=12:16 mm"; 40 % either way if not said.
    only
        A dimension that may change, such as ear.width; all of them if left out.
    refine
        Mesh refinement of the verified answer: 1 for every day.
    """
    from fejoint.cli import sweeps

    return sweeps.advise(
        case, target, margin=margin, limit=limit, only=only, refine=refine, workers=workers,
        scheduler=scheduler, as_json=as_json,
    )  # fmt: skip


@app.command
def scatter(
    case: Case,
    /,
    *,
    draws: int = 60,
    seed: int = 1,
    metals: Annotated[bool, Parameter(negative="--no-metals")] = True,
    out: Path | None = None,
    refine: Refine = 1.0,
    workers: Workers = None,
    scheduler: Scheduler = None,
    as_json: Json = False,
) -> int:
    """Pull joints drawn from the case's [scatter] table: median, 5 to 95 %, modes and causes.

    Parameters
    ----------
    draws
        Joints to draw, by Latin hypercube.
    seed
        Of the drawing.
    metals
        Whether the metals' strength, ductility and curve shape scatter by their known bands where
        the table does not say how.
    out
        Folder for rows and tables; "out/NAME-scatter" of the case if left out.
    """
    from fejoint.cli import sweeps

    return sweeps.scatter(
        case, draws=draws, seed=seed, metals=metals, out=out, refine=refine, workers=workers,
        scheduler=scheduler, as_json=as_json,
    )  # fmt: skip


app.command("fejoint.cli.match_options:match", help="Put measured pulls beside the prediction.")
app.command("fejoint.cli.match_options:book", help="List a results book; judge predictions.")


@app.command
def used(
    case: Path,
    /,
    *,
    kept: str,
    refine: Refine = 1.0,
    as_json: Json = False,
) -> int:
    """Say what a joint whose holes have stretched already still bears.

    Parameters
    ----------
    case
        The case file of the joint when it was new.
    kept
        How much longer the holes in the ears are than when new, for example "0.1 mm".
    """
    from fejoint.cli import used_and_blow

    return used_and_blow.show_used(case, kept, refine=refine, as_json=as_json)


@app.command
def blow(
    case: Case,
    /,
    *,
    angle: float = 90.0,
    refine: Refine = 1.0,
    as_json: Json = False,
) -> int:
    """Push one ear sideways, across and along the pin.

    Parameters
    ----------
    angle
        Of the blow across the pin against the ear's axis, degrees.
    """
    from fejoint.cli import used_and_blow

    return used_and_blow.show_blow(case, angle=angle, refine=refine, as_json=as_json)
