"""Works a line's formula out again from its own inputs: what a page shows must give what it says."""

from __future__ import annotations

import math
import re

from stats.practice.working import Line

# Each unit in SI base units.
SCALE = {"": 1.0, "%": 1.0, "1/%": 1.0, "N": 1.0, "N/m": 1.0, "N·m": 1.0, "m": 1.0, "mm": 1e-3, "mm²": 1e-6,
         "mm³": 1e-9, "MPa": 1e6, "°": math.pi / 180}  # fmt: skip


def again(line: Line) -> float:
    """The line's value worked out from its formula and inputs, in its own unit."""
    names = {symbol: f"x{i}" for i, symbol in enumerate(sorted(line.inputs, key=len, reverse=True))}
    text = line.formula
    for symbol, name in names.items():
        text = re.sub(rf"(?<![\wα-ωΑ-Ω]){re.escape(symbol)}(?![A-Za-z0-9_α-ωΑ-Ω])", name, text)
    text = re.sub(r"(sin|cos) (x\d+)", r"\1(\2)", text)
    text = re.sub(r"\|([^|]+)\|", r"abs(\1)", text)
    for old, new in (("·", "*"), ("²", "**2"), ("³", "**3"), ("√", "sqrt")):
        text = text.replace(old, new)
    values = {names[s]: float(v) * SCALE[unit] for s, (v, unit) in line.inputs.items()}
    known = {"sin": math.sin, "cos": math.cos, "sqrt": math.sqrt, "exp": math.exp, "abs": abs}
    return float(eval(text, {"__builtins__": {}}, {**known, **values})) / SCALE[line.unit]
