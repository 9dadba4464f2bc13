"""Numbers as people write them: fractions, either decimal sign, grouping, odd Unicode."""

from __future__ import annotations

import math
import re
import unicodedata

from stats.footing.reading_errors import AmbiguousNumber, NoNumberFirst, NotANumber, NotFinite

_VULGAR = {c: unicodedata.normalize("NFKC", c).replace("\u2044", "/") for c in "¼½¾⅐⅑⅒⅓⅔⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞"}
_MINUS = dict.fromkeys(map(ord, "\u2212\u2012\u2013\u2014\u2010\u2011\ufe63\uff0d"), "-")
_PRIMES = {ord(c): "'" for c in "\u2032\u2018\u2019\u02b9\uff07"} | {
    ord(c): '"' for c in "\u2033\u201c\u201d\u02ba\uff02"
}
_DOTS = dict.fromkeys(map(ord, "\u22c5\u2219\u2022\u2027\u30fb"), "\u00b7")
_SIGNS = _MINUS | _PRIMES | _DOTS | {0x2044: "/", 0x00D7: "x"}

# One number at the start of the text: mixed fraction, fraction, or decimal with any grouping.
# A space groups only when three digits follow it, so "2 1/2" and "2 400" are told apart.
NUMBER = re.compile(
    r"""\s*(?P<sign>[+-]?)\s*(?:
        (?P<whole>[0-9]+)(?:\ *-\ *|\ +)(?P<top>[0-9]+)\ *\/\ *(?P<bottom>[0-9]+)
      | (?P<num>[0-9]+)\ *\/\ *(?P<den>[0-9]+)
      | (?P<decimal>(?:[0-9]{1,3}(?:\ [0-9]{3})+(?![0-9])|[0-9]+)?(?:[.,][0-9]+)*[.,]?)
        (?P<exponent>[eE][+-]?[0-9]+)?
    )""",
    re.VERBOSE,
)
_NO_NUMBER = re.compile(r"\s*[+-]?(nan|inf(inity)?|∞)\s*$", re.IGNORECASE)


def plain(text: str) -> str:
    """Text with every odd space, minus, prime, dot, digit and fraction in its plain form."""
    if text.isascii():
        return " ".join(text.split())
    for sign, fraction in _VULGAR.items():
        if sign in text:
            text = text.replace(sign, f" {fraction} ")
    # "½" must be spelled out before this, or "1½" would become "11/2"; the prime signs likewise, since the
    # compatibility form of a double prime is two single ones.
    text = unicodedata.normalize("NFKC", text.translate(_SIGNS)).translate(_SIGNS)
    text = "".join(str(unicodedata.decimal(c)) if c.isdecimal() and not c.isascii() else c for c in text)
    return " ".join(text.split())


def refuse_no_number(text: str) -> None:
    """Raise `NotFinite` for the words that stand for no number.

    Parameters
    ----------
    text : str
        What was typed, made plain.

    Raises
    ------
    NotFinite
        If it is such a word.
    """
    if _NO_NUMBER.match(text):
        raise NotFinite(text, f"{text!r} is not a finite number.", "Leave the cell empty if there is no value.")


def value_of(match: re.Match[str], text: str, decimal: str | None) -> float:
    """Value of a number found by `NUMBER`.

    Parameters
    ----------
    match : re.Match
        What `NUMBER` found.
    text : str
        The whole text, for messages.
    decimal : {".", ",", None}
        The decimal sign, or None to tell from the number itself.

    Returns
    -------
    float
        The value; not finite if the exponent is beyond a double.

    Raises
    ------
    NotANumber
        If a fraction divides by zero, or the separators make no number.
    NoNumberFirst
        If there are no digits.
    AmbiguousNumber
        If the number may be read in two ways and `decimal` does not tell.
    """
    sign = -1.0 if match["sign"] == "-" else 1.0
    if match["bottom"] or match["den"]:
        bottom = int(match["bottom"] or match["den"])
        if bottom == 0:
            raise NotANumber(text, f"{text!r} divides by zero.", "Write a fraction such as 3/4.")
        return sign * (int(match["whole"] or 0) + int(match["top"] or match["num"]) / bottom)
    digits = match["decimal"] or ""
    if not any(c.isdigit() for c in digits):
        raise NoNumberFirst(text, f"{text!r} does not start with a number.", "Write a number such as 12.5.")
    return sign * float(_point_decimal(digits, text, decimal) + (match["exponent"] or ""))


def _point_decimal(digits: str, text: str, decimal: str | None) -> str:
    """Digits with their separators, as a plain number with a point."""
    spaced = " " in digits
    digits = digits.replace(" ", "")
    mark = decimal or _decimal_mark(digits, text, spaced)
    group = "." if mark == "," else ","
    whole, _, part = digits.partition(mark)
    if group in part or mark in part or (group in whole and (spaced or not _grouped(whole, group))):
        other = f" with {mark!r} as the decimal sign" if decimal else ""
        raise NotANumber(text, f"{text!r} has separators that do not make a number{other}.", "Write 1240.5 or 1240,5.")
    return f"{whole.replace(group, '') or '0'}.{part or '0'}"


def _decimal_mark(digits: str, text: str, spaced: bool) -> str:
    """The decimal sign a number itself shows; "." when it has none."""
    commas, dots = digits.count(","), digits.count(".")
    if commas and dots:
        return "," if digits.rindex(",") > digits.rindex(".") else "."
    if dots > 1:
        return ","  # several dots can only group: 1.240.000
    if commas != 1:
        return "."
    whole, _, part = digits.partition(",")
    # "0,240" and "1 240,500" can't be thousands; only "1,240" may be either.
    if len(part) == 3 and 1 <= len(whole) <= 3 and whole[0] != "0" and not spaced:
        raise AmbiguousNumber(
            text,
            f"{text!r} may mean {whole}{part} or {whole}.{part}.",
            f"Write {whole}{part} or {whole}.{part}.",
        )
    return ","


def _grouped(whole: str, group: str) -> bool:
    first, *rest = whole.split(group)
    return 1 <= len(first) <= 3 and all(len(part) == 3 for part in rest)


def finite(value: float, text: str) -> float:
    """The value, unless it is not finite.

    Parameters
    ----------
    value : float
        The value, in any unit.
    text : str
        What was typed, for the message.

    Returns
    -------
    float
        The same.

    Raises
    ------
    NotFinite
        If it is infinite or NaN.
    """
    if not math.isfinite(value):
        raise NotFinite(text, f"{text!r} is not a finite number.", "Check the exponent.")
    return value
