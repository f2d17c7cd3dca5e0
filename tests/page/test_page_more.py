"""Looking closer on the page, and asking it what takes minutes."""

from __future__ import annotations

import json

CSV = """joint,ear.width_mm,state,mode,part,member,load_N
0,12,solved,hole elongation,ear,both ears,8128
1,15,solved,hole elongation,ear,both ears,8211
2,18,solved,pin bending,pin,pin,8236
"""
SWEEP = {"options": {"vary": ["ear.width=12:18:3 mm"]}, "files": ["table.csv"]}
CHANGE = {"dimension": "ear.edge_distance", "from": 7.0, "to": 7.85, "unit": "mm"}
ADVICE = {
    "target_N": 8826.0, "margin": 0.0, "goal_N": 8826.0, "present": {"load_N": 8190.0},
    "reached": False,
    "one_dimension": [
        {"change": [CHANGE], "changes": {"ear.edge_distance": 7.85}, "row": {"load_N": 8830.0}}
    ],
    "two_dimensions": [
        {"change": [CHANGE, CHANGE], "changes": {"pin.diameter": 4.2, "ear.hole": 4.3,
         "shank.hole": 4.3, "ear.width": 15.0}, "row": {"load_N": 8831.0}}
    ], "out_of_reach_alone": {"ear.width": 8244.0}, "solves": 20,
}  # fmt: skip


def anew(bench):
    bench.page.get_by_role("button", name="Start afresh").click()
    bench.solved()


def study(kind, bench, **more):
    """An answer to what was asked of the first joint as it is now."""
    bench.page.wait_for_timeout(400)  # until the address is that of the last change
    case = bench.page.evaluate(
        "async () => { const { fromAddress } = await import('./keeping.js');"
        "return fromAddress(location.hash).joints[0].case; }"
    )
    plain = bench.page.request.post(f"{bench.address}api/joint", data={"case": case}).json()
    whole = {
        "joint": bench.joint().get_attribute("data-uid"), "case": case, "plain": plain["joint"],
        "id": "x", "kind": kind, "title": "Fluke anchor, hard pin", "state": "done", "done": 3,
        "total": 3, "what": "joints", "seconds": 9.0, "left_s": None, "options": {}, "said": "",
        "files": [],
    }  # fmt: skip
    return whole | more


def with_study(bench, whole, csv=""):
    """Load the page as if a study had been asked for before."""
    page = bench.page
    page.route("**/api/studies", lambda route: route.fulfill(json={"studies": [whole]}))
    page.route("**/api/studies/x", lambda route: route.fulfill(json=whole))
    page.route("**/api/studies/x/files/table.csv", lambda route: route.fulfill(body=csv))
    page.reload()
    bench.solved()
    page.unroute("**/api/studies")
    return page.locator(".study")


def test_the_shape_can_be_drawn_larger_and_tells_its_values_under_the_hand(bench):
    page = bench.page
    canvas = page.locator("canvas.ear")
    inked = "c => c.toDataURL()"
    true = canvas.evaluate(inked)
    page.get_by_label("20 times", exact=True).check(force=True)
    page.wait_for_function(
        "before => document.querySelector('canvas.ear').toDataURL() !== before", arg=true
    )
    page.get_by_label("true", exact=True).check(force=True)
    box = canvas.bounding_box()
    page.mouse.move(box["x"] + 0.8 * box["width"], box["y"] + 0.5 * box["height"])
    page.wait_for_function(
        "() => / MPa here$/.test(document.querySelector('.under-hand').textContent)"
    )
    assert "ear yields at 290 MPa" in page.locator(".key").inner_text()
    assert page.locator(".key b").count() == 2


def test_a_press_on_a_flag_shows_the_joint_at_its_pull(bench):
    flags = bench.page.locator(".jump")
    flags.last.click(force=True)
    first = bench.page.locator("#pull-words").inner_text()
    flags.first.click(force=True)
    bench.page.wait_for_function(
        "before => document.getElementById('pull-words').textContent !== before", arg=first
    )


def test_a_sweep_is_a_picture_whose_joints_can_be_taken(bench):
    shown = with_study(bench, study("sweep", bench, **SWEEP), CSV)
    points = shown.locator(".point")
    points.nth(2).wait_for()
    assert points.count() == 3
    assert "mm: pin bends at 8,236 N" in points.nth(2).get_attribute("aria-label")
    key = [text.strip() for text in shown.locator(".sweep-key li").all_text_contents()]
    assert key == ["both ears: hole stretches", "pin bends"]
    points.nth(2).focus()
    bench.page.keyboard.press("Enter")
    bench.wait_for_text("ear.width", "18")


def test_an_advice_can_be_tried(bench):
    shown = with_study(bench, study("advise", bench, said=json.dumps(ADVICE)))
    assert "edge distance 7 to 7.85 mm" in shown.locator("li").first.inner_text()
    shown.get_by_role("button", name="Try it").first.click()
    bench.wait_for_text("ear.edge_distance", "7.85")


def test_what_follows_two_dimensions_goes_with_them_and_comes_back_by_one_undo(bench):
    anew(bench)
    shown = with_study(bench, study("advise", bench, said=json.dumps(ADVICE)))
    shown.get_by_role("button", name="Try it").last.click()
    for path, value in (("pin.diameter", "4.2"), ("ear.hole", "4.3"), ("ear.width", "15")):
        bench.wait_for_text(path, value)
    bench.page.get_by_role("button", name="Undo").click()
    for path, value in (("pin.diameter", "4"), ("ear.hole", "4.1"), ("ear.width", "14")):
        bench.wait_for_text(path, value)


def test_a_sweep_is_taken_into_the_joint_it_was_asked_of_and_no_other(bench):
    anew(bench)
    whole = study("sweep", bench, **SWEEP)
    bench.page.get_by_role("button", name="Compare with another joint").click()
    bench.solved("b")
    for place, title in (("b", whole["title"]), ("a", "Another name")):
        bench.joint(place).locator(".title").fill(title)
        bench.joint(place).locator(".title").press("Enter")
    bench.page.wait_for_timeout(400)
    shown = with_study(bench, whole, CSV)
    bench.solved("b")
    since = shown.locator(".since")
    assert since.inner_text() == ""
    shown.locator(".point").nth(2).click()
    bench.wait_for_text("ear.width", "18")
    assert bench.text("ear.width", "b") == "14"
    bench.page.wait_for_function("() => /changed/.test(document.querySelector('.since').innerText)")
    bench.joint("a").get_by_role("button", name="Remove this joint").click()
    bench.page.wait_for_function("() => /not on/.test(document.querySelector('.since').innerText)")
    assert shown.locator(".point").nth(0).get_attribute("aria-disabled") == "true"
    shown.locator(".point").nth(0).click(force=True)
    bench.page.wait_for_timeout(300)
    assert bench.text("ear.width", "b") == "14"
    bench.page.get_by_role("button", name="Undo").click()
    bench.solved("a")
    assert shown.locator(".point").nth(0).get_attribute("aria-disabled") == "false"
    assert [j.get_attribute("data-place") for j in bench.page.locator(".joint").all()] == [*"ab"]
    bench.joint("b").get_by_role("button", name="Remove this joint").click()


def test_a_mark_gives_the_joint_that_was_pulled_whatever_was_changed_since(bench):
    anew(bench)
    joint = bench.joint()
    joint.locator(".made [data-path='ear.apart']").select_option("yes")
    bench.turn("ear.thickness", "3")
    whole = study("sweep", bench, **SWEEP)
    line = with_study(bench, whole, CSV).locator(".here-line")
    line.wait_for(state="attached")
    before = line.get_attribute("d")
    bench.turn("ear.width", "17")
    shown = with_study(bench, whole, CSV)
    line.wait_for(state="attached")
    assert line.get_attribute("d") == before
    shown.locator(".point").nth(0).click()
    bench.wait_for_text("ear.width", "12")
    joint.locator(".made [data-path='ear.chosen']").select_option("1")
    bench.wait_for_text("ear.thickness", "2")
    assert bench.text("ear.width") == "12"


def test_a_study_runs_beside_and_is_found_again_after_a_reload(bench):
    page = bench.page
    page.unroute_all()
    page.reload()
    bench.solved()
    box = page.locator("details", has=page.locator("summary", has_text="struck from the side")).last
    box.locator("summary").click()
    box.get_by_role("button").click()
    page.locator(".study[data-kind=blow]").wait_for()
    page.reload()
    answer = page.locator(".study[data-kind=blow][data-answered=done] pre")
    answer.wait_for()
    assert "Struck across the pin" in answer.inner_text()
    page.get_by_role("button", name="Throw away").click()
    page.locator(".study").wait_for(state="detached")


def test_a_bad_option_is_told_beside_its_question(bench):
    page = bench.page
    box = page.locator(
        "details", has=page.locator("summary", has_text="a dimension were another")
    ).last
    box.locator("summary").click()
    box.locator("input[type=text]").first.fill("wide")
    box.get_by_role("button").click()
    assert "two numbers" in box.locator(".fault").inner_text()


def test_metals_and_hardness_can_be_looked_up(bench):
    page = bench.page
    page.locator("summary", has_text="Metals and hardness").click()
    page.locator("#metal").select_option("316 strip, annealed")
    assert "620 MPa" in page.locator(".metal-values").inner_text()
    page.locator("#hardness").fill("500 HV")
    page.locator("#hardness-form button").click()
    page.wait_for_function(
        "() => /HRC; Rm/.test(document.getElementById('hardness-told').textContent)"
    )


def test_the_curve_names_events_by_their_titles_and_sets_off_what_gives_first(bench):
    curve = bench.joint().locator(".curve svg")
    words = curve.locator("text.word").all_text_contents()
    assert "load that leaves 2 %" in words
    assert not {"permanent set 2 %", "first yield pin", "hole elongation, mm"} & set(words)
    assert curve.locator("circle.main").count() == 1
    assert "load that leaves 2 % at " in curve.get_attribute("aria-label")
