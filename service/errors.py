"""What cannot be: the exceptions of the service, each with the facts it was made from.

What merely happens (a wheel too dry, a sensor silent) is a value, not an exception.
"""


class WheelwardError(Exception):
    """The root of all errors that the service raises on purpose."""


class OutOfRangeError(WheelwardError, ValueError):
    """An argument lies outside the range for which a formula holds."""


class SettingsError(WheelwardError):
    """The settings cannot be used; the message says which one and what to write."""


class StoreError(WheelwardError):
    """The store cannot be opened or written; the message says which one and why."""


class PlanError(WheelwardError):
    """An ageing plan cannot be read; the message names the file, the line and the mend."""

    def __init__(self, message: str, line: int | None = None) -> None:
        super().__init__(message)
        self.line = line


class UnknownError(WheelwardError, LookupError):
    """There is no such wheel, space, sensor or alarm."""


class BadReadingsError(WheelwardError, ValueError):
    """A file of readings cannot be used at all; single bad rows are only counted."""


class PhotoError(WheelwardError, ValueError):
    """What was sent as a photo is none that can be kept; the message says why and what to do."""
