"""What the API is sent: types and bounds only; the rules are in `service.api.actions`."""

from typing import Annotated, Final

from fastapi import Path
from pydantic import BaseModel, ConfigDict, Field, StrictBool, StrictFloat

from service.api.moments import GivenInstant
from service.api.plan_actions import LONGEST_TEXT
from service.store.tables import SpaceKind

_LARGEST_ID: Final = 2**31 - 1
"""The largest number of a row that PostgreSQL's integer holds; SQLite's is larger."""
_LONGEST_TEXT: Final = 200

Id = Annotated[int, Field(ge=1, le=_LARGEST_ID)]
"""The number of something in the store, in a query."""
GivenId = Annotated[int, Field(strict=True, ge=1, le=_LARGEST_ID)]
"""The same in a body, where neither a text nor true is a number."""
PathId = Annotated[int, Path(ge=1, le=_LARGEST_ID)]
"""The number of something in the store, in a path."""
Text = Annotated[str, Field(max_length=_LONGEST_TEXT)]


class Body(BaseModel):
    """Any body: nothing that is not known, nothing that is not finite."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, validate_by_name=True
    )


class SpaceBody(Body):
    """A new space. A box names the cave in which it stands."""

    name: Text
    kind: SpaceKind
    parent_id: GivenId | None = None
    board: Annotated[int, Field(strict=True, ge=0, le=100)] = 0


class SizeBody(Body):
    """The size of a wheel."""

    diameter_mm: StrictFloat
    height_mm: StrictFloat
    mass_g: StrictFloat


class WheelBody(SizeBody):
    """A new wheel; without a label it is numbered."""

    label: Text | None = None


class BatchBody(Body):
    """A new batch: its wheels one by one, or a count of wheels of one size."""

    name: Text
    plan: Text
    made: GivenInstant
    wheels: Annotated[list[WheelBody], Field(max_length=200)] | None = None
    count: Annotated[int, Field(strict=True, ge=1, le=200)] | None = None
    size: SizeBody | None = None
    space_id: GivenId | None = None
    stage: Text | None = Field(None, description="The plan's first stage unless named.")


class PlanBody(Body):
    """A plan as the text of its file; its version is set when it is kept."""

    text: Annotated[str, Field(max_length=LONGEST_TEXT)]


class BatchPlanBody(Body):
    """The plan by which a batch goes on, in its newest version unless one is named."""

    plan: Text
    version: Annotated[int, Field(strict=True, ge=1, le=_LARGEST_ID)] | None = None


class MoveBody(Body):
    """Where a wheel goes, null for out of the house; and when, null for now."""

    space_id: GivenId | None
    at: GivenInstant | None = None


class StageBody(Body):
    """Which stage a wheel begins; and when, null for now."""

    stage: Text
    at: GivenInstant | None = None


class WeighingBody(Body):
    """What a wheel weighs, wiped dry; and when, null for now."""

    grams: StrictFloat
    at: GivenInstant | None = None


class PlacementBody(Body):
    """Where a sensor stands, null for nowhere; and from when.

    Without a time a sensor that was never placed stands there from its first reading on, any
    other from now on.
    """

    space_id: GivenId | None
    from_: GivenInstant | None = Field(None, alias="from")


class SaltTestBody(Body):
    """The salt of a test, by formula or name."""

    salt: Text


class EndBody(Body):
    """Where a sensor stands after its salt test, null for nowhere; where it was unless said."""

    space_id: GivenId | None = None


class CorrectionBody(Body):
    """The salt tests on which a correction rests, and from when it holds, null for now."""

    tests: Annotated[list[GivenId], Field(min_length=1, max_length=5)]
    from_: GivenInstant | None = Field(None, alias="from")


class LagsBody(Body):
    """How slowly a sensor follows its air, null where not known. [s]"""

    temperature_lag_s: StrictFloat | None
    humidity_lag_s: StrictFloat | None


class SiteBody(Body):
    """The household; its slug is the second level of its sensors' MQTT topics."""

    name: Text
    slug: Text
    time_zone: Text = "UTC"
    fahrenheit: StrictBool = False


class TryAgainBody(Body):
    """Which quarantined messages to try again; all unless a kind of reason is named."""

    kind: Annotated[str, Field(max_length=200)] | None = None


class ThrowAwayBody(Body):
    """Which quarantined messages to throw away: one kind of reason, up to its newest row."""

    kind: Annotated[str, Field(max_length=200)]
    up_to: GivenId
