"""Enters what a household's file tells that was done and seen by hand: care and looks."""

import hashlib
from typing import Final

from pydantic import AwareDatetime, BaseModel, ConfigDict

from service.ageing.schedule import Outcome
from service.ageing.seen import CoatColour, Scent
from service.ageing.seen import Look as Seen
from service.ageing.work import Firmness, Rind, Work
from service.clock import from_datetime
from service.store import care, observations, places, wheels
from service.store.ageing_tables import CareRecord
from service.store.database import Session
from service.store.observations import NewObservation

_ON_BOX: Final = {"air_box": Work.AIR_BOX, "wipe_lid": Work.WIPE_LID}
_ON_WHEELS: Final = {
    "turn": Work.TURN,
    "brush": Work.BRUSH,
    "pat_dry": Work.PAT_DRY,
    "pierce": Work.PIERCE,
    "wrap": Work.WRAP,
}


class Part(BaseModel):
    """Any part of a household's file; what it does not know it leaves."""

    model_config = ConfigDict(extra="ignore", frozen=True)


class Care(Part):
    """Care of a space with all that was in it, or of single wheels of it."""

    time: AwareDatetime
    space: str
    kind: str
    wheels: tuple[str, ...] = ()


class Look(Part):
    """What was seen of some wheels."""

    time: AwareDatetime
    wheels: tuple[str, ...]
    rind: Rind | None = None
    coat_pct: dict[CoatColour, float] = {}
    firmness: Firmness | None = None
    smell: Scent | None = None
    words: str = ""


class ByHand:
    """The entering of care and looks, once spaces and wheels are there."""

    def __init__(self, session: Session, shift_us: int) -> None:
        self._session = session
        self._shift_us = shift_us
        self._space_ids = {space.slug: space.id for space in places.spaces(session)}
        self._wheel_ids = {
            wheel.label: wheel.id for wheel, _ in wheels.wheels(session) if wheel.id is not None
        }

    def care(self, told: Care) -> None:
        """Enter care; filling a tray is none, for it is done on no wheel and no box."""
        time_us = from_datetime(told.time) + self._shift_us
        space_id = self._space_ids[told.space]
        assert space_id is not None
        rows = []
        if told.kind in _ON_BOX:
            rows = [self._record(told, _ON_BOX[told.kind], time_us, space_id=space_id)]
        elif told.kind in _ON_WHEELS:
            named = [self._wheel_ids[label] for label in told.wheels]
            rows = [
                self._record(told, _ON_WHEELS[told.kind], time_us, wheel_id=wheel_id)
                for wheel_id in named or self._inside(space_id, time_us)
            ]
        care.enter(self._session, rows)

    def look(self, told: Look) -> None:
        """Enter what was seen of wheels."""
        time_us = from_datetime(told.time) + self._shift_us
        for label in told.wheels:
            observations.enter(
                self._session,
                NewObservation(
                    touch=_touch("look", told.time.isoformat(), *told.wheels),
                    wheel_id=self._wheel_ids[label],
                    time_us=time_us,
                    look=Seen(told.rind, told.firmness, told.smell, told.coat_pct),
                    entered_us=time_us,
                    words=told.words,
                ),
            )

    def _inside(self, space_id: int, time_us: int) -> list[int]:
        return [
            stay.wheel_id
            for stay in wheels.placements_in(self._session, space_id, time_us, time_us)
        ]

    def _record(
        self,
        told: Care,
        work: Work,
        time_us: int,
        *,
        wheel_id: int | None = None,
        space_id: int | None = None,
    ) -> CareRecord:
        return CareRecord(
            touch=_touch(told.kind, told.time.isoformat(), told.space, *told.wheels),
            work=work.value,
            wheel_id=wheel_id,
            space_id=space_id,
            outcome=Outcome.DONE.value,
            time_us=time_us,
            entered_us=time_us,
        )


def _touch(*facts: str) -> str:
    """The same name each time for the same touch, in the form of any other."""
    return hashlib.sha256("|".join(facts).encode()).hexdigest()[:32]
