"""Files that browsers keep: named by their own hash, compressed once, never to be asked again.

Plotly's JavaScript comes from the installed plotly package. Compressing it takes a moment, so
that happens in a thread, and the result stays in the data folder for later starts.
"""

import gzip
import hashlib
import logging
import mimetypes
import threading
from dataclasses import dataclass, replace
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path

import brotli  # type: ignore[import-untyped]  # the package carries no types
from fastapi import APIRouter, Request, Response

from service.errors import SettingsError, UnknownError

_LOG = logging.getLogger(__name__)
_FOREVER = "public, max-age=31536000, immutable"
_HASH_SIGNS = 12
_OWN_QUALITY = 11
_PLOTLY_QUALITY = 9
"""Of brotli, for Plotly's 4.8 MB. Measured here: 0.4 s and 1.23 MB; 11 saves another tenth but
takes twenty times as long, which a small board would feel at every upgrade."""


@dataclass(frozen=True, slots=True)
class Asset:
    """One file in the forms in which it is served."""

    name: str
    media_type: str
    plain: bytes
    gzipped: bytes | None = None
    brotlied: bytes | None = None


class Assets:
    """All files that browsers keep, by the name in their address."""

    def __init__(self, cache_folder: Path, static_folder: Path | None = None) -> None:
        self._cache_folder = cache_folder
        self._assets: dict[str, Asset] = {}
        self._addresses: dict[str, str] = {}
        self._lock = threading.Lock()
        folder = static_folder or Path(__file__).parent / "static"
        for file in sorted(folder.iterdir()):
            self._add_own(file)
        self._plotly_asset: Asset | None = None
        self._plotly_file = _plotly_file()

    def address(self, name: str) -> str:
        """The address of one of our own files.

        Raises:
            UnknownError: There is no such file.
        """
        if name not in self._addresses:
            raise UnknownError(f"there is no file {name}")
        return self._addresses[name]

    def plotly_address(self) -> str:
        """The address of Plotly's JavaScript."""
        return f"/static/{self._plotly().name}"

    def asset(self, name: str) -> Asset:
        """The file that has this name in its address, compressed at least by gzip.

        Raises:
            UnknownError: There is none, or no longer.
        """
        found = self._assets.get(name)
        if found is None and name == self._plotly().name:
            found = self._gzipped()
        if found is None:
            raise UnknownError(f"there is no file {name}")
        return found

    def prepare(self) -> threading.Thread:
        """Compress Plotly's JavaScript as well as it goes, in a thread; the thread."""
        thread = threading.Thread(target=self._brotlied, name="compress", daemon=True)
        thread.start()
        return thread

    def _add_own(self, file: Path) -> None:
        content = file.read_bytes()
        name = f"{file.stem}.{_digest(content)}{file.suffix}"
        self._assets[name] = Asset(
            name,
            _media_type(file.name),
            content,
            gzip.compress(content, 9, mtime=0),
            brotli.compress(content, quality=_OWN_QUALITY),
        )
        self._addresses[file.name] = f"/static/{name}"

    def _plotly(self) -> Asset:
        """Plotly's JavaScript, read when it is first asked for, with what an earlier start kept."""
        with self._lock:
            if self._plotly_asset is None:
                content = self._plotly_file.read_bytes()
                name = f"plotly-{version('plotly')}.{_digest(content)}.min.js"
                kept = [self._cache_folder / f"{name}.{coding}" for coding in ("gz", "br")]
                gzipped, brotlied = (file.read_bytes() if file.is_file() else None for file in kept)
                self._plotly_asset = Asset(name, "text/javascript", content, gzipped, brotlied)
            return self._plotly_asset

    def _gzipped(self) -> Asset:
        asset = self._plotly()
        if asset.gzipped is None:
            content = self._kept(f"{asset.name}.gz", gzip.compress(asset.plain, 6, mtime=0))
            with self._lock:
                asset = replace(self._plotly_asset or asset, gzipped=content)
                self._plotly_asset = asset
        return asset

    def _brotlied(self) -> None:
        asset = self._gzipped()
        if asset.brotlied is None:
            compressed = brotli.compress(asset.plain, quality=_PLOTLY_QUALITY)
            content = self._kept(f"{asset.name}.br", compressed)
            with self._lock:
                self._plotly_asset = replace(self._plotly_asset or asset, brotlied=content)

    def _kept(self, name: str, content: bytes) -> bytes:
        """Keep a compressed form for later starts; a half-written file is never seen."""
        half = self._cache_folder / f"{name}.{threading.get_ident()}.half"
        try:
            self._cache_folder.mkdir(parents=True, exist_ok=True)
            half.write_bytes(content)
            half.replace(self._cache_folder / name)
        except OSError as error:
            # It is served from memory all the same.
            _LOG.warning("%s is not kept for the next start: %s", name, error)
        return content


def routes(assets: Assets) -> APIRouter:
    """The route that serves the files."""
    router = APIRouter()

    @router.get("/static/{name}", include_in_schema=False)
    def static_file(name: str, request: Request) -> Response:
        asset = assets.asset(name)
        wanted = _codings(request.headers.get("accept-encoding", ""))
        headers = {"Cache-Control": _FOREVER, "Vary": "Accept-Encoding"}
        for coding, content in (("br", asset.brotlied), ("gzip", asset.gzipped)):
            if coding in wanted and content is not None:
                headers["Content-Encoding"] = coding
                return Response(content, media_type=asset.media_type, headers=headers)
        return Response(asset.plain, media_type=asset.media_type, headers=headers)

    return router


def _codings(accepted: str) -> set[str]:
    """The content codings that a browser takes; one with `q=0` it refuses."""
    found = set()
    for item in accepted.split(","):
        coding, _, quality = item.strip().partition(";")
        if quality.replace(" ", "") not in {"q=0", "q=0.0", "q=0.00", "q=0.000"}:
            found.add(coding.strip().lower())
    return found


def _digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()[:_HASH_SIGNS]


def _media_type(name: str) -> str:
    if name.endswith(".js"):
        return "text/javascript"
    return mimetypes.guess_type(name)[0] or "application/octet-stream"


def _plotly_file() -> Path:
    """Plotly's JavaScript, found without importing the package, which costs memory and time.

    Raises:
        SettingsError: The installed package holds none.
    """
    spec = find_spec("plotly")
    for folder in (spec.submodule_search_locations if spec else None) or ():
        file = Path(folder) / "package_data" / "plotly.min.js"
        if file.is_file():
            return file
    raise SettingsError("the plotly package holds no plotly.min.js; install it anew")
