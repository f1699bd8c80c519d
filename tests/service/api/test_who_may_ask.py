"""Everything is closed to strangers but the few open paths; other sites may change nothing."""

import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import anyio
import pytest
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient
from starlette.routing import Mount
from starlette.types import Message

from service.api.access import OPEN_PATHS, check_may_serve, is_loopback, is_open, safe_next
from service.api.context import Context
from service.app import create_app
from service.errors import SettingsError
from service.settings import WebSettings
from service.store.people import add_person, people, remove_person


def all_calls(app: FastAPI) -> Iterator[tuple[str, str]]:
    """Every method and path that the app has a route for, with 1 for each parameter."""
    for route in iter_route_contexts(app.routes):
        path = re.sub(r"\{[^}]*\}", "1", route.path or "")
        for method in sorted(route.methods or {"GET"}):
            yield method, path


def test_every_route_is_closed_to_a_stranger(stranger: TestClient) -> None:
    app = stranger.app
    assert isinstance(app, FastAPI)
    calls = [call for call in all_calls(app) if not is_open(call[1])]
    answers = {call: stranger.request(*call).status_code for call in calls}

    assert ("GET", "/api/openapi.json") in calls
    assert ("POST", "/api/alarms/1/acknowledge") in calls
    assert ("DELETE", "/api/browsers/1") in calls
    assert len(calls) >= 20
    # A photo or the calendar is opened by its address, so a stranger is shown where to sign in.
    expected = {call: 401 if call[1].startswith("/api/") else 303 for call in calls}
    assert answers == expected


def test_a_route_that_is_added_later_is_closed_too(guarded: Context) -> None:
    app = create_app(guarded)
    app.add_api_route("/later", lambda: "secret")
    app.mount("/folder", FastAPI())
    assert any(isinstance(route, Mount) for route in app.routes)
    with TestClient(app, base_url="http://cave.example", follow_redirects=False) as browser:
        answers = [browser.get(path) for path in ("/later", "/folder/docs", "/nowhere")]

    assert [answer.status_code for answer in answers] == [303] * 3
    assert answers[0].headers["location"] == "/sign-in?next=%2Flater"


def test_the_open_paths_are_these_and_no_others() -> None:
    assert len(OPEN_PATHS) == 5
    assert is_open("/healthz")
    assert is_open("/sign-in")
    assert is_open("/phone/0123456789abcdefghij")
    assert is_open(f"/calendar/{'a' * 43}.ics")
    assert not is_open("/calendar")
    assert not is_open(f"/calendar/{'a' * 42}.ics")
    assert is_open("/static/page.3f2a.css")


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/healthz/",
        "/healthz/../api/wheels",
        "/sign-in/x",
        "/sign-in\n",
        "/phone/",
        "/phone/short",
        "/phone/0123456789abcdefghij/x",
        "/static/page.js",
        "/static/../x.css",
        "/static/a/b.css",
        "/api/healthz",
    ],
)
def test_what_only_looks_open_is_closed(path: str) -> None:
    assert not is_open(path)


@pytest.mark.parametrize(
    "host", ["cave.example/healthz?", "cave.example/sign-in#", "127.0.0.1", "a@b", "[", "", "é"]
)
def test_no_host_field_opens_a_path(stranger: TestClient, host: str) -> None:
    answer = stranger.get("/api/wheels", headers={b"host": host.encode()})

    assert answer.status_code == 401


def test_the_health_tells_strangers_only_that_it_is_well(stranger: TestClient) -> None:
    answer = stranger.get("/healthz")

    assert (answer.status_code, answer.json()) == (200, {"status": "ok"})


def test_a_page_sends_a_stranger_to_sign_in_and_back(stranger: TestClient) -> None:
    answer = stranger.get("/wheels/3?days=7&x=%2F")

    assert answer.status_code == 303
    assert answer.headers["location"] == "/sign-in?next=%2Fwheels%2F3%3Fdays%3D7%26x%3D%252F"


def test_the_api_tells_a_stranger_how_to_go_on(stranger: TestClient) -> None:
    answer = stranger.get("/api/wheels")

    assert answer.json()["title"] == "Unauthorized"
    assert "/sign-in" in answer.json()["detail"]
    assert "www-authenticate" in answer.headers


def test_a_web_socket_is_refused(guarded: Context) -> None:
    sent: list[Message] = []

    async def receive() -> Message:
        return {"type": "websocket.connect"}

    async def send(message: Message) -> None:
        sent.append(message)

    async def connect() -> None:
        await create_app(guarded)({"type": "websocket", "path": "/"}, receive, send)

    # In a thread of its own: Playwright keeps a loop running in the main one.
    with ThreadPoolExecutor(1) as threads:
        threads.submit(anyio.run, connect).result()

    assert sent == [{"type": "websocket.close", "code": 1008}]


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.20", "cave.lan", ""])
def test_beyond_loopback_it_will_not_start_without_a_keeper(context: Context, host: str) -> None:
    settings = context.settings.model_copy(update={"web": WebSettings(host=host)})
    with context.sessions() as session, pytest.raises(SettingsError, match="person add NAME") as no:
        check_may_serve(settings, session)

    assert "\n" not in str(no.value)


def test_the_app_itself_cannot_be_made_beyond_loopback_without_a_keeper(guarded: Context) -> None:
    with guarded.sessions() as session:
        for person in people(session):
            remove_person(session, person.id or 0)

    with pytest.raises(SettingsError):
        create_app(guarded)


@pytest.mark.parametrize(
    "host", ["127.0.0.1", "127.8.9.1", "localhost", "LOCALHOST", "::1", "[::1]"]
)
def test_this_machine_is_loopback(host: str) -> None:
    assert is_loopback(host)


def test_on_loopback_a_keeper_closes_the_service_at_once(
    client: TestClient, context: Context
) -> None:
    before = client.get("/api/wheels").status_code
    with context.sessions() as session:
        add_person(session, "Anna", "no hash", 0)

    assert (before, client.get("/api/wheels").status_code) == (200, 401)


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8000", "127.0.0.1.evil.example", "x@127.0.0.1", "0.0.0.0", "["],
)
def test_without_a_keeper_no_other_name_is_answered(client: TestClient, host: str) -> None:
    assert client.get("/api/wheels", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", ["localhost", "localhost:8123", "127.0.0.1:80", "[::1]:8000"])
def test_without_a_keeper_this_machine_is_answered(client: TestClient, host: str) -> None:
    assert client.get("/api/wheels", headers={"host": host}).status_code == 200


def test_without_a_keeper_a_proxy_forwards_nobody_from_outside(context: Context) -> None:
    with TestClient(
        create_app(context), base_url="http://127.0.0.1", client=("192.0.2.7", 4_000)
    ) as browser:
        assert browser.get("/api/wheels").status_code == 421


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "null"},
        {"origin": ""},
        {"origin": "file://127.0.0.1:8000"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site", "origin": "http://127.0.0.1:8000"},
    ],
)
def test_another_site_may_change_nothing(client: TestClient, headers: dict[str, str]) -> None:
    answer = client.post("/api/wheels/1/moves", json={"space_id": None}, headers=headers)

    assert answer.status_code == 403
    assert client.get("/api/wheels/1").json()["space_id"] == 2


@pytest.mark.parametrize(
    "headers",
    [{}, {"origin": "http://127.0.0.1:8000", "sec-fetch-site": "same-origin"}],
)
def test_our_own_pages_and_tools_may_change_things(
    client: TestClient, headers: dict[str, str]
) -> None:
    answer = client.post("/api/wheels/1/moves", json={"space_id": None}, headers=headers)

    assert answer.status_code == 200


@pytest.mark.parametrize("path", ["/api/wheels", "/healthz", "/nowhere"])
def test_every_answer_carries_the_guarding_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers

    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert "script-src 'self';" in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


@pytest.mark.parametrize(
    "target",
    [
        "//evil.example",
        "/\\evil.example",
        "https://evil.example",
        "",
        "wheels",
        "/a\r\nb",
        "/sign-in",
        None,
    ],
)
def test_after_signing_in_nobody_is_sent_elsewhere(target: str | None) -> None:
    assert safe_next(target) == "/"
