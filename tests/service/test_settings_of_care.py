"""The hour at which the day's care is told."""

from datetime import time

import pytest
from pydantic import ValidationError

from service.errors import SettingsError
from service.settings import NoticeSettings, load


def test_care_is_told_at_nine_unless_another_hour_or_none_is_set() -> None:
    told = [NoticeSettings().care_time]
    told += [NoticeSettings(care_at=text).care_time for text in ("18:45", "")]

    assert told == [time(9), time(18, 45), None]


@pytest.mark.parametrize("text", ["9", "24:00", "09:60", "09:00:00", "\u0660\u0669:\u0660\u0660"])
def test_what_is_no_hour_is_refused(text: str) -> None:
    with pytest.raises(ValidationError, match="write a time such as 09:00"):
        NoticeSettings(care_at=text)


def test_the_refusal_names_the_setting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WHEELWARD_NOTICES__CARE_AT", "noon")

    with pytest.raises(SettingsError, match=r"notices\.care_at: write a time such as 09:00"):
        load()
