"""The page's HTTP interface, with its workers."""

from __future__ import annotations

import copy
import json
import threading
import time

import numpy as np
import pytest


def pull(client, case, **more):
    return client.post("/api/pulls", json={"case": case, "detail": "coarse", **more})


def short(case, until="0.15 mm"):
    """The same joint, pulled a little only."""
    return copy.deepcopy(case) | {"pull": {"stop_displacement": until}}


def unpacked(raw: bytes) -> tuple[dict, dict]:
    size = int.from_bytes(raw[:4], "little")
    header = json.loads(raw[4 : 4 + size])
    arrays = {
        name: told["scale"]
        * np.frombuffer(
            raw, np.dtype(told["type"]), int(np.prod(told["shape"])), 4 + size + told["offset"]
        ).reshape(told["shape"])
        for name, told in header["arrays"].items()
    }
    return header, arrays


@pytest.mark.parametrize("place", [0, 1], ids=["hard pin", "soft pin"])
def test_coarse_is_within_three_percent_of_fine(client, starting, place):
    case = starting[place]
    fine = pull(client, case, detail="fine").json()["answer"]["verdict"]
    for _ in range(2):  # the second stops as soon as the verdict is known
        coarse = pull(client, case, tab="same", place="a").json()["answer"]["verdict"]
        assert coarse["first_to_give"] == fine["first_to_give"]
        for near, true in zip(coarse["order"][:2], fine["order"], strict=False):
            assert near["mode"] == true["mode"]
            assert near["load_N"] == pytest.approx(true["load_N"], rel=0.03)


def test_scene_shows_what_was_answered(client, starting):
    told = pull(client, short(starting[0], "0.3 mm")).json()
    header, arrays = unpacked(client.get(f"/api/pulls/{told['id']}/scene").content)
    curve = told["answer"]["curve"]
    assert arrays["load"] == pytest.approx(curve["load_N"], rel=1e-5)
    n = len(arrays["ear.rest"])
    assert arrays["ear.triangles"].max() == n - 1
    assert arrays["ear.moved"].shape[1:] == (n, 2)
    # the pin's middle has gone as far as the ear's hole has let it
    assert arrays["pin.sag"][-1] == pytest.approx(arrays["pin.sag"].max())
    assert 0 < arrays["ear.stress"].max() < header["stress_top_MPa"]["ear"]
    force = arrays["plate0.bearing"] @ np.diff(arrays["plate0.cuts"])
    assert force[-1] == pytest.approx(curve["load_N"][-1] / 2, rel=0.01)


def test_a_proof_pull_keeps_more_the_further_it_goes(client, starting):
    name = pull(client, short(starting[0], "0.3 mm")).json()["id"]
    kept = [
        client.post(f"/api/pulls/{name}/proof", json={"load_N": load}).json()["hole_mm"]
        for load in (500.0, 4000.0, 7900.0)
    ]
    assert 0 <= kept[0] < kept[1] < kept[2]
    assert kept[2] == pytest.approx(0.02 * 4.1, rel=0.1)
    beyond = client.post(f"/api/pulls/{name}/proof", json={"load_N": 1e6}).json()
    assert not beyond["reached"]


def test_answer_and_picture_can_be_taken_away(client, starting):
    name = pull(client, short(starting[0])).json()["id"]
    answer = client.get(f"/api/pulls/{name}/answer.json")
    assert answer.json()["schema"] == "fejoint.answer/1"
    assert "attachment" in answer.headers["content-disposition"]
    picture = client.get(f"/api/pulls/{name}/pictures/drawing.svg", params={"theme": "dark"})
    assert picture.text.startswith("<?xml")
    assert client.get(f"/api/pulls/{name}/pictures/secrets.png").status_code == 422
    assert client.get("/api/pulls/unknown/answer.json").status_code == 410
    assert client.get("/api/pulls/unknown/scene").status_code == 410


def test_a_newer_change_takes_the_place_of_an_older_one_of_its_tab_alone(client, starting):
    answers = {}

    def ask(name, case, tab):
        answers[name] = pull(client, case, tab=tab, detail="fine")

    # a joint that no other test has had solved: it would be answered at once
    unknown = copy.deepcopy(starting[1])
    unknown["ear"]["width"] = "14.37 mm"
    older = threading.Thread(target=ask, args=("older", unknown, "one"))
    other = threading.Thread(target=ask, args=("other", short(starting[0]), "two"))
    older.start()
    other.start()
    time.sleep(0.3)
    began = time.monotonic()
    newer = pull(client, short(starting[0]), tab="one")
    older.join(10)
    assert answers["older"].status_code == 409
    assert time.monotonic() - began < 10
    assert newer.status_code == 200
    other.join(30)
    assert answers["other"].status_code == 200


def test_faults_come_with_their_fields(client, starting):
    case = copy.deepcopy(starting[0])
    case["ear"]["hole"] = "3.9 mm"
    case["pin"]["hardness"] = "very"
    answer = pull(client, case)
    assert answer.status_code == 422
    assert {f["field"] for f in answer.json()["faults"]} == {"ear.hole", "pin.hardness"}


def test_progress_is_told_to_the_tab_that_pulls(client, starting):
    heard = []

    def listen():
        with client.stream("GET", "/api/progress/hearer") as stream:
            for line in stream.iter_lines():
                if line.startswith("data:"):
                    heard.append(json.loads(line[5:]))
                    return

    listener = threading.Thread(target=listen, daemon=True)
    listener.start()
    time.sleep(0.2)
    pull(client, short(starting[0], "0.2 mm"), tab="hearer", place="b")
    listener.join(5)
    assert heard[0]["place"] == "b"
    assert heard[0]["section"] in {"ear", "shank", "pin"}
