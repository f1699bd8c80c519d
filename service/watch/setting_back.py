"""After the machine's clock was set back: what was evaluated ahead of it goes on from now.

Else nothing would be evaluated until the clock comes by again, and an alarm be kept from the
maker for as long. Readings that were stored ahead keep their times, and count once these come.
"""

import json
from typing import Any, Final

from service.store import conditions
from service.store.database import Session

SLACK_S: Final = 600.0
"""A clock that is put right by less only delays an alarm by as much. [s] Our choice."""


def go_on_from(session: Session, until_us: int, slack_us: int) -> int:
    """Move all that was evaluated further ahead than the slack back to a time; how many.

    Args:
        session: A session that has written nothing yet.
        until_us: Up to which time readings can be evaluated now. [µs UTC]
        slack_us: So far ahead it may stay. [µs]

    Raises:
        OvertakenError: Another watch was faster; nothing of this may be committed.
    """
    ahead = conditions.evaluated_beyond(session, until_us + slack_us)
    for watched in ahead:
        state = _moved(json.loads(watched.state_json), until_us - watched.evaluated_us)
        conditions.advance(session, watched, until_us, json.dumps(state))
    return len(ahead)


def _moved(state: Any, by_us: int, name: str = "") -> Any:
    """A state with all its times moved, so that an interval, a delay or an alarm goes on.

    By the rule of the house a name that ends in `_us` is that of a time, or of several.
    """
    if isinstance(state, dict):
        return {key: _moved(value, by_us, key) for key, value in state.items()}
    if isinstance(state, list):
        return [_moved(value, by_us, name) for value in state]
    return state + by_us if name.endswith("_us") and state is not None else state
