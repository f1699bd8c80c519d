"""Whether wheels that go on to a stage suit the air where they are, and where else they would."""

from collections.abc import Mapping
from dataclasses import dataclass

from dashboards.words import Words, short
from service.ageing.plans import Stage
from service.ageing.values import Quantity
from service.judging import AirNow, air_now
from service.store.database import Session


@dataclass(frozen=True, slots=True)
class WhereTo:
    """Where wheels may go with their next stage.

    Attributes:
        words: Why they had better go elsewhere; empty where nothing speaks against staying.
        choices: Every other space by number, with how warm it is; those that suit come first.
    """

    words: str
    choices: tuple[tuple[int, str], ...]


def where_to(
    session: Session,
    stage: Stage | None,
    space_id: int | None,
    spaces: Mapping[int, str],
    words: Words,
    now_us: int,
) -> WhereTo:
    """Where wheels may go when that stage begins.

    Args:
        session: The store.
        stage: The stage that would begin; None where none follows.
        space_id: Where they are.
        spaces: The names of all spaces by number.
        words: Of the household.
        now_us: The time. [µs UTC]
    """
    airs = {number: air_now(session, number, now_us) for number in spaces}
    suits = {number: _suits(stage, air) for number, air in airs.items()}
    others = sorted(
        (number for number in spaces if number != space_id),
        key=lambda number: (suits[number] is not True, number),
    )
    return WhereTo(
        words=_against(stage, space_id, spaces, airs, words) if space_id in spaces else "",
        choices=tuple((number, _named(spaces[number], airs[number], words)) for number in others),
    )


def _suits(stage: Stage | None, air: AirNow | None) -> bool | None:
    """Whether a space is as warm as a stage asks; None where that is not known."""
    asked = stage.target.temperature_c if stage is not None else None
    if asked is None or air is None or not air.fresh or air.temperature_c is None:
        return None
    return asked.low <= air.temperature_c <= asked.high


def _against(
    stage: Stage | None,
    space_id: int | None,
    spaces: Mapping[int, str],
    airs: Mapping[int, AirNow | None],
    words: Words,
) -> str:
    asked = stage.target.temperature_c if stage is not None else None
    if stage is None or asked is None or space_id is None:
        return ""
    air = airs[space_id]
    suited = _suits(stage, air)
    if suited:
        return ""
    wish = f"{short(stage.name)} asks for {words.range(Quantity.TEMPERATURE, asked)}"
    name = short(spaces[space_id])
    if suited is None or air is None:
        return f"{wish}; no fresh reading tells how warm it is in {name}."
    return f"{wish}; in {name} it is {words.temperature(air.temperature_c)} now."


def _named(name: str, air: AirNow | None, words: Words) -> str:
    if air is None or not air.fresh or air.temperature_c is None:
        return short(name)
    return f"{short(name)}, {words.temperature(air.temperature_c)} now"
