"""The page in a browser: what a maker does with it."""

from __future__ import annotations

import tomllib
from urllib.parse import urlsplit

import pytest
from support.page_bench import Bench

BUSY = 50.0
"""Milliseconds that a change may keep the page from answering the hand."""
LAYOUTS = 130
"""Layouts that one change may ask of the browser; 67 to 86 were counted."""


@pytest.fixture(scope="module")
def bench(browser, address):
    made = Bench(browser, address, viewport={"width": 1440, "height": 900})
    yield made
    assert made.wrong == []
    hosts = {urlsplit(url).hostname for url in made.asked if not url.startswith(("blob:", "data:"))}
    assert hosts == {"127.0.0.1"}, "nothing may come from outside"
    made.page.close()


def test_turning_a_dimension_changes_the_verdict(bench):
    before = bench.sentence()
    bench.turn("ear.thickness", 1.6)
    assert bench.sentence() != before
    rows = bench.joint().locator(".order tbody tr")
    assert rows.count() >= 2


def test_a_change_makes_the_browser_lay_the_page_out_few_times(bench):
    browser = bench.page.context.new_cdp_session(bench.page)
    browser.send("Performance.enable")

    def layouts():
        told = browser.send("Performance.getMetrics")["metrics"]
        return next(m["value"] for m in told if m["name"] == "LayoutCount")

    counts = []
    for value in (7.1, 7.3, 7.5):
        before = layouts()
        bench.turn("ear.edge_distance", value)
        bench.page.wait_for_timeout(100)
        counts.append(layouts() - before)
    assert 0 < min(counts) <= LAYOUTS


@pytest.mark.stress
def test_the_page_s_own_work_is_short(bench):
    work = []
    for value in (7.2, 7.4, 7.6):
        bench.turn("ear.edge_distance", value)
        bench.page.wait_for_timeout(100)
        work.append(float(bench.page.evaluate("document.body.dataset.work")))
        work[-1] += float(bench.joint().get_attribute("data-work"))
    assert min(work) < BUSY  # the others may have shared their core


def test_a_dimension_can_be_dragged(bench):
    before = bench.solved()
    old = float(bench.box("ear.edge_distance").input_value())
    line = bench.page.locator(".grab[data-turns='ear.edge_distance']").last.bounding_box()
    x, y = line["x"] + 0.75 * line["width"], line["y"] + 0.5 * line["height"]
    bench.page.mouse.move(x, y)
    bench.page.mouse.down()
    bench.page.mouse.move(x + 15, y, steps=3)
    bench.page.mouse.move(x + 30, y, steps=3)
    bench.page.mouse.up()
    bench.solved(other_than=before)
    assert float(bench.box("ear.edge_distance").input_value()) > old + 0.5


def test_arrow_keys_turn_a_dimension(bench):
    before = bench.solved()
    bench.box("shank.thickness").focus()
    old = float(bench.box("shank.thickness").input_value())
    bench.page.keyboard.press("ArrowUp")
    bench.page.keyboard.press("ArrowUp")
    bench.solved(other_than=before)
    assert float(bench.box("shank.thickness").input_value()) == pytest.approx(old + 0.2)


def test_the_slider_walks_along_the_pull(bench):
    at_rest = "document.querySelector('.said').textContent.startsWith('0 N')"
    slider = bench.page.locator("#pull-at")
    slider.focus()
    bench.page.keyboard.press("Home")
    said = bench.joint().locator(".said")
    bench.page.wait_for_function(f"() => {at_rest}")
    bench.page.keyboard.press("End")
    bench.page.wait_for_function(f"() => !{at_rest}")
    assert "mm longer" in said.inner_text()
    assert slider.get_attribute("aria-valuetext").endswith("kgf)")
    assert "deformed ear" in bench.joint().locator("canvas.ear").get_attribute("aria-label")
    bench.page.get_by_label("plastic strain").check(force=True)
    bench.joint().locator(".key", has_text="plastic strain").wait_for()


def test_bad_input_is_shown_at_its_field(bench):
    box = bench.box("ear.hole")
    good = box.input_value()
    box.fill("3.9")
    box.press("Enter")
    note = bench.joint().locator(".dims .fault")
    note.wait_for()
    assert "at least the pin's diameter" in note.inner_text()
    assert box.get_attribute("aria-invalid") == "true"
    assert box.get_attribute("aria-describedby") == note.get_attribute("id")
    bench.turn("ear.hole", good)
    assert note.count() == 0
    assert box.get_attribute("aria-invalid") is None


def test_a_case_is_saved_and_opened_again(bench, tmp_path):
    bench.turn("ear.hole", 4.3)
    with bench.page.expect_download() as download:
        bench.joint().get_by_role("button", name="Save the case").click()
    file = tmp_path / "case.toml"
    download.value.save_as(file)
    assert tomllib.loads(file.read_text())["ear"]["hole"] == "4.3 mm"
    before = bench.turn("ear.hole", 4.2)
    bench.joint().locator("input[type=file]").set_input_files(file)
    bench.solved(other_than=before)
    assert bench.box("ear.hole").input_value() == "4.3"


def test_a_solve_can_be_stopped(bench):
    shown = bench.solved()
    box = bench.joint().locator(".made [data-path='pin.hardness']")
    box.fill("40 HRC")
    box.press("Enter")
    bench.joint().get_by_role("button", name="Stop").click()
    assert "Stopped" in bench.joint().locator(".state").inner_text()
    assert bench.solved() == shown
    box.fill("47 HRC")
    box.press("Enter")
    bench.solved(other_than=shown)


def test_a_second_joint_begins_as_a_copy_at_one_scale(bench):
    bench.page.get_by_role("button", name="Compare with another joint").click()
    bench.solved("b")
    assert bench.sentence("b") == bench.sentence("a")
    assert bench.joint("b").locator(".title").input_value() == "Fluke anchor, hard pin, changed"
    before = bench.solved("b")
    bench.box("ear.thickness", "b").fill("3")
    bench.box("ear.thickness", "b").press("Enter")
    bench.solved("b", other_than=before)
    assert bench.sentence("b") != bench.sentence("a")
    for canvas in ("ear", "pin"):
        bench.page.wait_for_function(
            "kind => { const [a, b] = document.querySelectorAll(`canvas.${kind}`);"
            "return a.width > 0 && a.width === b.width && a.height === b.height; }",
            arg=canvas,
        )
    bench.joint("b").get_by_role("button", name="Remove this joint").click()
    assert bench.joint("b").count() == 0
    assert bench.joint("a").get_by_role("button", name="Remove this joint").count() == 0


def test_four_joints_stand_together_and_any_can_go(bench):
    another = bench.page.get_by_role("button", name="Compare with another joint")
    was = bench.text("ear.thickness")
    for place in "bcd":
        another.click()
        bench.solved(place)
    assert another.is_disabled()
    titles = [bench.joint(p).locator(".title").input_value() for p in "abcd"]
    assert titles[1:] == [f"{titles[0]}, changed{n}" for n in ("", " 2", " 3")]
    # what gives first in each stands on the axis under the joint's name
    bench.page.wait_for_function("() => document.querySelectorAll('#axis .jump').length === 4")
    names = bench.page.locator("#axis .flag-name").all_text_contents()
    assert sorted(n.rpartition(": both ears")[0] for n in names) == sorted(titles)
    before = bench.solved("c")
    bench.box("ear.thickness", "c").fill("3")
    bench.box("ear.thickness", "c").press("Enter")
    bench.solved("c", other_than=before)
    bench.joint("b").get_by_role("button", name="Remove this joint").click()
    assert [j.get_attribute("data-place") for j in bench.page.locator(".joint").all()] == [*"acd"]
    assert bench.text("ear.thickness", "c") == "3"
    assert bench.text("ear.thickness", "d") == was
    bench.page.get_by_role("button", name="Undo").click()  # brings it back
    bench.page.wait_for_function("() => document.querySelectorAll('.joint').length === 4")
    texts = [bench.text("ear.thickness", p) for p in "acd"]
    assert sorted([*texts, bench.text("ear.thickness", "b")]) == sorted([was, was, was, "3"])
    for place in "bcd":
        bench.joint(place).get_by_role("button", name="Remove this joint").click()
    bench.solved()


def test_a_limit_opens_to_say_what_it_is_counted_as(bench):
    bench.solved()
    first = bench.joint().locator(".order .meaning").first
    assert not first.locator("p").is_visible()
    first.locator("summary").click()
    assert "2 % of the hole off the elastic line (ASTM E238" in first.locator("p").inner_text()


def test_a_phone_shows_one_column_and_leaves_another_tab_alone(bench, browser, address, tmp_path):
    shown = bench.solved()
    phone = Bench(browser, address, viewport={"width": 390, "height": 844}, color_scheme="dark")
    page = phone.page
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    sketch, ear = (page.locator(f".joint {part}").bounding_box() for part in (".sketch", ".ear"))
    assert ear["y"] > sketch["y"] + sketch["height"] - 1
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(18, 24, 28)"
    page.screenshot(path=tmp_path / "phone.png", full_page=True)
    assert phone.wrong == []
    page.close()
    assert bench.solved() == shown
