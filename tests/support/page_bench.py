"""An open page of the served one, for tests in a browser."""

from __future__ import annotations

import base64
import json

WAIT = 60_000


def link(*cases):
    """What follows the # in an address of these joints."""
    text = base64.urlsafe_b64encode(json.dumps(cases).encode()).decode().rstrip("=")
    return f"joint={text}"


class Bench:
    """An open page, and what went wrong on it."""

    def __init__(self, browser, address, *, rest=600_000, **options):
        self.page = browser.new_page(**options)
        self.page.set_default_timeout(WAIT)
        self.asked, self.wrong = [], []
        self.page.on("request", lambda r: self.asked.append(r.url))
        self.page.on("pageerror", lambda e: self.wrong.append(str(e)))
        # a fine solve at rest would only take time from the others
        self.address = address
        self.page.goto(f"{address}?rest={rest}")
        self.solved()

    def solved(self, place="a", other_than=None):
        """Wait for an answer that is drawn, another one if asked for; return its name."""
        self.page.wait_for_function(
            "([place, old]) => { const j = document.querySelector(`.joint[data-place=${place}]`);"
            "return j?.dataset.drawn && j.dataset.drawn !== old && !j.matches('.busy'); }",
            arg=[place, other_than],
        )
        return self.joint(place).get_attribute("data-drawn")

    def joint(self, place="a"):
        return self.page.locator(f".joint[data-place={place}]")

    def sentence(self, place="a"):
        return self.joint(place).locator(".sentence").inner_text()

    def box(self, path, place="a"):
        return self.joint(place).locator(f".dims [data-path='{path}']")

    def text(self, path, place="a"):
        """What a box of the drawing holds."""
        return self.box(path, place).input_value()

    def wait_for_text(self, path, text):
        """Wait until a box of the drawing of the first joint holds a text."""
        self.page.wait_for_function(
            "([p, t]) => document.querySelector(`.dims [data-path='${p}']`)?.value === t",
            arg=[path, text],
        )

    def follow(self, *cases):
        """Follow a link to these joints and wait for the answer of the first."""
        self.page.evaluate("hash => { location.hash = ''; location.hash = hash; }", link(*cases))
        self.settled()

    def settled(self):
        """Wait until the first joint shows the answer of what is typed."""
        self.page.wait_for_function(
            "() => !document.querySelector('.joint').matches('.stale, .busy')"
        )

    def type(self, path, value):
        """Type a dimension into the drawing and press Enter."""
        self.box(path).fill(str(value))
        self.box(path).press("Enter")

    def fetched(self):
        """The names of the pulls that were asked for."""
        return sum(url.endswith("/api/pulls") for url in self.asked)

    def turn(self, path, value):
        """Type a dimension into the drawing and wait for the answer."""
        before = self.solved()
        self.type(path, value)
        return self.solved(other_than=before)
