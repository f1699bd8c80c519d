"""Real receivers on the loopback: a mail server and a web hook, which can be told to refuse."""

import json
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest
from aiosmtpd.controller import Controller
from sqlmodel import SQLModel

from service.store.database import SessionMaker, open_engine, session_maker


@pytest.fixture
def sessions() -> SessionMaker:
    engine = open_engine("sqlite://")
    SQLModel.metadata.create_all(engine)
    return session_maker(engine)


@dataclass
class MailServer:
    """A mail server that keeps what it takes and answers as it is told."""

    port: int
    answer: str = "250 OK"
    taken: list[EmailMessage] = field(default_factory=list)
    envelopes: list[tuple[str, list[str]]] = field(default_factory=list)

    @property
    def address(self) -> str:
        return (
            f"mailto://127.0.0.1:{self.port}"
            "?from=cave@larch-lane.example&to=maker@larch-lane.example"
        )

    async def handle_DATA(self, _server: Any, _session: Any, envelope: Any) -> str:  # noqa: N802 - the library's name
        if self.answer.startswith("250"):
            message = message_from_bytes(envelope.content, policy=policy.default)
            assert isinstance(message, EmailMessage)
            self.taken.append(message)
            self.envelopes.append((envelope.mail_from, envelope.rcpt_tos))
        return self.answer


MailStarter = Callable[[int], MailServer]


@pytest.fixture
def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@pytest.fixture
def start_mail_server() -> Iterator[MailStarter]:
    """Starts a mail server on that port; ended after the test."""
    with ExitStack() as running:
        yield lambda port: running.enter_context(_mail_server(port))


@pytest.fixture
def mail_server(start_mail_server: MailStarter, free_port: int) -> MailServer:
    return start_mail_server(free_port)


@contextmanager
def _mail_server(port: int) -> Iterator[MailServer]:
    server = MailServer(port)
    controller = Controller(server, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield server
    finally:
        controller.stop()


@dataclass
class WebHook:
    """A web server that keeps the JSON posted to it and answers as it is told."""

    port: int = 0
    status: int = 200
    taken: list[Any] = field(default_factory=list)


@pytest.fixture
def web_hook() -> Iterator[WebHook]:
    hook = WebHook()

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            posted = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            if hook.status == 200:
                hook.taken.append(posted)
            self.send_response(hook.status)
            self.end_headers()

        def log_message(self, *_words: Any) -> None:
            """Say nothing."""

    with ThreadingHTTPServer(("127.0.0.1", 0), Handler) as server:
        hook.port = server.server_address[1]
        thread = threading.Thread(target=server.serve_forever, args=(0.02,))
        thread.start()
        yield hook
        server.shutdown()
        thread.join(10)
