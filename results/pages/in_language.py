"""Names of the vocabulary, counted words and figures in the reader's language.

Only what a page shows goes through here. Records, findings, revisions, the API, CSV and the values of lists stay in
English, so that a study reads the same whoever handed it in, and an address means the same whoever opens it.
"""

from __future__ import annotations

import re

from django.utils.formats import get_format
from django.utils.translation import npgettext, pgettext

from stats.charts.look import counted

# "0.21 to 0.25", "2.1 (1.5 to 3.0)": nothing that anybody typed looks so.
_INTERVAL = re.compile(r"[\d\s.()−-]+ to [\d\s.()−-]+")


def figure(text: str) -> str:
    """A number with or without its unit, as `stats.footing.units.show` has it, with the language's decimal sign."""
    sign = get_format("DECIMAL_SEPARATOR")
    return text if sign == "." else text.replace(".", sign)


def interval(text: str) -> str:
    """A text of a table: an interval with the language's decimal signs and its own word between; else as it is."""
    if not _INTERVAL.fullmatch(text):
        return text
    word = pgettext("between two numbers", "to")
    return figure(text).replace(" to ", f" {word} ")


def named(name: str) -> str:
    """A name of the vocabulary, such as of a joint, a timber or an outcome; as it is where no translation is known."""
    return pgettext("vocabulary", name) if name else name


def inside(name: str) -> str:
    """A name of the vocabulary as it stands inside a sentence: in lower case, unless it was translated.

    Which letters are small inside a sentence differs by language, and a translation has them as they have to be.
    """
    said = named(name)
    return said.lower() if said == name else said


def of_form(words: str) -> str:
    """What stands at a field of the form: its name, what it means or why it is asked."""
    return pgettext("field", words) if words else words


def count_of(number: int, word: str) -> str:
    """A count with its word in the right number: "3 studies"."""
    english = counted(number, word)
    figure = english.removesuffix(_one_and_many(word)[number != 1])
    return f"{figure}{word_of(number, word)}"


def word_of(number: int, word: str) -> str:
    """The word for so many, without the count."""
    return npgettext("counted", *_one_and_many(word), number)


def _one_and_many(word: str) -> tuple[str, str]:
    return counted(1, word).removeprefix("1 "), counted(2, word).removeprefix("2 ")
