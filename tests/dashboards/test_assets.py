import gzip
from pathlib import Path

import brotli  # type: ignore[import-untyped]  # the package carries no types
import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from dashboards.assets import Assets, routes
from service.errors import UnknownError


@pytest.fixture(scope="module")
def assets(tmp_path_factory: pytest.TempPathFactory) -> Assets:
    return Assets(tmp_path_factory.mktemp("kept"))


@pytest.fixture(scope="module")
def client(assets: Assets) -> TestClient:
    app = FastAPI()
    app.include_router(routes(assets))
    return TestClient(app)


def test_a_file_is_named_by_its_content_and_kept_for_good(
    assets: Assets, client: TestClient
) -> None:
    answer = client.get(assets.address("style.css"))

    assert answer.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert answer.headers["content-type"].startswith("text/css")
    assert "--paper" in answer.text


@pytest.mark.parametrize(
    ("accepted", "coding"),
    [("gzip, br", "br"), ("gzip", "gzip"), ("br;q=0, gzip", "gzip"), ("identity", None)],
)
def test_the_browser_gets_a_coding_that_it_takes(
    assets: Assets, client: TestClient, accepted: str, coding: str | None
) -> None:
    answer = client.get(assets.address("live.js"), headers={"Accept-Encoding": accepted})

    assert answer.headers.get("content-encoding") == coding
    assert answer.headers["vary"] == "Accept-Encoding"


def test_plotly_comes_from_the_installed_package_compressed_and_kept(tmp_path: Path) -> None:
    assets = Assets(tmp_path)
    name = assets.plotly_address().rpartition("/")[2]
    assets.prepare().join(60)

    asset = assets.asset(name)

    assert asset.gzipped is not None
    assert gzip.decompress(asset.gzipped) == asset.plain
    assert brotli.decompress(asset.brotlied) == asset.plain
    assert sorted(file.name for file in tmp_path.iterdir()) == [f"{name}.br", f"{name}.gz"]
    assert Assets(tmp_path).asset(name).brotlied == asset.brotlied


def test_until_plotly_is_compressed_well_it_goes_out_by_gzip(
    assets: Assets, client: TestClient
) -> None:
    answer = client.get(assets.plotly_address(), headers={"Accept-Encoding": "gzip, br"})

    assert answer.headers["content-encoding"] == "gzip"
    assert len(answer.content) > 4_000_000


def test_an_old_name_is_not_found(assets: Assets) -> None:
    with pytest.raises(UnknownError):
        assets.asset("style.000000000000.css")
