"""On which day the air last wetted a wheel: an estimate, from the alarms of sweat that were kept.

The alarm is one for all wheels of a space, so a wheel counts as wetted when any in its space was
estimated to be. That errs towards patting dry once too often; our choice.
"""

from collections.abc import Iterable
from datetime import date

from service.store.database import Session
from service.store.sweat_spans import sweat_spans
from service.store.tables import WheelPlacement
from service.tending.days import Zones, day_of


def sweat_days(
    session: Session, stays: Iterable[WheelPlacement], now_us: int, zones: Zones
) -> dict[int, date]:
    """The last day with sweat since each wheel came to where it is, by the wheel's number.

    Args:
        session: The store.
        stays: Where each wheel is now; the wheels that never sweated there are left out.
        now_us: The time. [µs UTC]
        zones: In which days are counted.
    """
    stays = tuple(stays)
    if not stays:
        return {}
    wetted = sweat_spans(session, min(stay.from_us for stay in stays), now_us)
    found: dict[int, date] = {}
    for stay in stays:
        ends_us = [
            now_us if span.to_us is None else min(span.to_us, now_us)
            for span in wetted
            if span.space_id == stay.space_id and (span.to_us is None or span.to_us > stay.from_us)
        ]
        if ends_us:
            found[stay.wheel_id] = day_of(max(ends_us), zones)
    return found
