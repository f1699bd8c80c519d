"""The sums of a make day by themselves: setting time, dry salt, brine. Nothing is stored."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from dashboards.pages.rendering import household_of, renderer
from dashboards.typed import needed_number
from service.ageing.making import brine_from_water, dry_salt_g, setting_time
from service.ageing.measures import MassUnit, VolumeUnit, in_grams, in_litres
from service.ageing.spans import span_s, span_words
from service.api.context import WithContext, WithSession
from service.api.refusals import RefusedError
from service.errors import OutOfRangeError

router = APIRouter()

_SPACE = "\N{NO-BREAK SPACE}"
_WATER_G_PER_L = 1_000.0
"""Water from the tap, within half a per cent from 0 to 30 °C."""

Typed = Annotated[str | None, Query(max_length=60)]


@dataclass(frozen=True, slots=True)
class Sum:
    """What came out of a form: the result, or why there is none; both empty when not asked."""

    result: str = ""
    wrong: str = ""


@router.get("/makes/setting-time")
def sums(
    request: Request,
    context: WithContext,
    session: WithSession,
    flocculation: Typed = None,
    multiplier: Typed = None,
    curd: Typed = None,
    curd_unit: MassUnit = MassUnit.GRAM,
    salt: Typed = None,
    water: Typed = None,
    water_unit: VolumeUnit = VolumeUnit.LITRE,
    strength: Typed = None,
) -> Response:
    """The forms, with what came out of the one that was sent."""

    def setting() -> str:
        found = setting_time(
            span_s(flocculation or ""), needed_number(multiplier, "the multiplier")
        )
        return (
            f"{span_words(found.flocculation_s)} times {found.multiplier:g}:"
            f" {span_words(found.total_s)} from rennet to cut,"
            f" {span_words(found.left_s)} left after flocculation."
        )

    def dry() -> str:
        grams = in_grams(needed_number(curd, "the weight of the curd"), curd_unit)
        pct = needed_number(salt, "the salt in per cent")
        return f"{dry_salt_g(grams, pct):.1f}{_SPACE}g of salt for {grams:.5g}{_SPACE}g of curd."

    def brine() -> str:
        litres = in_litres(needed_number(water, "the amount of water"), water_unit)
        made = brine_from_water(
            litres * _WATER_G_PER_L, needed_number(strength, "the strength in per cent")
        )
        return (
            f"{made.salt_g:.0f}{_SPACE}g of salt in {litres:.4g}{_SPACE}l of water; it makes"
            f" about {made.volume_l:.3g}{_SPACE}l of brine."
        )

    typed = {
        "flocculation": flocculation,
        "multiplier": multiplier,
        "curd": curd,
        "salt": salt,
        "water": water,
        "strength": strength,
    }
    return renderer(request).page(
        request,
        household_of(session, context),
        "make_sums.html",
        live=False,
        typed={name: value or "" for name, value in typed.items()},
        units={"curd": curd_unit, "water": water_unit},
        setting=_sum(flocculation, setting),
        dry=_sum(curd, dry),
        brine=_sum(water, brine),
        masses=list(MassUnit),
        volumes=list(VolumeUnit),
    )


def _sum(asked: str | None, work: Callable[[], str]) -> Sum:
    if asked is None:
        return Sum()
    try:
        return Sum(result=work())
    except (RefusedError, OutOfRangeError) as error:
        told = str(error)
        return Sum(wrong=f"{told[:1].upper()}{told[1:]}.")
