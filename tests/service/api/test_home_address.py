"""Where the pages are found from outside."""

from pathlib import Path

import pytest
from fastapi import Request
from pydantic import ValidationError

from service.api.home_address import home_address, is_reachable
from service.settings import Settings, WebSettings


def asked_by(host: str) -> Request:
    return Request({"type": "http", "scheme": "http", "headers": [(b"host", host.encode())]})


def test_address_is_the_one_by_which_one_asks_unless_the_settings_name_one(tmp_path: Path) -> None:
    plain = Settings(data_folder=tmp_path)
    named = Settings(data_folder=tmp_path, web=WebSettings(address="https://cave.example"))

    assert home_address(asked_by("10.0.0.5:8000"), plain) == "http://10.0.0.5:8000"
    assert home_address(asked_by("10.0.0.5:8000"), named) == "https://cave.example"


@pytest.mark.parametrize("host", ["127.0.0.1:8000", "localhost", "[::1]:8000", "", "[bad"])
def test_address_of_this_machine_reaches_no_phone(host: str) -> None:
    assert not is_reachable(f"http://{host}")


@pytest.mark.parametrize("address", ["cave.example", "https://cave.example/", "ftp://cave.example"])
def test_address_in_the_settings_is_one_without_a_path(address: str) -> None:
    with pytest.raises(ValidationError):
        WebSettings(address=address)
