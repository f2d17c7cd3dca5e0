"""Whatever a request holds, the page answers below 500 and says in JSON what is wrong."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.testclient import TestClient

from fejoint.page.server import app

pytestmark = pytest.mark.sampled

HOME = "http://127.0.0.1:8737"
JSON = {"content-type": "application/json"}
# not entered, so that no worker starts; errors of the app come as a response, not as an exception
PAGE = TestClient(app(), base_url=HOME, raise_server_exceptions=False)

LEAVES = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=12))
TREES = st.recursive(
    LEAVES,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=8,
)
KEYS = ["case", "text", "detail", "tab", "place", "load_N", "more"]
PLACES = ["joint", "pulls", "drop", "pulls/none/proof"]


def is_refusal(answer) -> bool:
    return 400 <= answer.status_code < 500 and isinstance(answer.json(), dict)


@given(st.sampled_from(PLACES), st.dictionaries(st.sampled_from(KEYS), TREES, max_size=4))
def test_any_body_is_answered_or_refused(place, body):
    text = json.dumps(body)
    answer = PAGE.post(f"/api/{place}", content=text.encode(), headers=JSON)
    assert answer.status_code == 200 or is_refusal(answer)


@given(st.sampled_from(PLACES), st.binary(max_size=60))
def test_bytes_that_are_no_json_are_refused(place, body):
    assert is_refusal(PAGE.post(f"/api/{place}", content=b"\xff" + body, headers=JSON))


@given(
    st.sampled_from(["=", "[", "ear", ".", "9", "\\ud800", "\\u0000", '"']), st.integers(1, 9000)
)
def test_a_text_of_one_thing_again_and_again_is_refused(word, count):
    body = '{"text": "' + (word if word != '"' else "'") * count + '"}'
    assert is_refusal(PAGE.post("/api/joint", content=body.encode(), headers=JSON))


@given(
    st.sampled_from(["host", "origin", "content-type", "content-length", "sec-fetch-site"]),
    st.text(st.characters(min_codepoint=32, max_codepoint=255, exclude_characters="\x7f")),
)
def test_any_header_is_let_through_or_refused(name, value):
    headers = JSON | {name: value.encode("latin-1")}
    answer = PAGE.post("/api/joint", content=b"{}", headers=headers)
    assert is_refusal(answer)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("content-length", b"\xb2"),
        ("content-length", b"9" * 5000),
        ("origin", b"http://["),
        ("host", b"["),
    ],
)
def test_headers_that_once_broke_the_guard_are_refused(name, value):
    answer = PAGE.post("/api/joint", content=b"{}", headers=JSON | {name: value})
    assert is_refusal(answer)


@given(
    st.sampled_from(["scene", "answer.json", "report.html", "pictures/{}.{}", "proof"]),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=12),
    st.dictionaries(st.sampled_from(["what", "suffix", "theme", "width", "beside"]), st.text()),
)
def test_any_address_is_answered_or_refused(what, name, query):
    from urllib.parse import quote

    path = f"/api/pulls/{quote(name, safe='')}/{what.format(quote(name, safe=''), 'png')}"
    answer = PAGE.get(path, params=query)
    assert 400 <= answer.status_code < 500


@pytest.mark.parametrize(
    "path", ["/%00", "/a%00b.js", "/../../etc/passwd", "/%2e%2e/x", "/" + "a" * 5000]
)
def test_a_file_that_is_none_is_not_found(path):
    assert 400 <= PAGE.get(path).status_code < 500
