"""What is let through to the page, and what is not."""

from __future__ import annotations

import json

import pytest
from starlette.testclient import TestClient

from fejoint.page.guard import LARGEST_BODY, POLICY
from fejoint.page.server import app

HOME = "http://127.0.0.1:8737"


@pytest.fixture(scope="module")
def page():
    # not entered, so that no worker starts: nothing here comes as far as a solve
    return TestClient(app(), base_url=HOME)


def pulls(page, **headers):
    return page.post(
        "/api/joint", content="{}", headers={"content-type": "application/json"} | headers
    )


def test_the_page_itself_is_let_through(page):
    assert page.get("/").status_code == 200
    assert pulls(page, origin=HOME).status_code == 422


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "192.168.1.7", ""])
def test_another_name_of_this_machine_is_refused(page, host):
    assert page.get("/api/start", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("origin", ["https://evil.example", "null", "http://127.0.0.1:99"])
def test_a_page_of_another_site_is_refused(page, origin):
    assert pulls(page, origin=origin).status_code == 403
    assert pulls(page, **{"sec-fetch-site": "cross-site"}).status_code == 403


def test_a_form_of_another_site_cannot_post(page):
    assert pulls(page, **{"content-type": "text/plain"}).status_code == 415


def test_a_large_body_is_refused_with_or_without_its_length(page):
    large = b" " * (LARGEST_BODY + 1)
    kind = {"content-type": "application/json"}
    assert page.post("/api/joint", content=large, headers=kind).status_code == 413
    assert page.post("/api/joint", content=iter([large]), headers=kind).status_code == 413


def test_a_browser_is_told_to_load_nothing_from_elsewhere(page):
    assert page.get("/").headers["content-security-policy"] == POLICY


@pytest.mark.parametrize("path", ["/../server.py", "/%2e%2e/server.py", "/..%2f..%2fcli.py"])
def test_only_the_page_s_own_files_are_served(page, path):
    assert page.get(path).status_code == 404


def test_text_of_a_stranger_s_case_is_read_as_data_alone(page, tmp_path):
    secret = tmp_path / "secret"
    secret.write_text("not for you")
    case = f'title = "{secret}"\ninclude = "{secret}"\n[ear]\nmaterial = "{secret}"\n'
    answer = page.post("/api/joint", json={"text": case})
    assert answer.status_code == 422
    assert "not for you" not in answer.text


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "case"),
        ({"text": "[ear"}, "case file"),
        ({"case": {}, "text": ""}, "case"),
        ({"case": {}, "more": 1}, "more"),
        ({"case": {"ear": {"hole": "4 mm"}}}, "pin"),
    ],
)
def test_a_bad_body_is_told_by_its_fields(page, body, field):
    answer = page.post("/api/joint", json=body)
    assert answer.status_code == 422
    assert field in [fault["field"] for fault in answer.json()["faults"]]


def test_a_joint_with_too_large_a_mesh_is_refused(page):
    case = page.get("/api/start").json()["cases"][0]
    case["ear"] = case["ear"] | {"grip_length": "9 m"}
    answer = page.post("/api/joint", json={"case": case})
    assert [fault["field"] for fault in answer.json()["faults"]] == ["ear.grip_length"]


def test_a_case_comes_back_as_a_file_that_says_the_same(page):
    case = page.get("/api/start").json()["cases"][0]
    told = page.post("/api/joint", json={"case": case}).json()
    again = page.post("/api/joint", json={"text": told["text"]}).json()
    assert json.dumps(again["joint"], sort_keys=True) == json.dumps(told["joint"], sort_keys=True)
