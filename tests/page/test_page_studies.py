"""Studies in the background: the command itself, its progress, its end, and its files."""

from __future__ import annotations

import asyncio
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from fejoint.cli.main import main
from fejoint.errors import BadInput
from fejoint.page import studies
from fejoint.page.bodies import read_body
from fejoint.page.jobs import Refused
from fejoint.page.studies import StudyDesk
from fejoint.page.study_bodies import StudyBody

SPEAKS = """
import json, pathlib, sys, time
print(pathlib.Path("case.toml").read_text(), sys.argv[1:])
for done in (1, 2):
    print(json.dumps({"done": done, "total": 4, "what": "joints"}), file=sys.stderr, flush=True)
pathlib.Path("out/rows").mkdir(parents=True)
for name in ("table.csv", "rows/1.json", "secret.pem"):
    pathlib.Path("out", name).write_text(name)
"""
WAITS = """
import signal, time
print("begun", flush=True)
time.sleep(60)
"""
FAILS = """
import sys
sys.exit("--target = x: must be a force")
"""


def run(test, monkeypatch, script):
    monkeypatch.setattr(studies, "COMMAND", (sys.executable, "-c", script))
    # in a thread: a browser's test may have left a loop running in this one
    with ThreadPoolExecutor(1) as thread:
        return thread.submit(lambda: asyncio.run(asyncio.wait_for(test(), 20.0))).result()


async def ended(study):
    while study.going:
        await asyncio.sleep(0.02)
    # a cancelled one ends a moment after it was told
    while study.process is not None and study.process.returncode is None:
        await asyncio.sleep(0.02)


def begun(desk, title="joint"):
    words, files = ["case.toml", "--out=out"], {"case.toml": "a case"}
    return desk.begin("sweep", title, words, files, {}, studies.Asked())


def test_a_study_tells_its_progress_its_words_and_its_files(monkeypatch):
    async def test():
        desk = StudyDesk()
        study = begun(desk)
        assert study.summary()["state"] == "waits"
        await ended(study)
        told = study.whole()
        assert (told["state"], told["done"], told["total"], told["what"]) == (
            "done",
            2,
            4,
            "joints",
        )
        assert told["said"].startswith("a case ['sweep', 'case.toml', '--out=out']")
        assert told["files"] == ["table.csv"]
        assert study.file("table.csv").read_text() == "table.csv"
        assert study.file("secret.pem") is study.file("../case.toml") is None
        desk.close()
        assert not study.folder.exists()

    run(test, monkeypatch, SPEAKS)


def test_what_went_wrong_is_kept(monkeypatch):
    async def test():
        desk = StudyDesk()
        study = begun(desk)
        await ended(study)
        assert study.state == "failed"
        assert study.complained == "--target = x: must be a force"
        desk.close()

    run(test, monkeypatch, FAILS)


def test_studies_run_one_after_the_other_and_can_be_cancelled(monkeypatch):
    async def test():
        desk = StudyDesk()
        first, second, third = begun(desk), begun(desk), begun(desk)
        while first.process is None:
            await asyncio.sleep(0.02)
        assert (first.state, second.state) == ("runs", "waits")
        desk.cancel(second.number)
        desk.cancel(first.number)
        await ended(first)
        assert (first.state, second.state) == ("cancelled", "cancelled")
        assert second.process is None
        while third.process is None:
            await asyncio.sleep(0.02)
        desk.close()
        await third.process.wait()
        assert third.process.returncode != 0

    run(test, monkeypatch, WAITS)


def test_only_so_many_are_kept_and_those_that_run_are_not_thrown_away(monkeypatch):
    monkeypatch.setattr(studies, "KEPT", 2)

    async def test():
        desk = StudyDesk()
        first, second = begun(desk), begun(desk)
        with pytest.raises(Refused, match="too many studies"):
            begun(desk)
        desk.cancel(second.number)
        third = begun(desk)
        assert list(desk.studies.values()) == [first, third]
        with pytest.raises(Refused, match="kept no longer"):
            desk.find(second.number)
        desk.close()

    run(test, monkeypatch, WAITS)


def test_an_answer_may_be_that_there_is_none(monkeypatch):
    async def test():
        desk = StudyDesk()
        study = begun(desk)
        await ended(study)
        assert study.state == "done"
        desk.close()

    run(test, monkeypatch, "import sys; print('none found'); sys.exit(1)")


@pytest.mark.parametrize(
    ("kind", "options", "words"),
    [
        ("pull", {"film": True}, ["--out=out", "--film"]),
        ("blow", {"angle": 45}, ["--angle=45"]),
        ("advise", {"target": "900 kgf", "margin": ""}, ["--json", "--target=900 kgf"]),
        (
            "sweep",
            {"vary": ["ear.width=10:18:5 mm"]},
            ["--out=out", "--vary=ear.width=10:18:5 mm", "--most=400"],
        ),
        ("match", {"log": "N,mm\n1,2\n", "learn": True}, ["--out=out", "log.csv", "--learn"]),
        ("used", {"hole": "--help"}, ["--hole=--help"]),
    ],
)
def test_options_become_words_of_the_command(kind, options, words):
    body = read_body(StudyBody, {"case": {}, "kind": kind, "options": options})
    assert body.words() == ["case.toml", *words]
    assert body.inputs == ({"log.csv": options["log"]} if "log" in options else {})


@pytest.mark.parametrize(
    ("kind", "options", "field"),
    [
        ("advise", {}, "target"),
        ("pin-range", {"points": 4000}, "points"),
        ("blow", {"angel": 45}, "angel"),
        ("match", {}, "log"),
        ("sweep", {"vary": []}, "vary"),
        ("book", {}, "book"),
        ("match", {"plan": True, "book": True}, "book"),
    ],
)
def test_bad_options_are_named(kind, options, field):
    body = read_body(StudyBody, {"case": {}, "kind": kind, "options": options})
    with pytest.raises(BadInput) as bad:
        body.words()
    assert bad.value.faults[0].field == field


def test_a_page_that_has_a_book_keeps_pulls_in_it_and_reads_it(tmp_path):
    book = tmp_path / "pulls.sqlite"
    options = {"log": "N,mm\n1,2\n", "book": True}
    body = read_body(StudyBody, {"case": {}, "kind": "match", "options": options})
    assert f"--book={book}" in body.words(book)
    kept = read_body(StudyBody, {"case": {}, "kind": "match", "options": options | {"book": False}})
    assert not any("book" in word for word in kept.words(book))
    assert read_body(StudyBody, {"case": {}, "kind": "book"}).words(book) == [str(book)]


def test_a_study_of_the_page_says_what_the_command_says(client, starting, tmp_path, capsys):
    case = starting[0] | {"title": "To and fro"}
    text = client.post("/api/joint", json={"case": case}).json()["text"]
    (tmp_path / "case.toml").write_text(text)
    told = client.post("/api/studies", json={"case": case, "kind": "blow", "options": {}}).json()
    until = time.monotonic() + 60.0
    while client.get(f"/api/studies/{told['id']}").json()["state"] in ("waits", "runs"):
        assert time.monotonic() < until
        time.sleep(0.1)
    assert main(["blow", str(tmp_path / "case.toml")]) == 0
    said = client.get(f"/api/studies/{told['id']}").json()["said"]
    assert said.split() == capsys.readouterr().out.split()
    assert client.get(f"/api/studies/{told['id']}/files/none.png").status_code == 404
    assert client.post(f"/api/studies/{told['id']}/forget", json={}).status_code == 200
    assert client.get(f"/api/studies/{told['id']}").status_code == 410


def test_metals_and_hardness_are_told_with_their_sources(client):
    rows = client.get("/api/materials").json()["materials"]
    assert {"name", "rm", "source"} <= set(rows[0])
    on = client.get("/api/hardness", params={"of": "48 HRC"}).json()
    assert on["HRC"] == pytest.approx(48.0)
    assert on["low_MPa"] < on["rm_MPa"] < on["high_MPa"]
    assert client.get("/api/hardness", params={"of": "soft"}).status_code == 422


def test_a_study_keeps_the_joint_that_it_was_asked_of(client, starting):
    body = {"case": starting[0], "kind": "blow", "options": {}, "joint": "one"}
    told = client.post("/api/studies", json=body).json()
    assert told["joint"] == "one"
    whole = client.get(f"/api/studies/{told['id']}").json()
    assert whole["case"] == starting[0]
    changed = {"case": whole["case"], "changes": {"ear.width": 15.0, "pin.diameter": "3.9 mm"}}
    joint = client.post("/api/joint", json=changed).json()["joint"]
    assert [ear["width"] for ear in joint["ear"]] == [15.0, 15.0]
    assert joint["pin"]["diameter"] == 3.9
    assert whole["plain"]["ear"][0]["width"] == 14.0
    client.post(f"/api/studies/{told['id']}/forget", json={})
    for case, path in ((starting[0], "ear.widht"), ({"ear": 5}, "ear.width")):
        bad = client.post("/api/joint", json={"case": case, "changes": {path: 15.0}})
        assert bad.status_code == 422, bad.text
