"""The house's answer to a body that is too large, in the place of the framework's bare line.

The framework counts what comes in and stops at the limit of each route, so that no body beyond
it is read into memory; but it answers outside of all that gives an answer its form.
"""

from http import HTTPStatus

from fastapi import FastAPI, Request
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.api import problems
from service.api.gate import complete_headers


class WellFormedApp(FastAPI):
    """An app whose every answer has the form of the house."""

    def build_middleware_stack(self) -> ASGIApp:
        """The framework's layers, within ours."""
        return _TooLarge(super().build_middleware_stack())


class _TooLarge:
    """Answers in the place of the framework where a body is too large."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection."""
        answered = False

        async def send_ours(message: Message) -> None:
            nonlocal answered
            if _is_bare(message):
                answered = True
                answer = await run_in_threadpool(problems.too_large, Request(scope))
                complete_headers(answer.headers)
                await answer(scope, receive, send)
            elif not answered:
                await send(message)

        await self._app(scope, receive, send_ours)


def _is_bare(message: Message) -> bool:
    """Whether an answer begins that says too large, and is none of ours: they are no plain text."""
    if message["type"] != "http.response.start":
        return False
    kind = Headers(raw=message["headers"]).get("content-type", "")
    is_too_large: bool = message["status"] == HTTPStatus.REQUEST_ENTITY_TOO_LARGE
    return is_too_large and kind.startswith("text/plain")
