"""A report is one file that holds everything and says what the answer says."""

from __future__ import annotations

import dataclasses
import functools
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from support import DEMO
from support.pulled import quick_answer

import fejoint
from fejoint.analysis.cautions import CAUTIONS, LIMITS
from fejoint.analysis.definitions import EVENT_TITLES
from fejoint.analysis.result import Answer
from fejoint.errors import BadInput
from fejoint.inputs.units import figures
from fejoint.output import report
from fejoint.output.comparison_table import differences

VOID = {"meta", "img", "br", "link", "input", "hr"}


class _Reader(HTMLParser):
    """Checks that tags nest, and gathers text, addresses and alternative texts."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text: list[str] = []
        self.addresses: list[str] = []
        self.images: list[dict[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)
        given = dict(attrs)
        self.addresses += [v for k, v in attrs if k in ("src", "href", "action") and v]
        if tag == "img":
            self.images.append(given)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def read(text: str) -> _Reader:
    reader = _Reader()
    reader.feed(text)
    reader.close()
    assert not reader.open
    return reader


@pytest.fixture(name="answer", scope="module")
def _answer() -> Answer:
    return quick_answer()


@pytest.fixture(name="page", scope="module")
def _page(answer: Answer) -> str:
    return report.single(answer)


def test_report_holds_all_it_shows(page: str):
    reader = read(page)
    assert len(reader.images) >= 5
    assert all(image["alt"] for image in reader.images)
    assert all(address.startswith("data:image/") for address in reader.addresses)
    assert "<script" not in page
    assert "url(" not in page


def test_report_says_what_the_answer_says(page: str, answer: Answer):
    said = " ".join(" ".join(read(page).text).split())
    assert answer.verdict.sentence in said
    for part in answer.verdict.order:
        for limit in (part.first, *part.later):
            assert figures(limit.load) in said
            assert limit.handbook_load is None or figures(limit.handbook_load) in said
    for event in answer.events:
        assert EVENT_TITLES[event.name] in said
        assert event.load is not None or event.reason in said
    for line in (*CAUTIONS, *LIMITS, *answer.warnings):
        assert line in said
    assert answer.to_dict()["trust"]["ended"] in said


def test_the_odds_of_an_answer_are_told(answer: Answer):
    from fejoint.analysis.joint_odds import surer

    sure = surer(answer)
    assert sure.odds is not None
    told = " ".join(report.single(sure).split())
    assert "What matters most" in told
    assert f"In {sure.odds.of_100} such joints" in told
    first = sure.verdict.first
    band = sure.odds.band(first.member, first.mode, first.cause)
    assert band is not None
    assert figures(band.low, band.figures) in told


def test_the_first_page_says_when_by_what_version_and_from_which_file(answer: Answer):
    text = report.single(answer, "out/it/answer.json").partition("<h2>")[0]
    assert re.search(r"Report of \d{4}-\d\d-\d\d by fejoint \d", text)
    assert "from out/it/answer.json" in text
    assert answer.to_dict()["digest"][:12] in text


def test_limits_are_sorted_by_load_and_figures_are_numbered_in_turn():
    joint = fejoint.load(DEMO).replace("pull.stop_displacement", "1.2 mm")
    page = report.single(fejoint.pull(joint, refine=0.35))
    table = page.partition("<h2>What gives")[2].partition("</tbody>")[0]
    # load and kgf end a line that the band and the value by hand follow
    loads = re.findall(r'<td class="n">([\d,]+)</td><td class="n">[\d,.]+</td>\n', table)
    newtons = [float(x.replace(",", "")) for x in loads]
    assert len(newtons) > 1
    assert newtons == sorted(newtons)
    numbers = [int(n) for n in re.findall(r"<figcaption>Figure (\d+)\. ", page)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert len(numbers) == page.count("<figure")


def test_what_a_case_says_is_text_and_never_markup(answer: Answer):
    title = '<script>alert(1)</script> & "more"'
    sly = dataclasses.replace(answer, joint=answer.joint.replace("title", title))
    text = report.single(sly)
    assert "<script" not in text
    assert title in "".join(read(text).text)


def test_an_answer_from_its_file_gives_the_same_numbers(answer: Answer, page: str):
    stored = json.loads(answer.to_json())
    again = report.single(stored)
    without = re.compile(r"data:image[^\"]*")
    assert without.sub("", again) == without.sub("", page)


@functools.cache
def rigid_answer() -> Answer:
    case = fejoint.load(DEMO).replace("pull.stop_displacement", "0.3 mm").to_dict()
    case["pin"] = {"diameter": case["pin"]["diameter"], "rigid": True}
    return fejoint.pull(fejoint.load(case), refine=0.25)


@pytest.mark.parametrize("joints", ["sss", "rr", "rs", "rss"])
def test_any_joints_stand_side_by_side(joints: str, answer: Answer):
    answers = [answer if kind == "s" else rigid_answer() for kind in joints]
    shown = read(report.compared(answers)).images
    assert len(shown) == 2


def test_two_pins_that_bend_stand_side_by_side(answer: Answer):
    assert read(report.compared([answer, answer])).images[2]["alt"].startswith("The pins")


def test_comparison_names_what_differs(answer: Answer):
    other = dataclasses.replace(answer, joint=answer.joint.replace("ear.width", "13 mm"))
    text = report.compared([answer, other])
    reader = read(text)
    said = " ".join(" ".join(reader.text).split())
    assert "ears width, mm" in said
    assert "14" in said
    assert "13" in said
    assert said.count(answer.verdict.sentence) == 2
    assert all(address.startswith("data:image/") for address in reader.addresses)


def test_differences_pass_over_what_is_equal(answer: Answer):
    case = answer.joint.to_dict()
    other = answer.joint.replace("fit.gap", "0.3 mm").replace("ear.2.hole", "4.4 mm").to_dict()
    assert differences([case, case]) == []
    assert differences([case, other]) == [
        ("ear 2 hole, mm", ["4.1", "4.4"]),
        ("fit gap, mm", ["0.1", "0.3"]),
    ]


def test_a_report_of_another_kind_is_refused(answer: Answer, tmp_path: Path):
    with pytest.raises(BadInput, match=r"\.pdf"):
        report.report([answer], tmp_path / "report.docx")


def test_a_pdf_without_a_browser_says_what_to_do(
    answer: Answer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("FEJOINT_CHROMIUM", "none")
    with pytest.raises(BadInput, match="Chromium"):
        report.report([answer], tmp_path / "report.pdf")


@pytest.mark.parametrize(
    ("script", "said"),
    [
        ("exit 7", "it ended with code 7"),
        ("exec sleep 60", "it printed nothing within 0 s"),
        (None, "Permission denied"),
    ],
)
def test_a_browser_that_prints_nothing_is_told_with_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, script: str | None, said: str
):
    printer = tmp_path / "browser"
    printer.write_text(f"#!/bin/sh\n{script}\n")
    printer.chmod(0o644 if script is None else 0o755)
    monkeypatch.setattr(report, "PRINT_SECONDS", 0.3)
    with pytest.raises(BadInput, match=rf"could not be printed.*{said}.*write \.html"):
        report._printed("<p>page</p>", str(printer))


def test_a_table_of_cases_has_words_for_what_is_no_number():
    one, other = {"pin": {"rigid": True}}, {"pin": {"rigid": False, "note": None}}
    assert ("pin rigid", ["yes", "no"]) in differences([one, other])
    assert ("pin hardness", ["48 HRC", "–"]) in differences(
        [{"pin": {"hardness": "48 HRC"}}, {"pin": {"hardness": None}}]
    )


def test_printed_report_has_four_pages_at_most(answer: Answer, tmp_path: Path):
    try:
        report.browser()
    except BadInput:
        pytest.skip("no browser here")
    path = report.report([answer], tmp_path / "report.pdf")
    pages = len(re.findall(rb"/Type\s*/Page\b", path.read_bytes()))
    assert 1 <= pages <= 4
