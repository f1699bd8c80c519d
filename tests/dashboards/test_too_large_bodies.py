"""A body that is too large gets an answer of the house's own form, and is not read."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor

import anyio
import pytest
from fastapi.testclient import TestClient
from starlette.types import Message, Scope

from dashboards.site import site
from service.api.context import Context

TOO_LARGE = b"\x00" * 100_000


def pieces() -> Iterator[bytes]:
    for _ in range(100):
        yield TOO_LARGE[:1_000]


@pytest.mark.parametrize("body", [TOO_LARGE, pieces], ids=["told", "in pieces"])
def test_a_browser_gets_a_page(
    client: TestClient, body: bytes | Callable[[], Iterator[bytes]]
) -> None:
    answer = client.post(
        "/quarantine/again",
        content=body if isinstance(body, bytes) else body(),
        headers={"content-type": "application/x-www-form-urlencoded"},
    )

    assert answer.status_code == 413
    assert answer.headers["content-type"].startswith("text/html")
    assert "That is more than is taken at once, and nothing of it was stored" in answer.text
    assert 'href="/"' in answer.text


@pytest.mark.parametrize("body", [TOO_LARGE, pieces], ids=["told", "in pieces"])
def test_the_api_gets_a_problem(
    client: TestClient, body: bytes | Callable[[], Iterator[bytes]]
) -> None:
    answer = client.post(
        "/api/spaces",
        content=body if isinstance(body, bytes) else body(),
        headers={"content-type": "application/json"},
    )

    assert answer.status_code == 413
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["detail"].startswith("that is more than is taken at once")


def test_the_answer_carries_what_every_answer_does(client: TestClient) -> None:
    refused = client.post("/api/spaces", content=TOO_LARGE)
    usual = client.get("/api/spaces")

    assert {name for name in usual.headers if "policy" in name} <= set(refused.headers)


def test_a_body_that_says_it_is_too_large_is_not_read(lane: Context) -> None:
    said: list[Message] = []
    scope: Scope = {
        "type": "http",
        "method": "POST",
        "path": "/wheels/1/look",
        "raw_path": b"/wheels/1/look",
        "root_path": "",
        "query_string": b"",
        "scheme": "http",
        "http_version": "1.1",
        "server": ("localhost", 80),
        "client": ("127.0.0.1", 50_000),
        "headers": [
            (b"host", b"localhost"),
            (b"content-type", b"multipart/form-data; boundary=x"),
            (b"content-length", b"1000000000"),
        ],
    }

    async def receive() -> Message:
        raise AssertionError("the body is read")

    async def send(message: Message) -> None:
        said.append(message)

    # A browser test may have left its own loop running in this thread.
    with ThreadPoolExecutor() as threads:
        threads.submit(anyio.run, site(lane), scope, receive, send).result()

    assert said[0]["status"] == 413
