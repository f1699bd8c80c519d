"""What the API tells of messages that could not be stored."""

from pydantic import Field

from service.api.moments import Instant
from service.api.shapes import Answer


class QuarantinedAnswer(Answer):
    """A message that could not be stored; in a full quarantine others like it are only counted."""

    id: int
    received: Instant
    topic: str
    bytes_base64: str
    text: str | None = Field(description="The bytes as text where they are UTF-8.")
    reason: str
    kind: str = Field(description="The reason without its numbers.")
    more: int = Field(description="How many more like it were counted and not kept.")
    last: Instant | None = Field(description="When the last of those came.")


class QuarantineKindAnswer(Answer):
    """How many messages are in quarantine for one kind of reason."""

    kind: str
    messages: int
    rows: int
    newest_id: int = Field(description="The newest row of it; throw away up to this one.")


class ThrownKindAnswer(Answer):
    """How many messages of one kind the keeper threw away so far."""

    kind: str
    messages: int
    last: Instant = Field(validation_alias="last_us")


class QuarantineAnswer(Answer):
    """A page of the quarantine, the newest message first."""

    total: int
    kinds: tuple[QuarantineKindAnswer, ...]
    thrown_away: tuple[ThrownKindAnswer, ...]
    messages: tuple[QuarantinedAnswer, ...]
    next_before: int | None = Field(description="Ask with before=… for the next page.")


class TriedAgainAnswer(Answer):
    """What became of quarantined messages that were tried again."""

    tried: int
    taken_out: int = Field(description="Had nothing bad left, and left quarantine.")
    readings: int = Field(description="New readings that are stored now.")


class ThrownAnswer(Answer):
    """What was thrown away just now."""

    messages: int
