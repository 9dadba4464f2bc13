"""Colours as the style sheet has them, how far two of them stand apart, and what a dark screen makes of a picture."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

STYLES = Path(__file__).parents[1] / "results" / "static" / "css"
_TOKEN = re.compile(r"--([a-z-]+):\s*([^;]+);")
_COLOUR = re.compile(r"#[0-9a-f]{6}")


def tokens(block: str) -> dict[str, str]:
    """The colours that a block of custom properties names."""
    return {name: value for name, value in _TOKEN.findall(block) if _COLOUR.fullmatch(value)}


def blocks() -> tuple[str, str, str]:
    """The style sheet's custom properties for light, those for dark, and all that comes after."""
    text = (STYLES / "look.css").read_text()
    light, rest = re.split(r"@media screen and \(prefers-color-scheme: dark\) \{\n", text, maxsplit=1)
    dark, after = rest.split("\n}\n", 1)
    return light, dark, after


def light_and_dark() -> dict[str, dict[str, str]]:
    """All colours by name, for each of the two."""
    light, dark, _ = blocks()
    return {"light": tokens(light), "dark": {**tokens(light), **tokens(dark)}}


def channels(colour: str) -> NDArray[np.float64]:
    """Red, green and blue, 0 to 1."""
    return np.array([int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)])


def written(rgb: NDArray[np.float64]) -> str:
    """A colour as the style sheet writes it."""
    return "#" + "".join(f"{round(255 * float(c)):02x}" for c in np.clip(rgb, 0, 1))


def luminance(colour: str) -> float:
    """Relative luminance, as defined by Web Content Accessibility Guidelines (WCAG) 2.2, W3C Recommendation."""
    c = channels(colour)
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def contrast(a: str, b: str) -> float:
    """Contrast ratio of two colours, 1 to 21, by the same guidelines: text needs 4.5 (1.4.3), graphics 3 (1.4.11)."""
    dark, light = sorted((luminance(a), luminance(b)))
    return (light + 0.05) / (dark + 0.05)


def over(colour: str, ground: str, opacity: float) -> str:
    """What is seen of a colour that lets its ground through."""
    return written(opacity * channels(colour) + (1 - opacity) * channels(ground))


def turned(colour: str) -> str:
    """What a dark screen shows of a picture's colour: the style sheet's filter, worked out.

    By Filter Effects Module Level 1, W3C: invert is a line from `amount` to 1 - `amount` in each channel; hue-rotate by
    180 degrees is its matrix with cos = -1 and sin = 0.
    """
    found = re.search(r"--turned: invert\(([.\d]+)\) hue-rotate\(180deg\);", blocks()[1])
    assert found is not None
    amount = float(found[1])
    grey = np.array([0.213, 0.715, 0.072])
    rotate = 2 * np.tile(grey, (3, 1)) - np.eye(3)
    return written(np.clip(rotate @ (amount + channels(colour) * (1 - 2 * amount)), 0, 1))
