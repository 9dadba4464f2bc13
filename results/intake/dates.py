"""When something was tested, as people write it: a year, a month or a day."""

from __future__ import annotations

import datetime
import re
from functools import cache

from django.conf import settings
from django.utils import translation
from django.utils.dates import MONTHS, MONTHS_3

_SPACE = r"[\s.,]*"
_FORMS = [
    re.compile(form, re.IGNORECASE)
    for form in (
        r"(?P<year>\d{4})(-(?P<month>\d{1,2})(-(?P<day>\d{1,2}))?)?",
        rf"((?P<day>\d{{1,2}})(st|nd|rd|th)?{_SPACE})?(?P<word>[^\W\d_]{{3,}}){_SPACE}(?P<year>\d{{4}})",
        rf"(?P<word>[^\W\d_]{{3,}}){_SPACE}(?P<day>\d{{1,2}})(st|nd|rd|th)?{_SPACE}(?P<year>\d{{4}})",
        r"(?P<month>\d{1,2})[/.](?P<year>\d{4})",
        r"(?P<day>\d{1,2})\.\s?(?P<month>\d{1,2})\.\s?(?P<year>\d{4})",
    )
]
# The day goes first in some countries and the month in others.
_EITHER = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})")


class EitherWay(ValueError):
    """A date that is one day in some countries and another day in others."""


def iso(text: str) -> str:
    """A date as people write it, as ISO 8601 has it, with as much of it as was said.

    Parameters
    ----------
    text : str
        ``2025``, ``2025-03-14``, ``March 2025``, ``14. März 2025``, ``3/2025``, ``14.3.2025``.

    Returns
    -------
    str
        ``2025``, ``2025-03`` or ``2025-03-14``.

    Raises
    ------
    EitherWay
        For ``3/4/2025``.
    ValueError
        If it is no date.

    Examples
    --------
    >>> iso("14 March 2025"), iso("3/2025")
    ('2025-03-14', '2025-03')
    """
    text = " ".join(text.split())
    if either := _EITHER.fullmatch(text):
        first, second, year = (int(part) for part in either.groups())
        if first != second and max(first, second) <= 12:
            raise EitherWay(f"{text!r} is one day where the month goes first, and another where the day does")
        return datetime.date(year, *sorted((first, second))).isoformat()
    found = next((match for form in _FORMS if (match := form.fullmatch(text))), None)
    if found is None:
        raise ValueError(f"{text!r} is no date")
    said = found.groupdict()
    year, day, word = int(said["year"]), said.get("day"), said.get("word")
    month = str(_months().get(word.casefold(), "")) if word else said.get("month")
    if word and not month:
        raise ValueError(f"{word!r} is no month")
    datetime.date(year, int(month or 1), int(day or 1))  # there is such a day
    return "-".join([f"{year:04d}", *(f"{int(part):02d}" for part in (month, day) if part)])


@cache
def _months() -> dict[str, int]:
    """Months by their names and short names, in each language that pages are told in."""
    found = {"sept": 9}
    for code, _ in settings.LANGUAGES:
        with translation.override(code):
            for names in (MONTHS, MONTHS_3):
                found |= {str(name).rstrip(".").casefold(): number for number, name in names.items()}
    return found
