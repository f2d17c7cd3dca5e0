"""The page in Firefox: what the tests in Chromium prove at length, once more in short."""

from __future__ import annotations

import os

import pytest
from support import firefox

ENTER, UP, ESCAPE = "\ue007", "\ue013", "\ue00c"
SETTLED = (
    "document.querySelector('.joint')?.dataset.drawn"
    " && !document.querySelector('.joint').matches('.stale, .busy')"
)


def box(path):
    return f"document.querySelector(`.dims [data-path='{path}']`)"


@pytest.fixture(scope="module")
def fox(address):
    path = None if os.environ.get("FEJOINT_FIREFOX") == "none" else firefox.find()
    if path is None:
        pytest.skip("no Firefox here")
    opened = firefox.Firefox(path)
    try:
        opened.size(1280, 900)
        opened.goto(f"{address}?rest=600000")
        opened.wait(SETTLED)
        yield opened
        assert opened.wrong == []
    finally:
        opened.close()


def typed(fox, path, *keys):
    fox.value(f"({box(path)}.focus(), {box(path)}.select(), 0)")
    fox.keys(*keys)


def test_firefox_solves_and_shows_the_colours(fox):
    assert "first" in fox.value("document.querySelector('.sentence').textContent")
    inked = fox.value(
        "(() => { const c = document.querySelector('canvas.ear'), x = c.getContext('2d');"
        "const d = x.getImageData(0, Math.round(0.2 * c.height), Math.round(0.3 * c.width), 1);"
        "let n = 0; for (let k = 3; k < d.data.length; k += 4) n += d.data[k] > 200;"
        "return n / (d.data.length / 4); })()"
    )
    assert inked > 0.9


def test_firefox_takes_what_is_typed_and_gives_it_back(fox):
    before = fox.value("document.querySelector('.joint').dataset.drawn")
    typed(fox, "ear.width", *"9/16 in", ENTER)
    fox.wait(f"document.querySelector('.joint').dataset.drawn !== {before!r} && {SETTLED}")
    assert fox.value(f"{box('ear.width')}.value") == "9/16 in"
    typed(fox, "ear.width", *"18", ESCAPE)
    assert fox.value(f"{box('ear.width')}.value") == "9/16 in"
    typed(fox, "ear.thickness", UP)
    assert fox.value(f"{box('ear.thickness')}.value") == "2.1"
    fox.wait(SETTLED)


def test_firefox_drags_the_end_of_the_ear(fox):
    fox.wait(SETTLED)
    start = fox.value(
        "(() => { const r = document.querySelector(\".grab[data-turns='ear.edge_distance']\")"
        ".getBoundingClientRect(); return [r.x + r.width / 2, r.y + 0.3 * r.height]; })()"
    )
    fox.drag(tuple(start), (30.0, 0.0))
    assert float(fox.value(f"{box('ear.edge_distance')}.value")) > 7.3
    fox.wait(SETTLED)


def test_firefox_keeps_the_joint_over_a_reload_and_a_narrow_window(fox, address):
    fox.wait("location.hash.startsWith('#joint=')")
    width = fox.value(f"{box('ear.width')}.value")
    fox.call("browsingContext.reload", context=fox.page, wait="complete")
    fox.wait(SETTLED)
    assert fox.value(f"{box('ear.width')}.value") == width
    fox.size(390, 844)
    fox.wait("document.documentElement.scrollWidth <= 390")
    assert fox.value("document.querySelector('.rail').getBoundingClientRect().height") < 85
