"""Reports: one self-contained HTML file, or a PDF, of one answer or of several side by side."""

from __future__ import annotations

import base64
import os
import shutil
import subprocess
import tempfile
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from fejoint.analysis.apart import sentences
from fejoint.analysis.definitions import EARS_ALIKE, EVENT_TITLES, MESH_SCALE, named
from fejoint.analysis.odds import Odds
from fejoint.analysis.result import Answer
from fejoint.errors import BadInput, Fault
from fejoint.files import write_atomically
from fejoint.inputs.units import KGF, figures
from fejoint.joint.model import Joint
from fejoint.joint.parts import Ear, Pin, Shank
from fejoint.output.comparison_table import differences, side_by_side
from fejoint.output.pictures import comparison, drawing_of, table, theme
from fejoint.output.pictures.picture import Picture, has_pin, joint_of
from fejoint.output.result_files import solve_again

PRINT_SECONDS = 60.0
"""Time that the browser is given to print a report."""

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "msedge")


def report(
    answers: Answer | Sequence[Answer | Mapping[str, Any]],
    path: str | os.PathLike[str],
    sources: Sequence[str] = (),
) -> Path:
    """Write a report of one answer, or the comparison of several.

    Parameters
    ----------
    answers : Answer, or sequence of Answer or of the plain data of `answer.json`
        Plain data hold no fields: their joints are pulled again for the pictures.
    path : path
        Ending in .html or .pdf.
    sources : sequence of str
        Files of the answers, named on the first page.

    Returns
    -------
    Path

    Raises
    ------
    BadInput
        If the suffix is another, there is no browser to print a PDF, or the file cannot be
        written.

    Examples
    --------
    >>> import fejoint, tempfile
    >>> answer = fejoint.pull("cases/demo/hard-pin.toml", refine=0.35)
    >>> report(answer, tempfile.mkdtemp() + "/report.html").name
    'report.html'
    """
    path = Path(path)
    answers = [answers] if isinstance(answers, Answer) else answers
    if not answers:
        raise BadInput(Fault("answers", "", "must be at least one", "give an answer"))
    check_suffix(path)
    printer = browser() if path.suffix.lower() == ".pdf" else None
    named = ", ".join(sources)
    text = single(answers[0], named) if len(answers) == 1 else compared(answers, named)
    write_atomically(path, text if printer is None else _printed(text, printer))
    return path


def check_suffix(path: Path) -> None:
    """Refuse a report's file that is neither HTML nor PDF.

    Raises
    ------
    BadInput
        If the suffix is another.
    """
    if path.suffix.lower() not in (".html", ".pdf"):
        raise BadInput(Fault("report", str(path), "must end in .html or .pdf", "change its suffix"))


def single(answer: Answer | Mapping[str, Any], source: str = "") -> str:
    """Return the report of one answer as HTML: four printed pages at most.

    Parameters
    ----------
    answer : Answer or the plain data of `answer.json`
    source : str
        File of the answer, named on the first page.
    """
    live = answer if isinstance(answer, Answer) and answer.faces else None
    plain = answer.to_dict() if isinstance(answer, Answer) else dict(answer)
    if live is None:
        live = solve_again(plain)
    joint = Joint.from_dict(plain["case"])
    shown = [p for p in table().values() if p.caption and p.is_of(live)]
    # numbered as they stand in the report
    shown.sort(key=lambda p: (p.name != "limits", p.rank))
    images = {
        p.name: {
            "data": _inline(live if p.needs == "sections" else plain, p), "alt": p.caption,
            "number": k + 1,
        }
        for k, p in enumerate(shown)
    }  # fmt: skip
    return rendered(
        "report.html", a=plain, images=images, metals=_metals(joint), sources=_sources(plain),
        limits=_by_load(plain), odds=Odds.of_answer(plain), source=source,
        apart=list(sentences(plain["verdict"]["order"])),
    )  # fmt: skip


def _by_load(answer: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return every limit as the pull meets them: by rising load, behind its highest by falling.

    Each has its band ("sure"), None for none, and to how many figures its loads are told.
    """
    odds = Odds.of_answer(answer)
    limits = []
    for limit in (x for row in answer["verdict"]["order"] for x in (row, *row["later"])):
        sure = odds and odds.band(limit["member"], limit["mode"], limit["cause"])
        told = (sure.low, sure.high) if sure else limit.get("band_N")
        limits.append(limit | {"sure": told, "digits": sure.figures if sure else 3})

    def place(limit: Mapping[str, Any]) -> tuple[bool, float]:
        past = bool(limit["past_highest_pull"])
        return past, -limit["load_N"] if past else limit["load_N"]

    return sorted(limits, key=place)


def compared(answers: Sequence[Answer | Mapping[str, Any]], source: str = "") -> str:
    """Return the comparison of two or more answers as HTML; see `single`."""
    plain = [a.to_dict() if isinstance(a, Answer) else dict(a) for a in answers]
    names = _names([p["case"]["title"] for p in plain])
    images = {
        "limits": _encoded(*comparison.limits_of(plain, names)),
        "curve": _encoded(*comparison.curves_of(plain, names)),
    }
    if len(answers) == 2 and not any(joint_of(p).pin.rigid for p in plain):
        live = [
            a if isinstance(a, Answer) and a.axial is not None else solve_again(p)
            for a, p in zip(answers, plain, strict=True)
        ]
        if all(map(has_pin, live)):
            images["pin"] = _encoded(*comparison.pins_of(live))
    return rendered(
        "comparison.html",
        names=names,
        answers=plain,
        images=images,
        differences=differences([p["case"] for p in plain]),
        rows=side_by_side(plain),
        source=source,
    )


def framed(title: str, body: str) -> str:
    """Return HTML that is already made in the frame and look of the reports."""
    from markupsafe import Markup

    return rendered("framed.html", title=title, body=Markup(body))


def browser() -> str:
    """Return the browser that prints PDFs.

    Raises
    ------
    BadInput
        If none is found.
    """
    named = os.environ.get("FEJOINT_CHROMIUM", "")
    for name in (named, *BROWSERS):
        found = shutil.which(name) if name and name != "none" else None
        if found:
            return found
    mend = "install Chromium, or write .html and print it from any browser"
    raise BadInput(Fault("report", "PDF", "needs a Chromium browser to print it", mend))


def _printed(text: str, printer: str) -> bytes:
    try:
        return _printed_in(tempfile.gettempdir(), text, printer)
    except OSError as error:
        raise _unprinted(error.strerror or str(error)) from error


def _printed_in(place: str, text: str, printer: str) -> bytes:
    with tempfile.TemporaryDirectory(
        dir=place, prefix="fejoint-", ignore_cleanup_errors=True
    ) as folder:
        page, pdf = Path(folder) / "report.html", Path(folder) / "report.pdf"
        page.write_text(text, encoding="utf-8")
        command = [
            printer,
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--no-first-run",
            f"--user-data-dir={folder}/profile",
            "--no-pdf-header-footer",
            f"--print-to-pdf={pdf}",
            page.as_uri(),
        ]
        try:
            done = subprocess.run(command, capture_output=True, timeout=PRINT_SECONDS, check=False)
        except subprocess.TimeoutExpired as error:
            why = f"it printed nothing within {PRINT_SECONDS:.0f} s"
            raise _unprinted(why) from error
        if not pdf.exists():
            code = done.returncode
            raise _unprinted("it ended with code " + str(code))
        return pdf.read_bytes()


def _unprinted(why: str) -> BadInput:
    mend = "write .html and print it from any browser"
    return BadInput(Fault("report", "PDF", f"could not be printed by the browser: {why}", mend))


def _inline(answer: Answer | Mapping[str, Any], shown: Picture) -> str:
    """Return a picture as a data address."""
    return _encoded(*drawing_of(answer, shown.name), "svg" if shown.vector else "png")


def picture_address(answer: Answer, name: str) -> str:
    """Return a picture of an answer as a data address."""
    return _inline(answer, table()[name])


def _encoded(drawn: Any, pixels: int, kind: str = "png") -> str:
    data = base64.b64encode(theme.encoded(drawn, kind, pixels)).decode()
    return f"data:image/{'svg+xml' if kind == 'svg' else kind};base64,{data}"


def _metals(joint: Joint) -> list[dict[str, Any]]:
    """Return the rows of the table of materials, one a part; equal ears are one row."""
    parts: list[tuple[str, Ear | Pin | Shank]]
    if len(joint.ears) == 1:
        parts = [("ear", joint.ears[0])]
    elif joint.ears[0].material == joint.ears[1].material:
        parts = [(EARS_ALIKE, joint.ears[0])]
    else:
        parts = [(f"ear {k + 1}", ear) for k, ear in enumerate(joint.ears)]
    parts += [("pin", joint.pin), ("shank", joint.shank)]
    rows = []
    for name, part in parts:
        rigid = isinstance(part, Pin) and part.rigid
        rows.append({"part": name, "rigid": rigid, "metal": part.material})
    return rows


def _sources(answer: Mapping[str, Any]) -> list[str]:
    """Return where the handbook values come from, each once."""
    limits = [x for row in answer["verdict"]["order"] for x in (row, *row["later"])]
    said = (
        f"{named(x['mode'], x['member'])}: {x['handbook_source']}"
        for x in limits
        if x["handbook_source"]
    )
    return list(dict.fromkeys(said))


def _names(titles: Sequence[str]) -> list[str]:
    """Return names that tell the joints apart."""
    if len(set(titles)) == len(titles):
        return list(titles)
    return [f"{title} ({k + 1})" for k, title in enumerate(titles)]


def rendered(template: str, **data: Any) -> str:
    """Return a template of this room with its gaps filled, all text escaped."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("fejoint.output", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals |= {
        "mesh_scale": MESH_SCALE,
        "event_titles": EVENT_TITLES,
        "date": datetime.now(UTC).date().isoformat(),
    }
    environment.filters |= {"newtons": _newtons, "kgf": _kgf, "small": _small}
    return environment.get_template(template).render(**data)


def _newtons(load: float | None, digits: int = 3) -> str:
    return "–" if load is None else figures(load, digits)


def _kgf(load: float | None, digits: int = 3) -> str:
    return _newtons(None if load is None else load / KGF, digits)


def _small(value: float | None, digits: int = 2) -> str:
    return "–" if value is None else f"{value:.{digits}g}"
