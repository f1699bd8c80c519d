"""Photos: what is accepted, what is refused, and that nothing but pixels is kept."""

import random
import struct
import zipfile
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageCms

from service.errors import PhotoError
from service.photos import LARGEST_BYTES, LONGEST_SIDE_PX, THUMBNAIL_SIDE_PX, photo

Colour = tuple[int, int, int]
TOP_LEFT, TOP_RIGHT, BOTTOM_LEFT, BOTTOM_RIGHT = CORNERS = (
    (200, 30, 30),
    (30, 200, 30),
    (30, 30, 200),
    (220, 220, 220),
)
JPEG_ERROR = 12
"""Colours of even areas come back from JPEG within this of what they were, seen in this test."""


def rind(width: int = 120, height: int = 80) -> Image.Image:
    """A picture with four corners of different colours."""
    top, left = height // 2, width // 2
    pixels = np.zeros((height, width, 3), dtype=np.uint8)
    pixels[:top, :left], pixels[:top, left:] = TOP_LEFT, TOP_RIGHT
    pixels[top:, :left], pixels[top:, left:] = BOTTOM_LEFT, BOTTOM_RIGHT
    return Image.fromarray(pixels)


def saved(image: Image.Image, kind: str = "JPEG", **how: Any) -> bytes:
    written = BytesIO()
    image.save(written, kind, **how)
    return written.getvalue()


def opened(jpeg: bytes) -> Image.Image:
    image = Image.open(BytesIO(jpeg))
    image.load()
    return image


def corners(jpeg: bytes) -> list[Colour]:
    image = opened(jpeg)
    width, height = image.size
    found = []
    for x, y in ((0.25, 0.25), (0.75, 0.25), (0.25, 0.75), (0.75, 0.75)):
        pixel = image.getpixel((round(x * width), round(y * height)))
        assert isinstance(pixel, tuple)
        found.append((int(pixel[0]), int(pixel[1]), int(pixel[2])))
    return found


def segments(jpeg: bytes) -> list[int]:
    """The markers before the picture's data, by ISO/IEC 10918-1:1994, Annex B.1.1."""
    assert jpeg[:2] == b"\xff\xd8"
    found, at = [], 2
    while True:
        assert jpeg[at] == 0xFF
        marker = jpeg[at + 1]
        found.append(marker)
        if marker == 0xDA:
            return found
        at += 2 + struct.unpack(">H", jpeg[at + 2 : at + 4])[0]


def with_position() -> bytes:
    """A JPEG that says where and with what it was taken, as a phone's does."""
    exif = Image.Exif()
    exif[0x010F] = "LarchLaneCamera"
    exif[0x0132] = "2026:11:25 14:32:00"
    exif.get_ifd(0x8825).update(
        {1: "N", 2: (47.0, 12.0, 34.5), 3: "E", 4: (13.0, 6.0, 7.8), 29: "2026:11:25"}
    )
    xmp = b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>LarchLaneStreet</x:xmpmeta>"
    return saved(rind(), exif=exif, comment=b"LarchLaneComment", xmp=xmp)


def near(first: Colour, second: Colour) -> bool:
    return max(abs(a - b) for a, b in zip(first, second, strict=True)) <= JPEG_ERROR


def test_the_position_and_all_else_but_the_pixels_is_gone() -> None:
    sent = with_position()
    kept = photo(sent)

    # The file that was sent does carry it, as Pillow's own reader says.
    assert opened(sent).getexif().get_ifd(0x8825)[1] == "N"
    for made in (kept.image, kept.thumbnail):
        assert dict(opened(made).getexif()) == {}
        assert opened(made).getexif().get_ifd(0x8825) == {}
        assert b"LarchLane" in sent
        for trace in (b"LarchLane", b"Exif", b"adobe", b"2026:11", b"ICC_PROFILE"):
            assert trace not in made
        # Only JFIF's own segment (APP0); no APP1 to APP15 and no comment (0xFE).
        assert [each for each in segments(made) if each >= 0xE0] == [0xE0]


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_the_position_in_other_kinds_of_file_is_gone_too(kind: str) -> None:
    exif = Image.Exif()
    exif[0x010F] = "LarchLaneCamera"
    exif.get_ifd(0x8825).update({1: "N", 2: (47.0, 12.0, 34.5)})
    sent = saved(rind(), kind, exif=exif)
    kept = photo(sent)

    assert b"LarchLane" in sent
    assert b"LarchLane" not in kept.image + kept.thumbnail
    assert dict(opened(kept.image).getexif()) == {}
    assert all(map(near, corners(kept.image), CORNERS))


# Exif 2.3 (CIPA DC-008-2012), table of tag 0x0112 as in TIFF 6.0, page 36: for each value the
# visual side of row 0 and that of column 0.
@pytest.mark.parametrize(
    ("orientation", "row_0", "column_0"),
    [
        (1, "top", "left"),
        (2, "top", "right"),
        (3, "bottom", "right"),
        (4, "bottom", "left"),
        (5, "left", "top"),
        (6, "right", "top"),
        (7, "right", "bottom"),
        (8, "left", "bottom"),
    ],
)
def test_a_photo_is_turned_upright(orientation: int, row_0: str, column_0: str) -> None:
    seen = np.asarray(rind())
    sides = {row_0, column_0}
    seen = seen[::-1] if "bottom" in sides else seen
    seen = seen[:, ::-1] if "right" in sides else seen
    stored = seen.swapaxes(0, 1) if row_0 in {"left", "right"} else seen
    exif = Image.Exif()
    exif[0x0112] = orientation
    kept = photo(saved(Image.fromarray(np.ascontiguousarray(stored)), exif=exif, quality=95))

    assert (kept.width, kept.height) == (120, 80)
    for made in (kept.image, kept.thumbnail):
        assert all(map(near, corners(made), CORNERS))


@pytest.mark.parametrize("orientation", [0, 9, 65_535])
def test_an_orientation_that_is_none_turns_nothing(orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation

    assert all(map(near, corners(photo(saved(rind(), exif=exif)).image), CORNERS))


def test_a_broken_exif_does_not_cost_the_photo() -> None:
    sent = with_position()
    at = sent.index(b"Exif\x00\x00") + 6
    kept = photo(sent[:at] + b"\xff" * 40 + sent[at + 40 :])

    assert all(map(near, corners(kept.image), CORNERS))


@pytest.mark.parametrize(
    ("size", "image", "thumbnail"),
    [
        ((4_000, 3_000), (1_600, 1_200), (320, 240)),
        ((3_000, 4_000), (1_200, 1_600), (240, 320)),
        ((1_601, 10), (1_600, 10), (320, 2)),
        ((200, 100), (200, 100), (200, 100)),
        ((1, 1), (1, 1), (1, 1)),
    ],
)
def test_a_photo_is_made_smaller_and_never_larger(
    size: tuple[int, int], image: tuple[int, int], thumbnail: tuple[int, int]
) -> None:
    kept = photo(saved(Image.new("RGB", size, "tan")))

    assert (kept.width, kept.height) == image == opened(kept.image).size
    assert thumbnail == opened(kept.thumbnail).size
    assert max(image) <= LONGEST_SIDE_PX
    assert max(thumbnail) <= THUMBNAIL_SIDE_PX


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("part", [0.0, 0.02, 0.3, 0.6, 0.9])
def test_a_photo_that_did_not_arrive_whole_is_refused(kind: str, part: float) -> None:
    noise = np.random.default_rng(7).integers(0, 255, (300, 300, 3), dtype=np.uint8)
    sent = saved(Image.fromarray(noise), kind)

    with pytest.raises(PhotoError, match=r"whole|empty|no photo"):
        photo(sent[: int(part * len(sent))])


@pytest.mark.parametrize(
    "size", [(6_000, 5_000), (10_000, 9_500), (20_000, 20_000)], ids=["30 MP", "95 MP", "400 MP"]
)
def test_a_small_file_that_unpacks_to_a_huge_image_is_refused(size: tuple[int, int]) -> None:
    sent = saved(Image.new("1", size), "PNG")

    assert len(sent) < 200_000
    with pytest.raises(PhotoError, match=r"too many pixels; send a (PNG|JPEG) of up to"):
        photo(sent)


def test_a_file_with_too_many_bytes_is_refused_unread() -> None:
    with pytest.raises(PhotoError, match=r"16\.8 MB; send one of up to 16\.8"):
        photo(saved(rind()) + b"\x00" * LARGEST_BYTES)


@pytest.mark.parametrize(
    "sent",
    [
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"<html><script>alert(1)</script></html>",
        b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n",
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n",
        b"\x00" * 100,
        b"\xff\xd8\xff",
        saved(rind(), "GIF"),
        saved(rind(), "TIFF"),
        saved(rind(), "BMP"),
        saved(rind(), "ICO"),
    ],
    ids=["svg", "html", "pdf", "eps", "zeros", "jpeg head", "gif", "tiff", "bmp", "ico"],
)
def test_what_is_no_photo_is_refused(sent: bytes) -> None:
    with pytest.raises(PhotoError, match=r"send a JPEG, PNG or WebP|whole"):
        photo(sent)


def test_a_heic_file_is_told_apart_and_the_way_out_is_said() -> None:
    # ISO/IEC 14496-12 for the box, ISO/IEC 23008-12 for the brand.
    sent = b"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic" + b"\x00" * 500

    with pytest.raises(PhotoError, match="HEIC file, which cannot be read here; let the camera"):
        photo(sent)


def test_what_hides_behind_or_inside_a_photo_is_not_kept() -> None:
    packed = BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("page.html", "<script>alert('Larch')</script>")
    script = b"<script>alert('Larch')</script>"
    sent = saved(rind(), comment=script) + script + packed.getvalue()
    kept = photo(sent)

    assert zipfile.is_zipfile(BytesIO(sent))
    for made in (kept.image, kept.thumbnail):
        assert b"script" not in made
        assert not zipfile.is_zipfile(BytesIO(made))
        assert made.endswith(b"\xff\xd9")


def test_of_a_file_with_several_images_the_first_is_kept() -> None:
    sent = saved(rind(), "MPO", save_all=True, append_images=[Image.new("RGB", (120, 80), "black")])

    assert all(map(near, corners(photo(sent).image), CORNERS))


@pytest.mark.parametrize("mode", ["L", "LA", "P", "RGBA", "1"])
def test_other_kinds_of_pixels_become_colours(mode: str) -> None:
    kept = photo(saved(Image.new("L", (60, 40), 255).convert(mode), "PNG"))

    assert opened(kept.image).mode == "RGB"
    assert opened(kept.image).getpixel((30, 20)) == (255, 255, 255)


def test_greys_of_sixteen_bits_keep_their_brightness() -> None:
    kept = photo(saved(Image.fromarray(np.full((40, 60), 0x8080, dtype=np.uint16)), "PNG"))

    assert opened(kept.image).getpixel((30, 20)) == (128, 128, 128)


def test_what_is_transparent_becomes_white() -> None:
    kept = photo(saved(Image.new("RGBA", (60, 40), (255, 0, 0, 0)), "PNG"))

    assert opened(kept.image).getpixel((30, 20)) == (255, 255, 255)


def test_a_profile_of_colours_is_applied_before_it_is_dropped() -> None:
    # In a profile of linear light a half is 188 in sRGB, by the transfer function of
    # IEC 61966-2-1:1999. The profile is sRGB's own with its curves set to the identity, a
    # parametric curve of kind 0 by ISO 15076-1:2010, 10.16.
    srgb = 255 * (1.055 * (128 / 255) ** (1 / 2.4) - 0.055)
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    count = struct.unpack(">I", profile[128:132])[0]
    for entry in range(132, 132 + 12 * count, 12):
        if bytes(profile[entry : entry + 4]) in {b"rTRC", b"gTRC", b"bTRC"}:
            at = struct.unpack(">I", profile[entry + 4 : entry + 8])[0]
            profile[at : at + 16] = b"para" + bytes(8) + struct.pack(">i", 1 << 16)
    sent = saved(Image.new("RGB", (60, 40), (128, 128, 128)), icc_profile=bytes(profile))
    pixel = opened(photo(sent).image).getpixel((30, 20))

    assert isinstance(pixel, tuple)
    assert pixel == pytest.approx((srgb, srgb, srgb), abs=2)  # rounding of curve and of JPEG


def test_a_profile_that_is_none_does_not_cost_the_photo() -> None:
    kept = photo(saved(rind(), icc_profile=b"no profile at all" * 20))

    assert all(map(near, corners(kept.image), CORNERS))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_bytes_that_went_wrong_never_raise_anything_else(kind: str) -> None:
    whole = with_position() if kind == "JPEG" else saved(rind(), kind)
    chance = random.Random(11)
    ends = {"kept": 0, "refused": 0}
    for _ in range(250):
        sent = bytearray(whole)
        for _ in range(chance.choice((1, 3, 20))):
            # The first bytes hold most of what a reader believes.
            where = chance.randrange(chance.choice((200, len(sent))))
            sent[min(where, len(sent) - 1)] = chance.randrange(256)
        try:
            photo(bytes(sent))
        except PhotoError:
            ends["refused"] += 1
        else:
            ends["kept"] += 1

    assert ends["kept"] + ends["refused"] == 250
    assert ends["refused"] > 0
