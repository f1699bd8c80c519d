"""The day's care on its whole way: from the wheels through the outbox to a mail server."""

from __future__ import annotations

from datetime import time
from typing import TYPE_CHECKING

import pytest
from pydantic import SecretStr

from service.notify.channels import Channels
from service.notify.sender import Sender
from service.watch.rounds import Watch
from tests import builders

if TYPE_CHECKING:
    from pathlib import Path

    from tests.service.notify.conftest import MailServer


@pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")  # see test_channels
def test_the_days_care_comes_by_mail_once(tmp_path: Path, mail_server: MailServer) -> None:
    context = builders.larch_lane(tmp_path)
    channels = Channels([SecretStr(mail_server.address)])
    sender = Sender(context.sessions, channels, context.clock)
    for _ in range(2):
        watch = Watch(
            context.sessions,
            context.clock,
            context.plans,
            channels.labels,
            context.clock,
            care_at=time(9),
        )
        watch.tell_of_care()
        sender.send_due()

    (mail,) = mail_server.taken
    assert "Care today: Cave" in str(mail["subject"])
    body = mail.get_body(("plain", "html"))
    assert body is not None
    assert "turn Tomme 1" in body.get_content()
