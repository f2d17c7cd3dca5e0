"""Pictures, table, report and file tell the same loads: pulls on the joint, never on a plate."""

from __future__ import annotations

import io
import re
from contextlib import redirect_stdout

import numpy as np
import pytest
from support import DEMO
from support.pulled import quick_answer

import fejoint
from fejoint.analysis.result import Answer
from fejoint.cli.pull import show
from fejoint.inputs.units import figures
from fejoint.kernel import load_curve
from fejoint.output import pictures, report
from fejoint.output.field_snapshot import of_part
from fejoint.output.pictures.load_curve import events_on_curve
from fejoint.output.pictures.picture import weakest_ear


@pytest.fixture(name="single", scope="module")
def _single() -> Answer:
    """Single shear: the ear bears unevenly through its thickness, its plate by itself evenly."""
    table = fejoint.load(DEMO).to_dict()
    table["ear"], table["fit"]["gap"] = table["ear"][:1], [0.5]
    table["pin"] = {"diameter": 4.0, "hardness": "200 HV"}
    return fejoint.pull(fejoint.load(table).replace("pull.stop_displacement", "1 mm"), refine=0.35)


@pytest.fixture(name="unequal", scope="module")
def _unequal() -> Answer:
    table = fejoint.load(DEMO).to_dict()
    table["ear"][0] |= {"thickness": 3.0, "hole": 4.3}
    joint = fejoint.load(table).replace("pull.stop_displacement", "0.8 mm")
    return fejoint.pull(joint, refine=0.35)


@pytest.fixture(name="sure", scope="module")
def _sure() -> Answer:
    """Bands by which a load is told to fewer figures than three."""
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", "0.4 mm")
    return fejoint.pull(joint, refine=0.35, band=True)


@pytest.mark.parametrize("which", ["double", "single", "unequal", "sure"])
def test_every_way_of_telling_tells_the_same_loads(
    which: str, single: Answer, unequal: Answer, sure: Answer, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(report, "_inline", lambda *_: "")  # the report's words alone
    answer = {"double": quick_answer(), "single": single, "unequal": unequal, "sure": sure}[which]
    odds = answer.odds
    assert (odds is not None) is (which == "sure")
    plain = answer.to_dict()
    limits = [x for row in plain["verdict"]["order"] for x in (row, *row["later"])]
    with redirect_stdout(io.StringIO()) as shown:
        show(answer, [])
    page = report.single(answer)
    axis = _words(answer, "limits")
    for limit in limits:
        band = odds and odds.band(limit["member"], limit["mode"], limit["cause"])
        told = figures(limit["load_N"], band.figures if band else 3)
        if band:
            assert (
                f"{figures(band.low, band.figures)} to {figures(band.high, band.figures)}" in page
            )
        assert told in shown.getvalue()
        assert f'<td class="n">{told}</td>' in page
        assert f"{told} N" in axis
    curve = _words(answer, "curve")
    for event in plain["events"]:
        if event["load_N"] is not None and not event["name"].startswith("first yield"):
            digits = odds.figures_of(event["load_N"]) if odds else 3
            assert f"{figures(event['load_N'], digits)} N" in curve


@pytest.mark.parametrize("which", ["single", "unequal", "sure"])
def test_the_ears_picture_is_captioned_with_the_joints_pull(
    which: str, single: Answer, unequal: Answer, sure: Answer
):
    answer = {"single": single, "unequal": unequal, "sure": sure}[which]
    name = weakest_ear(answer)
    words = _words(answer, "stress")
    first, last = of_part(answer, name)
    event = answer.event("offset load")
    assert first.pull == pytest.approx(event.load, rel=1e-3)
    assert first.elongation == pytest.approx(event.hole_elongation, rel=0.02)
    assert last.pull == pytest.approx(answer.trace.load[-1])
    assert last.elongation == pytest.approx(answer.trace.hole_elongation.max(), rel=1e-3)
    for shot in (first, last):
        told = figures(shot.pull, answer.odds.figures_of(shot.pull) if answer.odds else 3)
        assert f"pull {told} N" in words
        assert f"pull {told} N" in _words(answer, "pin") or which != "sure"
        assert ("hole in ear 2" in words) is (which == "unequal")
    # the plate by itself bears otherwise; where it does, the caption says so
    apart = abs(first.load - first.borne) > 0.02 * first.load
    assert apart is ("even bearing" in words.partition("at the end")[0])
    if which == "single":
        assert apart


def test_every_event_lies_on_the_curve_even_that_of_the_other_ear(unequal: Answer):
    assert weakest_ear(unequal) == "ear 2"
    plain = unequal.to_dict()
    grown, load = unequal.trace.hole_elongation, unequal.trace.load
    for event in events_on_curve(plain):
        index = load_curve.first_reach(load, event["load_N"])
        on_curve = load_curve.at_index(grown, len(load) - 1.0 if index is None else index)
        assert event["hole_elongation_mm"] == pytest.approx(on_curve, abs=0.03 * np.ptp(grown))


def _words(answer: Answer, what: str) -> str:
    """Return all words of a picture, each once, however they are broken into lines."""
    from matplotlib.text import Text

    figure, _ = pictures.drawing_of(answer, what)
    return re.sub(r"\s+", " ", " | ".join(t.get_text() for t in figure.findobj(Text)))
