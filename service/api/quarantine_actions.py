"""What a keeper does with messages that could not be stored, for pages and API alike.

As all actions, each takes a turn in the store first, and may be sent twice without harm.
"""

from service.api.context import Context
from service.ingest.again import TriedAgain
from service.ingest.again import try_again as decode_again
from service.store import thrown_away
from service.store.database import Session
from service.store.turns import take_turn


def try_again(session: Session, context: Context, kind: str | None) -> TriedAgain:
    """Try again what is in quarantine, or one kind of it, in one commit with what becomes of it."""
    take_turn(session)
    mappings = [each.mapping() for each in context.settings.mappings]
    return decode_again(session, mappings, context.clock.now_us(), kind)


def throw_away(session: Session, context: Context, kind: str, up_to_id: int) -> int:
    """Throw away one kind of what is in quarantine, up to the newest row that was told of.

    Returns:
        How many messages that were; none when it is sent again.
    """
    take_turn(session)
    return thrown_away.throw_away(session, kind, up_to_id, context.clock.now_us())
