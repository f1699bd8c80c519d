"""Bytes over the wire of a phone's first and second visit, as Chromium itself counts them.

Chromium's `Network.loadingFinished` (Chrome DevTools Protocol) tells for each request how many
bytes came encoded over the network, headers included; what its cache serves counts as none.
"""

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from playwright.sync_api import BrowserContext, sync_playwright

from tests import builders
from tests.browser.conftest import ARGUMENTS, served_site

_DRAWN_MS = 60_000
_PAGES = (("shelf", "/"), ("a space's air, with Plotly", "/spaces/1?span=week"))


def rows() -> Iterator[tuple[str, str]]:
    """What was measured, and how much it was."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=list(ARGUMENTS)
        )
        with served_site(builders.larch_lane(Path(folder)), compressed=True) as address:
            for name, path in _PAGES:
                # A browser of its own for each page: nothing is cached before the first visit.
                context = browser.new_context(viewport={"width": 390, "height": 844})
                first, second = (_visit(context, address + path) for _ in range(2))
                context.close()
                yield f"bytes of the first phone page load: {name}", f"{first:,}"
                yield f"bytes of the second: {name}", f"{second:,}"
        browser.close()


def _visit(context: BrowserContext, address: str) -> int:
    page = context.new_page()
    network = context.new_cdp_session(page)
    total = 0

    def finished(event: dict[str, Any]) -> None:
        nonlocal total
        total += int(event["encodedDataLength"])

    network.on("Network.loadingFinished", finished)
    network.send("Network.enable")
    page.goto(address, wait_until="networkidle")
    if page.locator("figure[data-figure]").count():
        page.wait_for_selector("figure[data-plotted] .main-svg", timeout=_DRAWN_MS)
    page.close()
    return total


if __name__ == "__main__":
    for what, measured in rows():
        print(f"{what:65} {measured:>12}")
