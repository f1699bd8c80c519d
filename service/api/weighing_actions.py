"""What a keeper does with a scale: enter a weighing, and take it back.

As all actions, each may be sent twice, as a phone with a poor link does, without harm.
"""

from typing import Final

from service.api.lifetime import check_lives, check_not_ended
from service.api.refusals import RefusedError
from service.clock import US_PER_S
from service.store import observations, weighings, wheels
from service.store.database import Session
from service.store.tables import Weighing
from service.store.turns import take_turn

_AHEAD_US: Final = 600 * US_PER_S
"""Our choice, as for readings: a browser's clock may be so far ahead."""
_AGAIN_US: Final = 120 * US_PER_S
"""Our choice: the same mass within two minutes is one weighing, sent twice."""
_LEAST_SHARE: Final = 0.02
"""Our choice: less of its mass when new is another unit, or a comma that parts thousands."""
_MOST_TIMES: Final = 5.0
"""Our choice: no wheel weighs more times its mass when new; more is another unit."""


def enter_weighing(
    session: Session, wheel_id: int, grams: float, at_us: int | None, now_us: int
) -> Weighing:
    """The wheel weighed so much; without a time, now.

    Raises:
        UnknownError: There is no such wheel.
        RefusedError: The time is ahead, before the wheel was made or after its end; or no wheel
            weighs that.
    """
    take_turn(session)
    wheel = wheels.wheel(session, wheel_id)
    least, most = _LEAST_SHARE * wheel.mass_g, _MOST_TIMES * wheel.mass_g
    if not least <= grams <= most:
        raise RefusedError(
            f"a weight of {grams:g} g cannot be; this wheel had {wheel.mass_g:g} g when new, so"
            f" enter grams from {least:g} up to {most:g}"
        )
    if at_us is not None and at_us > now_us + _AHEAD_US:
        raise RefusedError("that time is still to come; enter what has happened")
    if at_us is None:
        for known in weighings.weighings(session, wheel_id):
            if known.mass_g == grams and abs(now_us - known.time_us) <= _AGAIN_US:
                return known
    if at_us is None:
        check_not_ended(session, wheel_id)
    else:
        check_lives(session, wheel_id, at_us)
    return weighings.enter(session, wheel_id, now_us if at_us is None else at_us, grams)


def withdraw_weighing(session: Session, wheel_id: int, weighing_id: int) -> None:
    """Take a weighing back; taking it back again changes nothing.

    With it goes what was entered as this weight and nothing else: nothing would be left of it.

    Raises:
        UnknownError: There is no such wheel, or it has no such weighing.
    """
    take_turn(session)
    wheels.wheel(session, wheel_id)
    weighings.withdraw(session, wheel_id, weighing_id)
    resting = observations.resting_on(session, weighing_id)
    bare = observations.only_weighed(session, resting)
    for row in resting:
        if row.id in bare:
            observations.withdraw(session, row)
