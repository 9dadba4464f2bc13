"""Pictures made anew: what is kept of them, what is not, and what is refused in which words."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib

import numpy as np
import pytest
from PIL import Image, ImageCms

from results.photos.remake import PIXELS_MOST, SIDE_MOST, SMALL_SIDE, Refused, remake

from .pictures import GPS_WORDS, corners, drawn, photo, saved, with_gps

MOST_MB = 12
UPRIGHT = ["red", "green", "blue"]


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


def png_head(width: int, height: int) -> bytes:
    """A PNG that says it has so many pixels, and holds next to none: a decompression bomb in a few bytes."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    data = zlib.compress(b"\0" * 1000)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_each_kind_is_told_by_its_content_and_becomes_a_jpeg(kind):
    found = remake(saved(drawn(), kind), MOST_MB)

    made = opened(found.picture)
    assert (made.format, made.mode, made.size) == ("JPEG", "RGB", (320, 240))
    assert (found.width, found.height) == (320, 240)
    assert corners(found.picture) == corners(found.small) == UPRIGHT
    assert found == remake(saved(drawn(), kind), MOST_MB)


def test_large_picture_is_made_smaller_and_small_one_of_it():
    found = remake(photo(4100, 1025), MOST_MB)

    assert opened(found.picture).size == (found.width, found.height) == (SIDE_MOST, 500)
    assert opened(found.small).size == (SMALL_SIDE, 100)
    assert len(found.small) < len(found.picture)
    assert corners(found.picture) == UPRIGHT


@pytest.mark.parametrize("orientation", range(1, 9))
def test_picture_is_set_upright_as_the_camera_said(orientation):
    # Turned the other way before, so that what the camera says sets it upright again.
    before = {
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }
    image = drawn()
    if orientation in before:
        image = image.transpose(before[orientation])
    exif = Image.Exif()
    exif[0x0112] = orientation

    found = remake(saved(image, exif=exif), MOST_MB)

    assert corners(found.picture) == UPRIGHT
    assert (found.width, found.height) == (320, 240)


def test_heic_is_turned_as_the_file_itself_says_and_not_by_exif_again():
    # ISO/IEC 23008-12: the turn is a property of the image, and Exif only repeats it.
    exif = Image.Exif()
    exif[0x0112] = 6
    lying = drawn().transpose(Image.Transpose.ROTATE_90)

    sent = saved(lying, "HEIF", exif=exif.tobytes())
    assert b"irot" in sent

    found = remake(sent, MOST_MB)

    assert corners(found.picture) == UPRIGHT and (found.width, found.height) == (320, 240)


def test_metadata_is_gone_place_and_owner_first():
    sent = with_gps()
    assert GPS_WORDS in sent and b"Name of the owner" in sent and opened(sent).getexif().get_ifd(0x8825)

    found = remake(sent, MOST_MB)

    for data in (found.picture, found.small):
        image = opened(data)
        image.load()
        assert not image.getexif() and not image.getexif().get_ifd(0x8825)
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "progressive", "progression"}
        assert GPS_WORDS not in data and b"owner" not in data and b"Exif" not in data


@pytest.mark.parametrize("kind", ["PNG", "WEBP", "HEIF"])
def test_metadata_of_other_kinds_is_gone_too(kind):
    exif = Image.Exif()
    exif[0x013B] = "Name of the owner"
    sent = saved(drawn(), kind, exif=exif)
    assert b"Name of the owner" in sent

    assert b"owner" not in remake(sent, MOST_MB).picture


@pytest.mark.parametrize("behind", ["zip", "script"])
def test_what_hides_behind_the_picture_does_not_come_along(behind):
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as made:
        made.writestr("hidden.txt", "hidden")
    tail = archive.getvalue() if behind == "zip" else b"<script>alert('hidden')</script><?php system('hidden'); ?>"
    sent = photo() + tail
    assert (behind == "zip") == zipfile.is_zipfile(io.BytesIO(sent))

    found = remake(sent, MOST_MB)

    assert not zipfile.is_zipfile(io.BytesIO(found.picture))
    assert b"hidden" not in found.picture and b"<script" not in found.picture
    assert found == remake(photo(), MOST_MB)


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_of_an_animation_the_first_picture_is_kept(kind):
    frames = [drawn(), Image.new("RGB", (320, 240), "black"), Image.new("RGB", (320, 240), "black")]
    sent = saved(frames[0], kind, save_all=True, append_images=frames[1:], duration=100)

    assert corners(remake(sent, MOST_MB).picture) == UPRIGHT


def test_transparent_parts_become_white():
    image = drawn().convert("RGBA")
    image.paste((0, 0, 0, 0), (160, 120, 320, 240))

    for kind in ("PNG", "WEBP"):
        found = opened(remake(saved(image, kind), MOST_MB).picture)
        assert found.getpixel((240, 180)) == pytest.approx((255, 255, 255), abs=4)
    palette = image.quantize(16)
    found = opened(remake(saved(palette, "PNG", transparency=palette.getpixel((240, 180))), MOST_MB).picture)
    assert found.getpixel((240, 180)) == pytest.approx((255, 255, 255), abs=8)


def test_sixteen_bits_keep_their_shades():
    ramp = np.repeat(np.linspace(0, 65535, 320).astype(np.uint16)[None, :], 240, axis=0)

    found = opened(remake(saved(Image.fromarray(ramp), "PNG"), MOST_MB).picture).convert("L")

    assert [found.getpixel((x, 120)) for x in (0, 160, 319)] == pytest.approx([0, 128, 255], abs=4)


def test_print_colours_and_other_modes_are_read():
    for image, kind in ((drawn().convert("CMYK"), "JPEG"), (drawn().convert("P"), "PNG")):
        assert corners(remake(saved(image, kind), MOST_MB).picture) == UPRIGHT
    for mode in ("L", "1", "LA"):
        assert opened(remake(saved(drawn().convert(mode), "PNG"), MOST_MB).picture).mode == "RGB"


def test_profile_of_screens_changes_nothing_and_a_damaged_one_is_passed_over():
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    plain = remake(photo(), MOST_MB)

    same = np.asarray(opened(remake(saved(drawn(), icc_profile=srgb), MOST_MB).picture)).astype(int)
    assert np.abs(same - np.asarray(opened(plain.picture)).astype(int)).max() <= 3
    assert remake(saved(drawn(), icc_profile=b"no profile at all"), MOST_MB) == plain


@pytest.mark.parametrize(
    ("sent", "code", "message"),
    [
        (b"", "empty", "The file is empty"),
        (b"GIF89a" + b"\0" * 99, "kind", "The file is a GIF. Send a photo as JPEG, PNG, WebP or HEIC"),
        (saved(drawn(), "TIFF"), "kind", "The file is a TIFF or a camera's raw file"),
        (saved(drawn(), "BMP"), "kind", "The file is a BMP"),
        (saved(drawn(), "AVIF"), "kind", "The file is an AVIF"),
        (b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>", "kind", "The file is an SVG"),
        (b"\xef\xbb\xbf<?xml version='1.0'?><svg/>", "kind", "The file is an SVG"),
        (b"%PDF-1.7\n", "kind", "The file is a PDF"),
        (b"PK\x03\x04" + b"\0" * 99, "kind", "The file is a ZIP"),
        (b"\0\0\0\x18ftypmp42\0\0\0\0mp42isom" + b"\0" * 99, "kind", "The file is a video"),
        (b"series,specimen,reading\nA,1,20\n", "kind", "The file is no picture of a kind known here"),
        (photo(1, 1), "too-small", r"The picture has 1 × 1 pixels. Send one of at least 64"),
        (photo(2000, 20), "too-small", "2000 × 20 pixels"),
        (png_head(20_000, 20_000), "too-many-pixels", "up to 50 million are taken"),
        (png_head(60_000, 60_000), "too-many-pixels", "far more pixels; up to 50 million"),
        (png_head(9_000, 9_000), "too-many-pixels", "9000 × 9000 = 81 million pixels"),
        (png_head(400, 400), "broken", "can't be read to its end"),
        (photo()[: len(photo()) // 2], "broken", "damaged or was cut short"),
        (saved(drawn(), "PNG")[:-3000], "broken", "damaged or was cut short"),
        (saved(drawn(), "WEBP")[:-3000], "broken", "damaged or was cut short"),
        (saved(drawn(), "HEIF")[:-500], "broken", "damaged or was cut short"),
        (photo()[:20], "broken", "damaged or was cut short"),
        (b"\xff\xd8\xff" + b"\xff\xda" * 100, "broken", "stored in more passes than any camera writes"),
        (b"\xff\xd8\xff" + bytes(range(256)), "broken", "damaged or was cut short"),
        (photo() + b"\0" * MOST_MB * 1_000_000, "too-large", "12 MB; up to 12 MB are taken. Save it"),
    ],
)  # fmt: skip
def test_what_is_no_fit_picture_is_refused_with_what_would_be_right(sent, code, message):
    with pytest.raises(Refused, match=message) as refused:
        remake(sent, MOST_MB)

    assert refused.value.code == code and refused.value.remedy


def test_every_cut_and_every_changed_byte_is_read_or_refused_never_a_crash():
    whole = with_gps()
    rng = np.random.default_rng(3)
    for _ in range(40):
        changed = bytearray(whole)
        for at in rng.integers(0, len(whole), 5):
            changed[at] = rng.integers(0, 256)
        try:
            remake(bytes(changed[: rng.integers(1, len(whole))]), MOST_MB)
        except Refused as refused:
            assert refused.message
    assert PIXELS_MOST >= 48_000_000  # what many phones take
