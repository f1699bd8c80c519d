"""What the API answers about alarms."""

from pydantic import Field

from service.ageing.lifecycle import AlarmState, Priority
from service.api.moments import Instant
from service.api.shapes import Answer


class AlarmAnswer(Answer):
    """One alarm, from raised to normal."""

    id: int
    kind: str
    state: AlarmState
    priority: Priority
    space_id: int | None
    space: str | None
    sensor_id: int | None
    sensor: str | None
    raised: Instant = Field(validation_alias="raised_us")
    returned: Instant | None = Field(validation_alias="returned_us")
    acknowledged: Instant | None = Field(validation_alias="acknowledged_us")
    acknowledged_by: str | None
    limit: float | None = Field(description="In °C or %RH, by the kind.")
    extreme: float | None = Field(description="In °C or %RH, by the kind.")
    wheels: str
    title: str
    body: str
