"""What all shapes of the API's answers rest on: filled from the service's own values by name."""

from pydantic import BaseModel, ConfigDict


class Answer(BaseModel):
    """Any part of an answer; `model_validate` fills it from an object's attributes."""

    model_config = ConfigDict(from_attributes=True, frozen=True, validate_by_name=True)


class RangeAnswer(Answer):
    """A closed range; both ends belong to it."""

    low: float
    high: float
