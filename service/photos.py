"""A photo from a phone becomes two plain JPEGs, drawn anew from its pixels.

Bytes in, bytes out. Nothing of the file that was sent is kept but its pixels, turned upright and
in the colours of sRGB: no position, no camera, no date, nothing that hides behind the image.
"""

import struct
import threading
import zlib
from dataclasses import dataclass
from io import BytesIO
from typing import Final

from PIL import Image, ImageCms, UnidentifiedImageError

from service.errors import PhotoError

LARGEST_BYTES: Final = 16 * 1024 * 1024
"""Our choice: photos of a phone have 2 to 12 MB."""
MOST_PIXELS: Final = {"JPEG": 51_000_000, "MPO": 51_000_000, "PNG": 25_000_000, "WEBP": 25_000_000}
"""Our choice: a JPEG of 50 megapixels, which is unpacked at a smaller scale; of the others, which
are unpacked whole, no more than a small board can hold."""
LONGEST_SIDE_PX: Final = 1_600
"""Our choice: four times the width of a phone's page, so that a rind can be looked at closely."""
THUMBNAIL_SIDE_PX: Final = 320
"""Our choice: sharp at the 120 px of a row on a phone's screen."""
_SIZE: Final = (LONGEST_SIDE_PX, LONGEST_SIDE_PX)
_QUALITY: Final = 82
_THUMBNAIL_QUALITY: Final = 75
"""Our choice, by eye: mould stays fuzzy and paste stays smooth."""
_FORMATS: Final = ("JPEG", "PNG", "WEBP")
_ORIENTATION: Final = 0x0112
_UPRIGHT: Final = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What turns an image upright, for each orientation of Exif 2.3 but the first (Pillow turns
anticlockwise)."""
_HEIF_BRANDS: Final = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"mif1", b"msf1"})
"""ISO/IEC 23008-12: what stands at the beginning of a HEIF file."""
_BROKEN: Final = (
    OSError,
    SyntaxError,
    ValueError,
    TypeError,
    EOFError,
    LookupError,
    ArithmeticError,
    struct.error,
    zlib.error,
    Image.DecompressionBombError,
    UserWarning,
)
"""What Pillow raises on a file that is broken; a warning only where warnings are errors."""
_ONE_AT_A_TIME: Final = threading.Lock()
"""Several large photos unpacked side by side would need more memory than a small board has."""


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo as it is kept: two JPEGs without metadata.

    Attributes:
        width: Of the image, upright. [px]
        height: Of the image, upright. [px]
        image: Its longest side has at most `LONGEST_SIDE_PX`.
        thumbnail: Its longest side has at most `THUMBNAIL_SIDE_PX`.
    """

    width: int
    height: int
    image: bytes
    thumbnail: bytes


def photo(sent: bytes) -> Photo:
    """The photo that was sent, drawn anew.

    Raises:
        PhotoError: It is no JPEG, PNG or WebP, not whole, or too large.
    """
    if not sent:
        raise PhotoError("the photo is empty; take it again")
    if len(sent) > LARGEST_BYTES:
        raise PhotoError(
            f"the photo has {len(sent) / 1e6:.1f} MB; send one of up to {LARGEST_BYTES / 1e6:.1f}"
            " MB, or let the camera take smaller ones"
        )
    with _ONE_AT_A_TIME:
        drawn = _drawn(sent)
    thumbnail = drawn.copy()
    thumbnail.thumbnail((THUMBNAIL_SIDE_PX, THUMBNAIL_SIDE_PX), Image.Resampling.LANCZOS)
    return Photo(
        width=drawn.width,
        height=drawn.height,
        image=_jpeg(drawn, _QUALITY),
        thumbnail=_jpeg(thumbnail, _THUMBNAIL_QUALITY),
    )


def _drawn(sent: bytes) -> Image.Image:
    """The pixels, small enough, in sRGB and upright, with nothing else attached."""
    try:
        # The list keeps Pillow from trying its many other readers on a stranger's bytes.
        with Image.open(BytesIO(sent), formats=_FORMATS) as image:
            _check_size(image)
            return _small(image)
    except PhotoError:
        raise
    except UnidentifiedImageError:
        raise PhotoError(_why_not(sent)) from None
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise PhotoError(_too_many("JPEG")) from None
    except _BROKEN:
        raise PhotoError("the photo is broken or did not arrive whole; send it again") from None


def _too_many(kind: str) -> str:
    most = MOST_PIXELS[kind] // 1_000_000
    return f"the photo has too many pixels; send a {kind} of up to {most} megapixels"


def _check_size(image: Image.Image) -> None:
    kind = image.format or ""
    if image.width * image.height > MOST_PIXELS[kind]:
        raise PhotoError(_too_many(kind))


def _small(image: Image.Image) -> Image.Image:
    """All of it is decoded, so that a file cut short is found out, but a JPEG at a smaller scale.

    The reader of JPEG can draw at a half, a quarter or an eighth, which takes far less memory.
    """
    image.draft("RGB", _SIZE)
    image.load()
    orientation = _orientation(image)
    profile = image.info.get("icc_profile") if image.mode in {"RGB", "RGBA"} else None
    if image.mode.startswith("I"):
        # Greys of sixteen bits; Pillow's own conversion would cut them off at 255.
        image = image.convert("I").point(lambda grey: grey * (1 / 257)).convert("L")
    elif image.mode in {"1", "P", "PA"}:
        image = image.convert("RGBA" if image.has_transparency_data else "RGB")
    # Smaller first, and in place, since each further step takes a copy.
    image.thumbnail(_SIZE, Image.Resampling.LANCZOS)
    return _upright(_in_srgb(_on_white(image), profile), orientation)


def _on_white(image: Image.Image) -> Image.Image:
    """The image without transparency, in three colours of eight bits."""
    if not image.has_transparency_data:
        return image.convert("RGB")
    layer = image.convert("RGBA")
    white = Image.new("RGB", image.size, "white")
    white.paste(layer, mask=layer.getchannel("A"))
    return white


def _in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """The colours that the file's profile means; as they are, where the profile cannot be used."""
    if not profile:
        return image
    try:
        given = ImageCms.ImageCmsProfile(BytesIO(profile))
        turned = ImageCms.profileToProfile(image, given, ImageCms.createProfile("sRGB"))
    except (ImageCms.PyCMSError, *_BROKEN):
        return image
    return image if turned is None else turned


def _orientation(image: Image.Image) -> int:
    """How the camera was held; upright where the file does not tell, or tells nonsense."""
    try:
        told = image.getexif().get(_ORIENTATION, 1)
    except _BROKEN:
        return 1
    return told if isinstance(told, int) else 1


def _upright(image: Image.Image, orientation: int) -> Image.Image:
    turn = _UPRIGHT.get(orientation)
    return image if turn is None else image.transpose(turn)


def _jpeg(image: Image.Image, quality: int) -> bytes:
    # From the pixels alone, for an image may carry the metadata of the file that it came from.
    bare = Image.frombytes("RGB", image.size, image.tobytes())
    written = BytesIO()
    bare.save(written, "JPEG", quality=quality, optimize=True, progressive=True)
    return written.getvalue()


def _why_not(sent: bytes) -> str:
    if sent[4:8] == b"ftyp" and sent[8:12] in _HEIF_BRANDS:
        return (
            "the photo is a HEIC file, which cannot be read here; let the camera save JPEG"
            " (on many phones: camera, formats, most compatible) or send a JPEG"
        )
    return "that file is no photo; send a JPEG, PNG or WebP"
