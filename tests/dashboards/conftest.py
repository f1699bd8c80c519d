"""A small Larch Lane behind the site, asked as a browser on this machine would ask."""

from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from dashboards.site import site
from service.api.context import Context
from tests import builders


@pytest.fixture
def lane(tmp_path: Path) -> Context:
    """Larch Lane with three days of air."""
    return builders.larch_lane(tmp_path)


@pytest.fixture
def visit() -> Callable[[Context], TestClient]:
    """Opens the site over a household, without following redirections."""
    return lambda context: TestClient(
        site(context),
        base_url="http://localhost",
        client=("127.0.0.1", 50_000),
        follow_redirects=False,
    )


@pytest.fixture
def client(lane: Context, visit: Callable[[Context], TestClient]) -> TestClient:
    """A browser on this machine, at Larch Lane."""
    return visit(lane)
