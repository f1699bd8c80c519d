"""What the keeper may set: one TOML file, overruled by the environment.

`WHEELWARD_SETTINGS` names the file; `WHEELWARD_BROKER__HOST` and its like overrule single
values. Nothing is read at import; the composition root calls `load`.
"""

import os
import re
from datetime import time
from pathlib import Path
from typing import Final, Literal, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    SecretStr,
    ValidationError,
    field_validator,
    model_validator,
)
from pydantic_settings import (
    BaseSettings,
    PydanticBaseSettingsSource,
    SettingsConfigDict,
    TomlConfigSettingsSource,
)

from sensors.payloads import Mapping
from service.errors import SettingsError


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class BrokerSettings(_Strict):
    """Where the MQTT broker is, and who the worker is to it."""

    host: str = "127.0.0.1"
    port: int = Field(1883, ge=1, le=65535)
    username: str | None = None
    password: SecretStr | None = None
    client_id: str = "wheelward-ingest"
    tls: bool = False


class MappingSettings(_Strict):
    """How to read arbitrary JSON of other topics: RFC 6901 pointers and units."""

    topic: str
    sensor: str | None = None
    temperature: str | None = None
    humidity: str | None = None
    time: str | None = None
    battery: str | None = None
    temperature_unit: Literal["C", "F"] = "C"
    time_unit: Literal["iso8601", "s", "ms"] = "iso8601"
    battery_unit: Literal["%", "V"] = "%"

    @model_validator(mode="after")
    def _must_be_a_mapping(self) -> Self:
        """Tell of a bad filter or pointer when the settings are read, not at the first message."""
        self.mapping()
        return self

    def mapping(self) -> Mapping:
        """The same as the value that the decoder takes."""
        return Mapping(topic_filter=self.topic, **self.model_dump(exclude={"topic"}))


class NoticeSettings(_Strict):
    """Where notices go, and when. Each channel is an address in the Apprise library's syntax.

    `care_at` is the household's local time at which the day's care is told; empty for never.
    """

    channels: tuple[SecretStr, ...] = ()
    care_at: str = "09:00"

    @field_validator("care_at")
    @classmethod
    def _must_be_a_time(cls, text: str) -> str:
        if text and not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", text, re.ASCII):
            raise ValueError("write a time such as 09:00, or leave it empty for never")
        return text

    @property
    def care_time(self) -> time | None:
        """When care is told; None for never."""
        return time.fromisoformat(self.care_at) if self.care_at else None


class WebSettings(_Strict):
    """Where pages and API are served.

    `address` is where a phone finds them, such as https://cave.example, for labels, codes and the
    calendar; without it they take the address by which they were asked.
    """

    host: str = "127.0.0.1"
    port: int = Field(8000, ge=1, le=65535)
    address: str | None = Field(None, pattern=r"^https?://[^\s/?#@]+$")


class DemoSettings(_Strict):
    """The demo's clock, shared by its processes."""

    started_us: int
    speed: float = Field(60.0, gt=0)


class Settings(BaseSettings):
    """All settings together; every value has a default that serves a first look."""

    model_config = SettingsConfigDict(
        env_prefix="WHEELWARD_", env_nested_delimiter="__", extra="forbid", frozen=True
    )

    data_folder: Path = Path("data")
    database_url: str | None = None
    broker: BrokerSettings = BrokerSettings()
    mappings: tuple[MappingSettings, ...] = ()
    notices: NoticeSettings = NoticeSettings()
    web: WebSettings = WebSettings()
    demo: DemoSettings | None = None

    @property
    def database(self) -> str:
        """The SQLAlchemy URL of the store."""
        return self.database_url or f"sqlite:///{self.data_folder / 'wheelward.db'}"

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """Arguments first, then the environment, then the TOML file."""
        del dotenv_settings, file_secret_settings
        named = os.environ.get(FILE_VARIABLE)
        return (
            init_settings,
            env_settings,
            TomlConfigSettingsSource(settings_cls, Path(named) if named else None),
        )


FILE_VARIABLE = "WHEELWARD_SETTINGS"
"""The environment variable that names the settings file; also passed on to children."""

_VALUE_ERROR: Final = "Value error, "
"""What pydantic writes before the sentences of our own."""


def load() -> Settings:
    """The settings from the environment and, where one is named, the TOML file.

    Raises:
        SettingsError: A value cannot be used; the message lists each one.
    """
    named = os.environ.get(FILE_VARIABLE)
    if named and not Path(named).is_file():
        raise SettingsError(f"{FILE_VARIABLE} names {named}, but there is no such file")
    try:
        return Settings()
    except ValidationError as error:
        faults = "; ".join(
            f"{'.'.join(str(part) for part in fault['loc'])}: "
            + str(fault["msg"]).removeprefix(_VALUE_ERROR)
            for fault in error.errors(include_input=False, include_url=False)
        )
        raise SettingsError(f"settings cannot be used: {faults}") from None
    except ValueError as error:  # tomllib's own error for a file that is no TOML
        raise SettingsError(f"{named} is not TOML: {error}") from None
