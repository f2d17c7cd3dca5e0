"""Connections that never send a whole request do not shut the page out."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator

import httpx
import pytest
import uvicorn
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from fejoint.page import connections

HALF = b"GET / HTTP/1.1\r\nhost: a"
BODY = b"POST / HTTP/1.1\r\nhost: a\r\ncontent-length: 9\r\n\r\nabc"


@pytest.fixture
def port(monkeypatch) -> Iterator[int]:
    """A server of one word, whose connections may wait for half a second, and three at a time."""
    monkeypatch.setattr(connections, "SECONDS", 0.5)
    monkeypatch.setattr(connections, "MOST_WAITING", 3)

    async def word(request):
        await request.body()
        return PlainTextResponse("word")

    app = Starlette(routes=[Route("/", word, methods=["GET", "POST"])])
    config = uvicorn.Config(
        app, http=connections.BoundedConnection, log_level="error", limit_concurrency=8
    )
    server = uvicorn.Server(config)
    with socket.create_server(("127.0.0.1", 0)) as listener:
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]})
        thread.start()
        yield listener.getsockname()[1]
        server.should_exit = True
        thread.join(10.0)


def opened(port: int, sent: bytes) -> socket.socket:
    link = socket.create_connection(("127.0.0.1", port), timeout=10.0)
    link.sendall(sent)
    return link


def seconds_until_closed(link: socket.socket) -> float:
    began = time.monotonic()
    try:
        while link.recv(1000):
            pass
    except ConnectionResetError:
        pass
    return time.monotonic() - began


@pytest.mark.parametrize("sent", [b"", HALF, BODY, HALF + b"\r\n\r\n" + HALF])
def test_a_request_that_is_never_whole_is_given_up(port, sent):
    with opened(port, sent) as link:
        assert 0.3 < seconds_until_closed(link) < 5.0


def test_a_request_that_comes_drop_by_drop_is_given_up_as_soon(port):
    def drip(link):
        for byte in HALF * 9:
            link.sendall(bytes([byte]))
            time.sleep(0.02)

    with opened(port, b"") as link, pytest.raises(OSError, match=r"reset|pipe"):
        drip(link)


def test_the_oldest_waits_no_more_when_too_many_do(port, monkeypatch):
    monkeypatch.setattr(connections, "SECONDS", 60.0)
    links = [opened(port, HALF) for _ in range(12)]
    assert seconds_until_closed(links[0]) < 30.0
    assert httpx.get(f"http://127.0.0.1:{port}/").text == "word"
    links[-1].sendall(b"\r\n\r\n")
    got = b""
    while b"word" not in got and (more := links[-1].recv(1000)):
        got += more  # head and body may come apart
    assert got.endswith(b"word")
    for link in links:
        link.close()


def test_a_connection_is_used_again_after_a_pause(port):
    with httpx.Client() as client:
        for pause in (0.4, 0.4, 0.4):
            assert client.get(f"http://127.0.0.1:{port}/").text == "word"
            time.sleep(pause)
        assert client.post(f"http://127.0.0.1:{port}/", content=b"x" * 300_000).text == "word"


def test_the_page_answers_though_hundreds_of_connections_are_half_open(address):
    port = httpx.URL(address).port
    links = [opened(port, HALF) for _ in range(400)]
    assert seconds_until_closed(links[0]) < 5.0
    began = time.monotonic()
    with httpx.Client(base_url=address) as another:
        assert another.get("/api/state").status_code == 200
    assert time.monotonic() - began < 5.0
    for link in links:
        link.close()
