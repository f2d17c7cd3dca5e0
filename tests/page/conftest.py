"""One served page for every test of it, and a browser to open it with."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator

import httpx
import pytest
from support.page_bench import Bench

from fejoint.system.doctor import find_browser


@pytest.fixture(scope="session")
def server() -> Iterator[subprocess.Popen[str]]:
    """The process of `fejoint page`, its workers warm."""
    words = [sys.executable, "-m", "fejoint.cli.main", "page", "--no-browser", "--port", "0"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        process.address = process.stdout.readline().split()[-1]
        until = time.monotonic() + 120.0
        while httpx.get(f"{process.address}api/state").json()["ready"] < 2:
            assert time.monotonic() < until, "the workers never became ready"
            time.sleep(0.1)
        yield process
        process.terminate()
        process.wait(20.0)


@pytest.fixture(scope="session")
def address(server) -> str:
    """Where the page is, with a slash at its end."""
    return server.address


@pytest.fixture(scope="session")
def client(address: str) -> Iterator[httpx.Client]:
    """A script that talks to the page."""
    with httpx.Client(base_url=address, timeout=90.0) as made:
        yield made


@pytest.fixture(scope="session")
def starting(client: httpx.Client) -> list[dict]:
    """The two cases that a fresh page begins with: hard pin, soft pin."""
    return client.get("/api/start").json()["cases"]


@pytest.fixture(scope="session")
def browser() -> Iterator:
    """The system's Chromium; skips where there is to be none."""
    path = None if os.environ.get("FEJOINT_CHROMIUM") == "none" else find_browser()
    if path is None:
        pytest.skip("no Chromium here")
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as play:
        opened = play.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def bench(browser, address: str) -> Iterator[Bench]:
    """A page that one module has to itself, on a desk's screen; nothing may go wrong on it."""
    made = Bench(browser, address, viewport={"width": 1280, "height": 900})
    yield made
    assert made.wrong == []
    made.page.close()


@pytest.fixture
def short(starting: list[dict]) -> dict:
    """The joint that a fresh page begins with, pulled a little way only."""
    return starting[0] | {"pull": {"stop_displacement": "0.3 mm"}}


@pytest.fixture
def anew(bench: Bench, short: dict) -> Bench:
    """The module's page with that joint, and nothing in the way of what it asks."""
    bench.page.unroute_all()
    bench.follow(short)
    return bench
