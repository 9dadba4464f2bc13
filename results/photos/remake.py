"""A picture as it was sent to one that is fit to be kept: decoded, upright, small enough, and nothing but a picture."""

from __future__ import annotations

import hashlib
import io
import threading
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import pillow_heif
from PIL import Image, ImageCms

pillow_heif.register_heif_opener()

SIDE_MOST, SMALL_SIDE = 2_000, 400
"""Longest side of the picture and of the small one [px]."""
SIDE_LEAST = 64
"""A shorter side shows no break [px]."""
PIXELS_MOST = 50_000_000
"""Pixels that a picture may have, told before any is decoded: more than the usual cameras' and phones'."""
SCANS_MOST = 64
"""Passes in which a JPEG may be stored: usual are 1 or about 10, and each pass goes over all pixels again."""
QUALITY = 85

TAKEN = "JPEG, PNG, WebP or HEIC"
# What a file begins with, and how Pillow calls its kind.
_TAKEN = ((b"\xff\xd8\xff", "JPEG"), (b"\x89PNG\r\n\x1a\n", "PNG"))
_HEIF_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}
_OTHERS = (
    (b"GIF8", "a GIF"),
    (b"II*\x00", "a TIFF or a camera's raw file"),
    (b"MM\x00*", "a TIFF or a camera's raw file"),
    (b"BM", "a BMP"),
    (b"8BPS", "a Photoshop file"),
    (b"%PDF", "a PDF"),
    (b"PK\x03\x04", "a ZIP or an office document"),
)
_SRGB = ImageCms.createProfile("sRGB")
# A large picture takes some hundred megabytes while it is decoded: one at a time in a process.
_one_at_a_time = threading.Lock()


class Refused(ValueError):
    """A picture that can't be taken.

    Parameters
    ----------
    code : str
        A stable name for this kind of refusal.
    message : str
        What was found.
    remedy : str
        What would be right.
    """

    def __init__(self, code: str, message: str, remedy: str) -> None:
        self.code, self.message, self.remedy = code, message, remedy
        super().__init__(f"{message} {remedy}")


@dataclass(frozen=True)
class Remade:
    """A picture made anew, and a small one of it.

    Parameters
    ----------
    picture, small : bytes
        JPEG without metadata.
    width, height : int
        Of the picture [px].
    sha256 : str
        Of `picture`.
    """

    picture: bytes
    small: bytes
    width: int
    height: int
    sha256: str


def remake(data: bytes, most_mb: int) -> Remade:
    """Make a picture anew from what was sent.

    Parameters
    ----------
    data : bytes
        The file; its kind is told from its content.
    most_mb : int
        Megabytes that it may have.

    Returns
    -------
    Remade
        The same from the same file. Of an animation the first picture; transparent parts become white; colours
        are turned into sRGB. Nothing that was written beside the pixels comes along.

    Raises
    ------
    Refused
        If it is no picture of a kind that is taken, too large, too small, or broken.
    """
    if not data:
        raise Refused("empty", "The file is empty.", "Choose it again.")
    if len(data) > most_mb * 1_000_000:
        raise too_large(len(data), most_mb)
    kind = _kind(data)
    if kind == "JPEG" and data.count(b"\xff\xda") > SCANS_MOST:
        raise Refused("broken", "The JPEG is stored in more passes than any camera writes.", "Save it anew.")
    with _one_at_a_time:
        small_enough = _decoded(data, kind)
    picture = _jpeg(small_enough)
    width, height = small_enough.size
    small_enough.thumbnail((SMALL_SIDE, SMALL_SIDE), Image.Resampling.LANCZOS)
    return Remade(picture, _jpeg(small_enough), width, height, hashlib.sha256(picture).hexdigest())


def too_large(size_bytes: int, most_mb: int) -> Refused:
    """A file of more bytes than are taken."""
    return Refused(
        "too-large",
        f"The file has {size_bytes / 1e6:.3g} MB; up to {most_mb} MB are taken.",
        "Save it smaller; it is kept with at most 2000 pixels a side anyway.",
    )


def _kind(data: bytes) -> str:
    """Pillow's name of what the content is."""
    for begin, kind in _TAKEN:
        if data.startswith(begin):
            return kind
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "WEBP"
    if data[4:8] == b"ftyp":
        brands = {data[at : at + 4] for at in range(8, min(int.from_bytes(data[:4], "big"), 200), 4)}
        if brands & {b"avif", b"avis"}:
            raise _other("an AVIF")
        if brands & _HEIF_BRANDS:
            return "HEIF"
        raise _other("a video")
    head = data[:1000].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if head.startswith((b"<svg", b"<?xml", b"<!doctype svg")) or b"<svg" in head:
        raise _other("an SVG or another text")
    found = next((name for begin, name in _OTHERS if data.startswith(begin)), "")
    raise _other(found or "no picture of a kind known here")


def _other(what: str) -> Refused:
    return Refused("kind", f"The file is {what}.", f"Send a photo as {TAKEN}; what the file is called doesn't matter.")


def _decoded(data: bytes, kind: str) -> Image.Image:
    """The picture as RGB, upright, no longer than `SIDE_MOST`."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # large or oddly written: judged here, or by failing to decode
            image = Image.open(io.BytesIO(data), formats=(kind,))
    except Image.DecompressionBombError:
        raise _too_many_pixels("far more") from None
    except Exception:  # decoders of somebody else's bytes raise whatever they come upon
        raise _broken() from None
    width, height = image.size
    if width * height > PIXELS_MOST:
        raise _too_many_pixels(f"{width} × {height} = {width * height / 1e6:.3g} million")
    if min(width, height) < SIDE_LEAST:
        raise Refused(
            "too-small",
            f"The picture has {width} × {height} pixels.",
            f"Send one of at least {SIDE_LEAST} pixels a side, on which the break can be seen.",
        )
    try:
        if kind == "JPEG":
            image.draft(None, (2 * SIDE_MOST, 2 * SIDE_MOST))  # decoded at half, a quarter or an eighth
        image.load()
        turned = _orientation(image)
        profile = image.info.get("icc_profile")
        shrunk = _resizable(image)
        shrunk.thumbnail((SIDE_MOST, SIDE_MOST), Image.Resampling.LANCZOS, reducing_gap=3.0)
        rgb = _in_srgb(shrunk, profile)
    except Exception:  # as above
        raise _broken() from None
    return rgb.transpose(turned) if turned is not None else rgb


def _too_many_pixels(found: str) -> Refused:
    return Refused(
        "too-many-pixels",
        f"The picture has {found} pixels; up to {PIXELS_MOST // 1_000_000} million are taken.",
        "Save it smaller, or set the camera to fewer.",
    )


def _broken() -> Refused:
    return Refused(
        "broken",
        "The picture can't be read to its end; the file is damaged or was cut short on its way.",
        "Open it where you have it, and send it again if it looks whole there.",
    )


_TURNS = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What sets a picture upright, by the orientation that the camera wrote into it (Exif 2.3, tag 0x0112)."""


def _orientation(image: Image.Image) -> Image.Transpose | None:
    try:
        said: Any = image.getexif().get(0x0112)
    except Exception:  # damaged metadata leaves the pixels whole
        return None
    return _TURNS.get(said) if isinstance(said, int) else None


def _resizable(image: Image.Image) -> Image.Image:
    """The picture in a mode that can be made smaller well: L, RGB, RGBA or CMYK, of 8 bits."""
    if image.mode.startswith("I"):
        sixteen = np.asarray(image).astype(np.int64)
        return Image.fromarray(np.clip(sixteen >> 8, 0, 255).astype(np.uint8))
    if image.has_transparency_data:
        return image.convert("RGBA")
    return image.copy() if image.mode in ("L", "RGB", "CMYK") else image.convert("RGB")


def _in_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """The picture on white, its colours as every screen takes them, with nothing beside its pixels."""
    if image.mode == "RGBA":
        white = Image.new("RGBA", image.size, "white")
        image = Image.alpha_composite(white, image).convert("RGB")
    if profile and image.mode in ("RGB", "CMYK"):
        try:
            found = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            made = ImageCms.profileToProfile(image, found, _SRGB, outputMode="RGB")
        except (ImageCms.PyCMSError, OSError, ValueError):  # a profile of something else, or damaged
            made = None
        image = made or image
    rgb = image.convert("RGB")
    return Image.frombytes("RGB", rgb.size, rgb.tobytes())


def _jpeg(image: Image.Image) -> bytes:
    made = io.BytesIO()
    image.save(made, "JPEG", quality=QUALITY, optimize=True, progressive=True)
    return made.getvalue()
