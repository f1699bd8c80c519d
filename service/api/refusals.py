"""What is refused to whoever asks, each with one plain sentence and its HTTP status.

Pages show the sentence; the API sends it as the detail of a problem (`service.api.problems`).
"""

from typing import ClassVar

from service.errors import WheelwardError


class AnswerableError(WheelwardError):
    """An error whose message is meant for whoever asked."""

    status: ClassVar[int] = 422


class RefusedError(AnswerableError, ValueError):
    """What was asked for cannot be; the message says why and what to do."""


class SignInError(AnswerableError):
    """The name or the password is wrong, or the code cannot be used; never which of them."""

    status: ClassVar[int] = 401


class BusyError(AnswerableError):
    """Too many have tried; `retry_after_s` says when to try again."""

    status: ClassVar[int] = 429

    def __init__(self, message: str, retry_after_s: int) -> None:
        super().__init__(message)
        self.retry_after_s = retry_after_s
