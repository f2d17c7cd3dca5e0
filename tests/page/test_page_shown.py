"""What the page shows is of the joint beside it, and what it refuses changes nothing."""

from __future__ import annotations

from support.page_bench import Bench, link


def state(bench):
    return bench.joint().locator(".state").inner_text()


def made(bench, path):
    """A field among the metals and the fit."""
    return bench.joint().locator(f".made [data-path='{path}']")


def faulty(bench, path, value):
    bench.type(path, value)
    bench.page.wait_for_function(
        "() => document.querySelector('.state').textContent.startsWith('Not solved')"
    )


def test_one_ear_in_a_list_is_single_shear_and_can_become_two(anew, short):
    ear = {k: v for k, v in short["ear"].items() if k != "count"}
    anew.follow(short | {"ear": [ear]})
    assert made(anew, "ear.count").input_value() == "1"
    before = anew.solved()
    made(anew, "ear.count").select_option("2")
    anew.solved(other_than=before)
    assert made(anew, "ear.count").input_value() == "2"
    assert anew.joint().locator(".order tbody tr").first.inner_text().startswith("both ears")


def test_a_text_box_keeps_its_own_undo(anew):
    anew.turn("ear.width", "15")
    hardness = made(anew, "pin.hardness")
    for box in (anew.joint().locator(".title"), hardness, anew.joint().locator(".proof-load")):
        box.focus()
        anew.page.keyboard.press("Control+z")
        anew.page.wait_for_timeout(150)
        assert anew.text("ear.width") == "15"
    title = anew.joint().locator(".title")
    before = title.input_value()
    title.focus()
    anew.page.keyboard.type("x")
    anew.page.keyboard.press("Control+z")
    assert title.input_value() == before
    assert anew.text("ear.width") == "15"
    anew.box("ear.width").focus()
    anew.page.keyboard.press("Control+z")
    anew.wait_for_text("ear.width", "14")


def test_what_a_proof_pull_leaves_is_told_of_this_joint_only(browser, address, short):
    bench = Bench(browser, address, rest=0)
    bench.follow(short)
    told = "() => / mm longer /.test(document.querySelector('.kept').textContent)"
    bench.page.wait_for_function(told)
    bench.page.route("**/api/pulls", lambda route: None)
    bench.type("ear.thickness", "1.6")
    kept = bench.joint().locator(".kept")
    assert kept.evaluate("e => getComputedStyle(e).textDecorationLine") == "line-through"
    bench.page.close()
    quick = Bench(browser, address, rest=0)
    quick.follow(short)
    quick.page.wait_for_function(told)
    quick.page.route(
        "**/api/pulls",
        lambda route: None if '"fine"' in route.request.post_data else route.continue_(),
    )
    before = quick.solved()
    quick.type("ear.thickness", "1.6")
    quick.page.wait_for_function(
        "old => document.querySelector('.joint').dataset.drawn !== old", arg=before
    )
    assert quick.joint().locator(".kept").inner_text() == ""
    quick.page.close()


def test_a_faulty_joint_of_a_link_shows_what_it_holds(bench, short):
    narrow = link(short | {"ear": short["ear"] | {"hole": 3}})
    bench.page.goto(f"{bench.address}?rest=600000#{narrow}")
    bench.page.reload()
    bench.joint().locator("ul.faults li").wait_for()
    assert bench.joint().locator(".title").input_value() == short["title"]
    assert made(bench, "ear.material").input_value() == "316 strip, annealed"
    hole = bench.joint().locator(".all [data-path='ear.hole']")
    hole.wait_for()
    assert hole.input_value() == "3"
    hole.fill("4.1")
    hole.press("Enter")
    bench.settled()
    bench.solved()
    assert bench.text("ear.hole") == "4.1"


def test_a_link_says_what_of_it_is_not_shown(anew, short):
    anew.follow(short, *(short | {"title": f"{k}"} for k in range(4)))
    fault = anew.page.locator("#link-fault")
    assert fault.inner_text() == "The link holds 5 joints; the first 4 are shown."
    anew.turn("ear.width", "15")
    assert not fault.is_visible()
    for place in "bcd":
        anew.joint(place).get_by_role("button", name="Remove this joint").click()
    anew.page.evaluate("() => { location.hash = 'joint=cut-short'; }")
    fault.wait_for()
    assert "no joint that can be read" in fault.inner_text()
    assert anew.text("ear.width") == "15"


def test_the_warning_of_a_cut_answer_stays_while_the_next_is_solved(anew):
    def cut(route):
        told = route.fetch()
        content = told.json()
        content["answer"]["trust"] |= {"finished": False, "ended": "no equilibrium was found"}
        route.fulfill(response=told, json=content)

    anew.page.route("**/api/pulls", cut)
    anew.turn("ear.width", "14.9")
    anew.page.unroute_all()
    anew.page.route("**/api/pulls", lambda route: None)
    anew.type("ear.width", "14.8")
    anew.page.wait_for_function("() => document.querySelector('.joint').matches('.busy')")
    assert "Solving" in state(anew)
    assert "What gives later is missing here" in state(anew)


def test_unlike_ears_are_told_apart_in_pictures_and_words(anew):
    made(anew, "ear.apart").select_option("yes")
    made(anew, "ear.chosen").select_option("1")
    anew.turn("ear.thickness", "1.5")
    joint = anew.joint()
    assert ": hole of ear 2 " in joint.locator(".said").inner_text()
    assert joint.locator("canvas.ear").get_attribute("aria-label").startswith("The deformed ear 2")
    assert "(ear 1, shank, ear 2)" in joint.locator("canvas.pin").get_attribute("aria-label")


def test_no_metal_is_no_choice_and_a_metal_comes_back_when_a_hardness_goes(anew):
    metal, hardness = made(anew, "shank.material"), made(anew, "shank.hardness")
    assert metal.locator("option").first.is_disabled()
    before = anew.solved()
    hardness.fill("300 HV")
    hardness.press("Enter")
    before = anew.solved(other_than=before)
    assert metal.input_value() == ""
    hardness.fill("")
    hardness.press("Enter")
    anew.solved(other_than=before)
    assert metal.input_value() == "A4-70 bolt shank"
    rigid = made(anew, "pin.rigid")
    rigid.select_option("yes")
    anew.page.wait_for_timeout(100)
    rigid.select_option("")
    anew.settled()
    assert made(anew, "pin.hardness").input_value() == "48 HRC"


def test_a_bare_hardness_is_told_to_name_its_scale(anew):
    box = made(anew, "pin.hardness")
    box.fill("48")
    box.press("Enter")
    fault = anew.joint().locator("ul.faults li")
    fault.wait_for()
    assert '"48 HRC" or "48 HV"' in fault.inner_text()


def test_a_fault_typed_during_a_solve_promises_no_answer(anew):
    hold = []
    anew.page.route("**/api/pulls", lambda route: hold.append(route))
    anew.type("ear.width", "15")
    anew.page.wait_for_function("() => document.querySelector('.joint').matches('.busy')")
    while not hold:
        anew.page.wait_for_timeout(20)
    faulty(anew, "ear.hole", "3.9")
    hold[0].continue_()
    anew.page.wait_for_function("() => !document.querySelector('.joint').matches('.busy')")
    assert state(anew) == "Not solved. Of the joint before the last change."


def test_a_change_just_before_the_page_is_loaded_again_is_kept(anew):
    anew.page.wait_for_timeout(400)
    anew.box("ear.width").fill("15.7")
    with anew.page.expect_navigation():
        anew.page.evaluate(
            "() => { const box = document.querySelector(`.dims [data-path='ear.width']`);"
            "box.dispatchEvent(new Event('change')); location.reload(); }"
        )
    anew.solved()
    assert anew.text("ear.width") == "15.7"


def test_a_file_that_is_no_joint_leaves_the_joint_as_it_is(anew, tmp_path):
    sentence, old = anew.sentence(), state(anew)
    drawn = tmp_path / "drawn.toml"
    drawn.write_text('[ear]\noutline = "ear.dxf"\n')
    bad = tmp_path / "bad.toml"
    bad.write_text("ear = nothing at all")
    refused = anew.joint().locator(".refused")
    for file, words in ((bad, "cannot be read as TOML"), (drawn, "`fejoint pull`")):
        anew.joint().locator("input[type=file]").set_input_files(file)
        refused.get_by_text(words).wait_for()
        assert "stale" not in anew.joint().get_attribute("class")
        assert (anew.sentence(), state(anew)) == (sentence, old)
    assert "no access" in refused.inner_text()
    anew.turn("ear.width", "15")
    assert not refused.is_visible()


def test_a_refused_value_leaves_the_drawing_alone(anew):
    drawn = "() => document.querySelector('.sketch > svg').innerHTML"
    before = anew.page.evaluate(drawn)
    faulty(anew, "ear.thickness", "40000")
    assert anew.page.evaluate(drawn) == before
    box = anew.box("ear.thickness")
    assert box.input_value() == "40000"
    assert box.evaluate("e => e.scrollWidth <= e.clientWidth"), "all digits are seen"
    note = anew.joint().locator(".dims .fault").bounding_box()
    assert note["x"] >= 0


def test_a_pull_is_told_to_the_same_figures_everywhere(anew):
    words = anew.page.locator("#pull-words").inner_text().partition("pull of ")[2]
    assert f"At a pull of {words} " in anew.sentence()
    assert anew.joint().locator(".said").inner_text().startswith(f"{words}: ")


def test_each_joint_is_told_of_by_itself(anew):
    anew.page.get_by_role("button", name="Compare with another joint").click()
    anew.solved("b")
    anew.page.wait_for_timeout(1800)
    anew.page.evaluate(
        "() => { window.told = []; new MutationObserver(() => window.told.push("
        "document.getElementById('said').textContent))"
        ".observe(document.getElementById('said'), {childList: true}); }"
    )
    for place, value in (("a", "2.3"), ("b", "2.4")):
        before = anew.solved(place)
        anew.box("ear.thickness", place).fill(value)
        anew.box("ear.thickness", place).press("Enter")
        if place == "b":
            anew.solved("a")
            anew.solved("b", other_than=before)
    anew.page.wait_for_timeout(2200)
    assert len(anew.page.evaluate("window.told")) == 2
    anew.joint("b").get_by_role("button", name="Remove this joint").click()


def test_a_sheet_shows_sketch_and_picture_alike_in_height(anew):
    anew.page.emulate_media(media="print")
    anew.page.set_viewport_size({"width": 688, "height": 1017})
    anew.page.wait_for_timeout(300)
    sketch, ear, pin = (
        anew.joint().locator(s).bounding_box()
        for s in (".sketch > svg", "canvas.ear", "canvas.pin")
    )
    pictures = pin["y"] + pin["height"] - ear["y"]
    assert 0.7 < sketch["height"] / pictures < 1.6
    breaks = anew.joint().locator(".bench").evaluate("e => getComputedStyle(e).breakInside")
    assert breaks == "auto", "a bench taller than a sheet would leave the first one empty"
    anew.page.emulate_media(media="screen")
    anew.page.set_viewport_size({"width": 1280, "height": 900})


def test_nothing_is_cut_on_the_narrowest_phone(browser, address):
    page = Bench(browser, address, viewport={"width": 320, "height": 700}).page
    page.locator(".metals summary").click()
    right = "e => e.getBoundingClientRect().right"
    for selector in ("#metal", ".flag-name", ".made select"):
        for each in page.locator(selector).all():
            assert each.evaluate(right) <= 320, selector
    spare = (
        "e => { const s = document.createElement('span'); s.style.font = getComputedStyle(e).font;"
        "s.textContent = e.selectedOptions[0].text; document.body.append(s);"
        "const w = s.getBoundingClientRect().width; s.remove(); return e.clientWidth - w; }"
    )
    shown = [s for s in page.locator(".made select").all() if s.is_visible()]
    assert min(s.evaluate(spare) for s in shown) > 28, "beside its arrow"
    page.close()
