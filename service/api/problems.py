"""Errors become answers: problem details (RFC 9457) with one plain sentence.

Paths under `/api` always get JSON. For other paths the pages may set `app.state.error_page`,
which is called with the request, the status and the sentence.
"""

import logging
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, Final

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from service.api.refusals import AnswerableError, BusyError
from service.errors import OutOfRangeError, UnknownError
from service.photos import LARGEST_BYTES
from service.store.failures import DBAPIError, in_words, is_full, is_locked, is_read_only

NO_ROOM: Final = (
    "the disk is full: nothing of what you sent was stored, and what was there before is as it was;"
    " make room on the machine that runs Wheelward, then send it again"
)
LOCKED: Final = (
    "another program keeps the store to itself: nothing of what you sent was stored; wait a"
    " minute, then send it again"
)
READ_ONLY: Final = (
    "the store cannot be written: nothing of what you sent was stored; on the machine that runs"
    " Wheelward, look who owns its file and whether its disk may be written, then send it again"
)
TOO_LARGE: Final = (
    "that is more than is taken at once, and nothing of it was stored; send photos of up to"
    f" {LARGEST_BYTES / 1e6:.1f} MB each, and fewer of them or fewer words"
)

_LOG: Final = logging.getLogger(__name__)
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


def too_large(request: Request) -> Response:
    """The answer to a body that is not taken."""
    return _answer(request, HTTPStatus.REQUEST_ENTITY_TOO_LARGE, TOO_LARGE)


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
    if is_full(error):
        # The framework calls a file that it could not put aside a body that it could not read.
        return _unstored(request, error)
    if error.status_code == HTTPStatus.REQUEST_ENTITY_TOO_LARGE:
        return too_large(request)
    return _answer(request, error.status_code, str(error.detail), error.headers)


def _unstored(request: Request, error: Exception) -> Response:
    """507, as RFC 4918, 11.5, has it, without room; 503 where the store may not be written now.

    Every other failure is passed on.

    Raises:
        Exception: What failed, where it was none of these.
    """
    for is_it, status, sentence, wait in _UNSTORED:
        if is_it(error):
            _LOG.error("%s %s: %s", request.method, request.url.path, in_words(error))
            return _answer(request, status, sentence, wait)
    raise error


def _failed(request: Request, error: Exception) -> Response:
    if is_full(error):
        return _unstored(request, error)
    # The server logs the error with its trace; whoever asked learns nothing of the inside.
    return _answer(
        request, HTTPStatus.INTERNAL_SERVER_ERROR, "something failed here; the log says what"
    )


_UNSTORED: Final = (
    (is_full, HTTPStatus.INSUFFICIENT_STORAGE, NO_ROOM, None),
    (is_locked, HTTPStatus.SERVICE_UNAVAILABLE, LOCKED, {"Retry-After": "60"}),
    (is_read_only, HTTPStatus.SERVICE_UNAVAILABLE, READ_ONLY, None),
)
_HANDLERS: Final = {
    UnknownError: _unknown,
    OutOfRangeError: _out_of_range,
    AnswerableError: _answerable,
    RequestValidationError: _invalid,
    HTTPException: _http,
    DBAPIError: _unstored,
    OSError: _unstored,
    Exception: _failed,
}
