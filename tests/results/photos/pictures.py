"""Pictures as cameras, phones and pranksters send them."""

from __future__ import annotations

import io
from typing import Any

import numpy as np
from PIL import Image

GPS_WORDS = b"N40 26 46"


def drawn(width: int = 320, height: int = 240, seed: int = 1) -> Image.Image:
    """A picture whose corners can be told apart: red above left, green above right, blue below left; and noise."""
    noise = np.random.default_rng(seed).integers(0, 60, (height, width, 3), dtype=np.uint8)
    half_y, half_x = height // 2, width // 2
    noise[:half_y, :half_x, 0] += 190
    noise[:half_y, half_x:, 1] += 190
    noise[half_y:, :half_x, 2] += 190
    return Image.fromarray(noise)


def saved(image: Image.Image, kind: str = "JPEG", **more: Any) -> bytes:
    """The file of a picture."""
    made = io.BytesIO()
    image.save(made, kind, **more)
    return made.getvalue()


def photo(width: int = 320, height: int = 240, seed: int = 1, **more: Any) -> bytes:
    """A JPEG as a phone writes it."""
    return saved(drawn(width, height, seed), **more)


def with_gps() -> bytes:
    """A JPEG that tells where it was taken, by whom and with what, in every place that has room for it."""
    exif = Image.Exif()
    exif[0x010F] = "Maker of cameras"
    exif[0x013B] = "Name of the owner"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2], gps[3], gps[4] = "N", (40.0, 26.0, 46.0), "W", (79.0, 58.0, 56.0)
    gps[27] = GPS_WORDS
    return saved(drawn(), exif=exif, comment=b"taken at " + GPS_WORDS, xmp=b"<x:xmpmeta>" + GPS_WORDS)


def corners(data: bytes) -> list[str]:
    """Which colour is foremost in each corner: above left, above right, below left."""
    image = Image.open(io.BytesIO(data)).convert("RGB")
    width, height = image.size
    places = [(width // 4, height // 4), (3 * width // 4, height // 4), (width // 4, 3 * height // 4)]
    found = np.asarray(image).astype(int)
    named = []
    for x, y in places:
        mean = found[y - 5 : y + 5, x - 5 : x + 5].mean(axis=(0, 1))
        named.append(["red", "green", "blue"][int(mean.argmax())])
    return named
