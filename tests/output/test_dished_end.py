"""The sketch of an end that dishes says the limit of its answer, and is refused without it."""

from __future__ import annotations

import json
from typing import Any

import pytest
from support.labels import faults, texts
from support.pulled import quick_answer, thin_answer

from fejoint.analysis.result import Answer
from fejoint.errors import BadInput
from fejoint.output import pictures
from fejoint.output.pictures import dished_end


@pytest.fixture(name="thin", params=[None, "6 mm"], ids=["bare", "small head"])
def _thin(request) -> Answer:
    return thin_answer(request.param)


def _words(answer: Any, width: float = 170.0) -> str:
    figure, _ = pictures.drawing_of(answer, "dishing", width=width)
    return " ".join(text for text, _, _ in texts(figure)).replace("\u00a0", " ")


def test_it_says_the_limit_and_what_holds_the_ear(thin):
    row = min((x for p in thin.verdict.order for x in (p.first, *p.later)
               if x.mode == "end dishes"), key=lambda x: x.load)  # fmt: skip
    said = _words(thin)
    assert f"at a pull of {row.load:,.0f}"[:-2] in said  # to three figures
    own = said.partition("each ear: the end dishes at ")[2].partition(" N")[0]
    assert float(own.replace(",", "")) == pytest.approx(0.5 * row.load, rel=0.03)
    head = thin.joint.pin.head
    assert ("nothing is counted on its outer face" in said) is (head is None)
    assert ("a head of 6 mm does not keep it" in said) is (head == 6.0)


@pytest.mark.parametrize("width", [60.0, 80.0, 170.0])
def test_its_labels_keep_clear(thin, width: float):
    figure, _ = pictures.drawing_of(thin, "dishing", width=width)
    assert faults(figure) == []


def test_it_is_of_answers_with_the_limit_alone(thin, tmp_path):
    dishing = pictures.table()["dishing"]
    assert dishing.is_of(thin)
    assert not dishing.is_of(quick_answer())
    with pytest.raises(BadInput, match="no end dishes"):
        pictures.picture(quick_answer(), "dishing", tmp_path / "x.png")
    assert not list(tmp_path.iterdir())


def test_of_unlike_ears_the_lower_is_drawn(thin):
    data = json.loads(thin.to_json())
    first, second = data["case"]["ear"]
    data["case"]["ear"] = [first, second | {"thickness": "0.9 mm"}]
    for part in data["verdict"]["order"]:
        for row in (part, *part["later"]):
            if row["mode"] == "end dishes":
                row["member"] = "ear 2"
    assert dished_end._shown(data)[2].thickness == pytest.approx(0.9)
