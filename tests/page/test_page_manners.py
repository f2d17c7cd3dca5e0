"""An editor's manners, and an answer that is never taken for that of another joint."""

from __future__ import annotations

import re
import tomllib

import pytest
from support.page_bench import Bench, link


def saved(bench, tmp_path):
    with bench.page.expect_download() as download:
        bench.joint().get_by_role("button", name="Save the case").click()
    file = tmp_path / "case.toml"
    download.value.save_as(file)
    return tomllib.loads(file.read_text())


def test_an_answer_that_arrives_leaves_what_is_being_typed(anew):
    before = anew.solved()
    anew.type("ear.thickness", "1.8")
    box = anew.box("ear.width")
    box.focus()
    anew.page.keyboard.press("Control+A")
    anew.page.keyboard.type("1")
    anew.solved(other_than=before)
    assert box.input_value() == "1"
    anew.page.keyboard.type("5")
    assert box.input_value() == "15"
    anew.page.keyboard.press("Escape")
    assert box.input_value() == "14"


def test_units_and_fractions_are_those_of_case_files_and_a_comma_is_told(anew, tmp_path):
    anew.turn("ear.width", "9/16 in")
    assert anew.text("ear.width") == "9/16 in"
    assert saved(anew, tmp_path)["ear"]["width"] == "9/16 in"
    anew.type("ear.width", "14,5")
    note = anew.joint().locator(".dims .fault")
    note.wait_for()
    assert "decimal point" in note.inner_text()
    assert anew.text("ear.width") == "14,5"
    anew.box("ear.width").press("Escape")
    anew.wait_for_text("ear.width", "9/16 in")
    assert note.count() == 0


def test_changes_are_undone_and_done_again(anew):
    anew.turn("ear.width", "15")
    anew.turn("ear.hole", "4.3")
    anew.page.locator("#paper legend").click()
    for key, width, hole in (
        ("Control+z", "15", "4.1"),
        ("Control+z", "14", "4.1"),
        ("Control+Shift+z", "15", "4.1"),
        ("Control+y", "15", "4.3"),
    ):
        anew.page.keyboard.press(key)
        anew.wait_for_text("ear.width", width)
        anew.wait_for_text("ear.hole", hole)


def test_typed_values_are_undone_one_by_one_however_quick_arrow_keys_together(anew):
    anew.type("ear.width", "15")
    anew.type("ear.width", "16")
    anew.page.locator("#paper legend").click()
    anew.page.keyboard.press("Control+z")
    anew.wait_for_text("ear.width", "15")
    for _ in range(3):
        anew.box("ear.width").press("ArrowUp")
    anew.wait_for_text("ear.width", "15.3")
    anew.page.locator("#paper legend").click()
    anew.page.keyboard.press("Control+z")
    anew.wait_for_text("ear.width", "15")


def test_a_link_followed_just_after_a_change_is_not_lost(anew, starting):
    wanted = starting[0] | {"pull": {"stop_displacement": "0.4 mm"}}
    anew.type("ear.width", "15")
    anew.page.evaluate(
        "hash => { const end = performance.now() + 400; while (performance.now() < end);"
        "location.hash = hash; }",
        link(wanted),
    )
    anew.wait_for_text("ear.width", "14")


def test_reload_and_a_link_keep_both_joints(anew, browser):
    anew.turn("ear.width", "15.5")
    anew.page.get_by_role("button", name="Compare with another joint").click()
    anew.solved("b")
    anew.page.wait_for_timeout(400)
    link = anew.page.url
    assert "#joint=" in link
    anew.page.reload()
    anew.solved("b")
    assert anew.text("ear.width") == anew.text("ear.width", "b") == "15.5"
    other = browser.new_page()
    other.goto(link)
    other.wait_for_selector(".joint[data-place=b] .dims [data-path='ear.width']")
    assert (
        other.locator(".joint[data-place=b] .dims [data-path='ear.width']").input_value() == "15.5"
    )
    other.close()
    anew.joint("b").get_by_role("button", name="Remove this joint").click()


def test_a_broken_link_begins_with_the_first_joint(browser, address):
    page = browser.new_page()
    page.goto(f"{address}?rest=600000#joint=no-such-joint")
    page.wait_for_selector(".joint .dims [data-path='ear.width']")
    assert page.locator(".dims [data-path='ear.width']").input_value() == "14"
    assert "no joint that can be read" in page.locator("#link-fault").inner_text()
    page.close()


def test_each_ear_can_have_its_own_dimensions(anew, tmp_path):
    joint = anew.joint()
    joint.locator(".made [data-path='ear.apart']").select_option("yes")
    anew.turn("ear.thickness", "3")
    joint.locator(".made [data-path='ear.chosen']").select_option("1")
    anew.wait_for_text("ear.thickness", "2")
    assert "ear 2 of two" in joint.locator(".sketch svg").text_content()
    anew.turn("ear.hole", "4.4")
    one, two = saved(anew, tmp_path)["ear"]
    assert (one["thickness"], one["hole"]) == ("3 mm", "4.1 mm")
    assert (two["thickness"], two["hole"]) == ("2 mm", "4.4 mm")
    assert "0.1 and 0.4 in the ears" in joint.locator(".scale-note").inner_text()


def test_slot_offset_and_flare_are_entered_and_drawn(anew):
    joint = anew.joint()
    joint.locator(".fields summary").click()
    shapes = joint.locator(".sketch path.bore")
    plain = shapes.first.get_attribute("d")
    for path, value in (("hole_slot", "0.4"), ("hole_offset", "0.5"), ("flare_depth", "0.6")):
        box = joint.locator(f".all [data-path='ear.{path}']")
        before = anew.solved()
        box.fill(value)
        box.press("Enter")
        anew.solved(other_than=before)
        assert anew.text(f"ear.{path}") == value
    assert shapes.count() == 2, "the hole and its mouth"
    assert shapes.last.get_attribute("d") != plain
    joint.locator(".fields summary").click()


def test_single_shear_and_a_clipped_shank_are_offered(anew, tmp_path):
    before = anew.solved()
    anew.joint().locator(".made [data-path='ear.count']").select_option("1")
    anew.solved(other_than=before)
    anew.joint().locator(".fields summary").click()
    anew.joint().locator(".all [data-path='shank.end']").select_option("clipped")
    anew.joint().locator(".all [data-path='shank.clip']").wait_for()
    anew.joint().locator(".fields summary").click()
    case = saved(anew, tmp_path)
    assert case["ear"]["count"] == 1
    assert case["shank"]["clip"] == "3.2 mm"


def test_what_is_of_another_joint_says_so_at_once(anew):
    anew.turn("ear.thickness", "1.7")
    anew.type("ear.hole", "3.9")
    state = anew.joint().locator(".state")
    anew.page.wait_for_function(
        "() => document.querySelector('.state').textContent.startsWith('Not solved')"
    )
    assert "before the last change" in state.inner_text()
    look = "el => getComputedStyle(el).textDecorationLine"
    assert anew.joint().locator(".sentence").evaluate(look) == "line-through"
    fault = anew.joint().locator("ul.faults li").inner_text()
    assert fault.startswith("ears: hole, diameter 3.9")
    assert "." not in fault.partition(" must")[0].replace("3.9", "")
    anew.turn("ear.hole", "4.1")
    assert anew.joint().locator(".sentence").evaluate(look) == "none"


def test_quick_changes_all_end_with_the_answer_of_the_last(anew):
    for run in range(3):
        for value in (6.1, 5.9, 5.7, 5.5 - 0.1 * run):
            anew.type("shank.thickness", value)
            anew.page.wait_for_timeout(60)
        anew.settled()
        assert anew.text("shank.thickness") == str(round(5.5 - 0.1 * run, 1))


def test_a_dropped_solve_is_asked_for_again(anew):
    answers = iter([409, 409])

    def drop_twice(route):
        status = next(answers, None)
        if status is None:
            route.continue_()
        else:
            route.fulfill(status=status, json={"message": "a newer change took its place"})

    anew.page.route("**/api/pulls", drop_twice)
    anew.turn("ear.width", "14.6")
    anew.page.unroute("**/api/pulls")


def test_a_silent_server_is_told_in_plain_words_and_asked_again(anew):
    before = anew.solved()
    anew.page.route("**/api/joint", lambda route: route.abort())
    anew.type("ear.width", "14.8")
    fault = anew.joint().locator("ul.faults li")
    fault.wait_for()
    assert "still running" in fault.inner_text()
    anew.page.unroute("**/api/joint")
    anew.solved(other_than=before)
    assert fault.count() == 0


def test_a_cut_answer_says_that_rows_are_missing(anew):
    def cut(route):
        told = route.fetch()
        content = told.json()
        content["answer"]["trust"] |= {"finished": False, "ended": "no equilibrium was found"}
        route.fulfill(response=told, json=content)

    anew.page.route("**/api/pulls", cut)
    anew.turn("ear.width", "14.9")
    anew.page.unroute("**/api/pulls")
    assert "What gives later is missing here" in anew.joint().locator(".state").inner_text()


def test_a_drag_shows_answers_on_its_way_with_one_solve_in_flight(anew):
    before, asked = anew.solved(), anew.fetched()
    line = anew.page.locator(".grab[data-turns='ear.edge_distance']").first.bounding_box()
    x, y = line["x"] + 0.5 * line["width"], line["y"] + 0.3 * line["height"]
    anew.page.mouse.move(x, y)
    anew.page.mouse.down()
    for k in range(60):
        anew.page.mouse.move(x + 0.5 * k, y)
        anew.page.wait_for_timeout(16)
    anew.solved(other_than=before)
    anew.page.mouse.up()
    anew.settled()
    assert 1 <= anew.fetched() - asked <= 20
    assert float(anew.text("ear.edge_distance")) > 7.3


@pytest.mark.parametrize(("width", "height"), [(320, 700), (820, 1180)])
def test_nothing_hides_what_has_the_focus_and_all_targets_are_large(
    browser, address, width, height
):
    bench = Bench(browser, address, viewport={"width": width, "height": height})
    page = bench.page
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    rail = page.locator(".rail").bounding_box()
    assert rail["height"] <= 0.1 * height
    small, hidden = [], []
    for _ in range(60):
        page.keyboard.press("Tab")
        told = page.evaluate(
            "() => { const e = document.activeElement, r = e.getBoundingClientRect();"
            "const on = document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2);"
            "const name = e.dataset.path ?? e.textContent.slice(0, 20) ?? e.tagName;"
            "return [name, r.height, !!on?.closest('.rail') && !e.closest('.rail')]; }"
        )
        if told[1] < 24:
            small.append(told)
        if told[2]:
            hidden.append(told[0])
    assert hidden == []
    assert small == []
    page.close()


def test_colours_reach_the_top_of_the_picture_whatever_is_below(browser, address):
    bench = Bench(browser, address, viewport={"width": 390, "height": 700})
    canvas = bench.page.locator("canvas.ear")
    inked = canvas.evaluate(
        "c => { const x = c.getContext('2d'), w = c.width;"
        "const row = (y) => x.getImageData(0, y, Math.round(0.3 * w), 1).data;"
        "const full = (d) => { let n = 0; for (let k = 3; k < d.length; k += 4) n += d[k] > 200;"
        "return n / (d.length / 4); };"
        "return [0.1, 0.3, 0.5, 0.7].map((s) => full(row(Math.round(s * c.height)))); }"
    )
    assert min(inked) > 0.9
    bench.page.close()


def test_a_settled_answer_is_told_once(anew):
    anew.page.evaluate(
        "() => { window.told = []; new MutationObserver(() => window.told.push("
        "document.getElementById('said').textContent))"
        ".observe(document.getElementById('said'), {childList: true}); }"
    )
    anew.turn("ear.thickness", "2.2")
    anew.page.wait_for_timeout(2200)
    assert anew.page.evaluate("window.told") == [anew.sentence()]
    live = "[...document.querySelectorAll('[aria-live], [role=status]')].map(e => e.id)"
    assert anew.page.evaluate(live) == ["said"]


def contrast(page, selector, other):
    """The contrast of two colours of the page, as in WCAG 2.2."""
    found = page.evaluate(
        "([s, k]) => [getComputedStyle(document.querySelector(s))[k],"
        "getComputedStyle(document.body).backgroundColor]",
        [selector, other],
    )
    light = []
    for colour in found:
        rgb = [int(v) / 255 for v in re.findall(r"\d+", colour)[:3]]
        linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in rgb]
        light.append(0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2])
    return (max(light) + 0.05) / (min(light) + 0.05)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_borders_and_words_stand_out_from_the_paper(anew, theme):
    anew.page.get_by_label(theme, exact=True).check(force=True)
    assert contrast(anew.page, ".made select", "borderTopColor") >= 3.0
    assert contrast(anew.page, ".state", "color") >= 4.5
    anew.type("ear.hole", "3.9")
    anew.joint().locator(".dims .fault").wait_for()
    assert contrast(anew.page, ".joint.stale .sentence", "color") >= 4.5
    assert contrast(anew.page, ".joint.stale .order tbody td", "color") >= 4.5
    anew.page.get_by_label("automatic").check(force=True)
