"""What the API answers about the household: its browsers and the address of its calendar."""

from pydantic import Field

from service.api.moments import Instant
from service.api.shapes import Answer


class SiteAnswer(Answer):
    """The household."""

    slug: str
    name: str
    time_zone: str
    fahrenheit: bool


class BrowserAnswer(Answer):
    """A browser that is signed in."""

    id: int
    device: str
    since: Instant = Field(validation_alias="created_us")
    expires: Instant = Field(validation_alias="expires_us")
    this_one: bool


class FeedAnswer(Answer):
    """The path of the calendar's secret address, and since when it answers."""

    path: str
    made: Instant
