"""Errors become answers: problem details (RFC 9457) with one plain sentence.

Paths under `/api` always get JSON. For other paths the pages may set `app.state.error_page`,
which is called with the request, the status and the sentence.
"""

from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from service.api.refusals import AnswerableError, BusyError
from service.errors import OutOfRangeError, UnknownError

_LONGEST: Final = 400
_VALUE_ERROR: Final = "Value error, "  # pydantic writes it before the sentences of our own


class Problem(JSONResponse):
    """A problem as RFC 9457 shapes it."""

    media_type = "application/problem+json"

    def __init__(
        self, status: int, sentence: str, headers: Mapping[str, str] | None = None
    ) -> None:
        # Half a surrogate pair may come in with a message's key, and has no UTF-8.
        detail = sentence.encode("utf-8", "replace").decode()[:_LONGEST]
        content = {
            "type": "about:blank",
            "title": HTTPStatus(status).phrase,
            "status": status,
            "detail": detail,
        }
        super().__init__(content, status, headers)


def is_api(path: str) -> bool:
    """Whether a path is answered in JSON."""
    return path == "/api" or path.startswith("/api/")


def plug_in(app: FastAPI) -> None:
    """Let the app answer every error as a problem."""
    for kind, handler in _HANDLERS.items():
        app.add_exception_handler(kind, handler)


def _answer(
    request: Request, status: int, sentence: str, headers: Mapping[str, str] | None = None
) -> Response:
    page = getattr(request.app.state, "error_page", None)
    if page is None or is_api(request.scope["path"]):
        return Problem(status, sentence, headers)
    answer: Response = page(request, status, sentence)
    answer.headers.update(headers or {})
    return answer


def _unknown(request: Request, error: Exception) -> Response:
    return _answer(request, HTTPStatus.NOT_FOUND, str(error))


def _out_of_range(request: Request, error: Exception) -> Response:
    return _answer(request, HTTPStatus.UNPROCESSABLE_ENTITY, str(error))


def _answerable(request: Request, error: Exception) -> Response:
    assert isinstance(error, AnswerableError)
    wait = {"Retry-After": str(error.retry_after_s)} if isinstance(error, BusyError) else None
    return _answer(request, error.status, str(error), wait)


def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    faults = error.errors()
    sentence = _sentence(faults[0])
    if len(faults) > 1:
        sentence = f"{sentence} (and {len(faults) - 1} more)"
    return _answer(request, HTTPStatus.UNPROCESSABLE_ENTITY, sentence)


def _sentence(fault: Mapping[str, Any]) -> str:
    # The first part says only body, query or path. A fault of the whole body has no more. A part
    # in brackets is no place, but how pydantic calls one of several kinds of value.
    where = ".".join(str(part) for part in fault["loc"][1:] if "[" not in str(part))
    what = str(fault["msg"]).removeprefix(_VALUE_ERROR)
    if fault["type"] == "json_invalid":
        return f"the body is not JSON: {fault['ctx']['error']}"
    return f"{where}: {what}" if where else what


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return _answer(request, error.status_code, str(error.detail), error.headers)


def _failed(request: Request, _error: Exception) -> Response:
    # The server logs the error with its trace; whoever asked learns nothing of the inside.
    return _answer(
        request, HTTPStatus.INTERNAL_SERVER_ERROR, "something failed here; the log says what"
    )


_HANDLERS: Final = {
    UnknownError: _unknown,
    OutOfRangeError: _out_of_range,
    AnswerableError: _answerable,
    RequestValidationError: _invalid,
    HTTPException: _http,
    Exception: _failed,
}
