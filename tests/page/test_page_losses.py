"""What the page says when a worker dies, what a worker says of an error, and who may ask."""

from __future__ import annotations

import contextlib
import copy
import os
import signal
import threading
import time

import psutil
import pytest
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient

from fejoint import guide
from fejoint.errors import BadInput, Fault
from fejoint.page import worker
from fejoint.page.guard import Guard, is_loopback


def short(case):
    return copy.deepcopy(case) | {"pull": {"stop_displacement": "0.15 mm"}}


def solvers(server) -> list[psutil.Process]:
    """The processes of the page that solve."""
    found = []
    for child in psutil.Process(server.pid).children():
        # one that has died has no command line any more
        with contextlib.suppress(psutil.NoSuchProcess):
            if "spawn_main" in " ".join(child.cmdline()):
                found.append(child)
    return found


def test_a_worker_that_dies_is_told_of_and_replaced(server, client, starting):
    answers = []

    def ask():
        body = {"case": starting[1], "detail": "fine", "tab": "doomed"}
        answers.append(client.post("/api/pulls", json=body))

    asking = threading.Thread(target=ask)
    asking.start()
    until = time.monotonic() + 20.0
    while client.get("/api/state").json()["busy"] == 0:
        assert time.monotonic() < until, "the pull never began"
    old = {p.pid for p in solvers(server)}
    assert len(old) == 2
    for pid in old:
        os.kill(pid, signal.SIGKILL)
    asking.join(20.0)
    assert answers[0].status_code == 500
    assert "a new one is starting" in answers[0].json()["message"]
    until = time.monotonic() + 60.0
    while client.get("/api/state").json()["ready"] < 2:
        assert time.monotonic() < until
        time.sleep(0.2)
    assert not old & {p.pid for p in solvers(server)}
    again = client.post("/api/pulls", json={"case": short(starting[0]), "detail": "coarse"})
    assert again.status_code == 200


def test_a_report_of_one_pull_or_several_can_be_taken_away(client, starting):
    names = [
        client.post("/api/pulls", json={"case": short(case), "detail": "coarse", "tab": str(k)})
        for k, case in enumerate(starting)
    ]
    one, two = (told.json()["id"] for told in names)
    single = client.get(f"/api/pulls/{one}/report.html")
    assert single.headers["content-type"].startswith("text/html")
    assert starting[0]["title"] in single.text
    assert starting[1]["title"] not in single.text
    both = client.get(f"/api/pulls/{one}/report.html", params={"beside": two})
    assert starting[0]["title"] in both.text
    assert starting[1]["title"] in both.text
    third = short(starting[0]) | {"title": "A third"}
    three = client.post("/api/pulls", json={"case": third, "detail": "coarse", "tab": "2"}).json()
    every = client.get(f"/api/pulls/{one}/report.html", params={"beside": [two, three["id"]]})
    assert all(case["title"] in every.text for case in (*starting, third))
    drawn = client.get(f"/api/pulls/{one}/cut/ear.dxf")
    assert drawn.headers["content-type"] == "image/vnd.dxf"
    assert "LWPOLYLINE" in drawn.text
    assert "Computed:" in client.get(f"/api/pulls/{one}/cut/shank.svg").text
    unknown = client.get(f"/api/pulls/{one}/cut/bolt.dxf")
    assert (unknown.status_code, "ear.dxf" in unknown.text) == (404, True)


def test_the_guide_is_served_as_the_command_shows_it(client):
    listed = client.get("/guide")
    assert all(f'href="/guide/{topic}"' in listed.text for topic in guide.TOPICS)
    for topic in guide.TOPICS:
        told = client.get(f"/guide/{topic}")
        assert told.status_code == 200
        first = guide.page(topic).splitlines()[0].removeprefix("# ")
        assert f"<h1>{first}</h1>" in told.text
        assert "style=" not in told.text  # which the page's policy forbids
        assert "<table>" not in told.text or 'class="wide"' in told.text
    wrong = client.get("/guide/%3Cb%3E")
    assert wrong.status_code == 404
    assert "<b>" not in wrong.text
    assert "/guide/pictures/hard-pin-plastic-strain.png" in client.get("/guide/modes").text
    drawn = client.get("/guide/pictures/hard-pin-plastic-strain.png")
    assert drawn.headers["content-type"] == "image/png"
    for name in ("hard-pin.toml", "none.png", "..%2fhard-pin.toml"):
        assert client.get(f"/guide/pictures/{name}").status_code == 404
    assert "did you mean trust?" in client.get("/guide/trusst").text


def test_the_interface_describes_itself(client):
    assert "POST /api/pulls" in client.get("/api/").text


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [
        (worker.Dropped(), 409, "newer change"),
        (worker.TooLong(), 504, "took too long"),
        (MemoryError(), 507, "more memory"),
        (KeyError("id"), 410, "kept no longer"),
        (ArithmeticError("no root"), 500, "ArithmeticError: no root"),
    ],
)
def test_a_worker_s_errors_have_a_status_and_words(error, status, said):
    told = worker._told(error)
    assert told["status"] == status
    assert said in told["message"]


def test_bad_input_in_a_worker_keeps_its_fields():
    told = worker._told(BadInput(Fault("ear.hole", "9 mm", "must be less", "make it smaller")))
    assert told["status"] == 422
    assert told["faults"][0]["field"] == "ear.hole"


@pytest.mark.parametrize(
    ("bound", "asked", "status"),
    [
        ("127.0.0.1", "localhost:8737", 200),
        ("127.0.0.1", "[::1]:8737", 200),
        ("127.0.0.1", "192.0.2.7", 421),
        ("127.0.0.1", "evil.example", 421),
        ("127.0.0.1", "[not an address", 421),
        ("0.0.0.0", "192.0.2.7:8737", 200),
        ("0.0.0.0", "evil.example", 421),
    ],
)
def test_only_names_of_this_server_are_answered(bound, asked, status):
    guarded = TestClient(Guard(PlainTextResponse("in"), bound))
    assert guarded.get("/", headers={"host": asked}).status_code == status


@pytest.mark.parametrize(
    ("host", "own"),
    [("localhost", True), ("127.0.0.5", True), ("::1", True), ("0.0.0.0", False), ("a b", False)],
)
def test_a_loopback_address_is_known(host, own):
    assert is_loopback(host) is own
