"""What was asked for, as words: how they are read, where they stand in a text, and how they are marked there."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

LONGEST = 100
"""Most characters of what is asked for."""

# Left out of a question that has other words: nobody looks for them, and most texts hold them.
_SMALL = "a an and are at by for from how in is it of on or that the to what which with"
SMALL_WORDS = frozenset(_SMALL.split())


# Letters that don't come apart into a plain one and its accent.
WHOLE = str.maketrans("øØłŁđĐðÐħĦı", "oollddddhhi")
ACCENTS = r"[\u0300-\u036f]+"
# What parts words: all of ASCII and Latin that is neither letter nor digit, and the marks of typesetting.
PARTING = (
    r"[\u0001-\u002f\u003a-\u0040\u005b-\u0060\u007b-\u00a9\u00ab-\u00b4\u00b6-\u00b9\u00bb-\u00bf\u00d7\u00f7"
    r"\u2010-\u206f\u20ac\u2122\u2212]+"
)
_ACCENTS, _PARTING = re.compile(ACCENTS), re.compile(PARTING)


def fold(text: str) -> str:
    """A text as it is compared: small letters without accents, spaces for whatever parts words.

    PostgreSQL does the same to what it searches, step by step (migration 0006); it only takes a number such as 1e5
    out of a longer word.
    """
    text = text.replace("\0", " ")
    if not text.isascii():
        text = _ACCENTS.sub("", unicodedata.normalize("NFD", text.translate(WHOLE)))
    return _PARTING.sub(" ", text).lower()


def words(text: str) -> tuple[str, ...]:
    """The folded words of a text, in order."""
    return tuple(_words(text))


def _words(text: str) -> list[str]:
    folded = fold(text)
    # All that parts plain words is a space by now; other scripts have marks of their own.
    return folded.split() if folded.isascii() else _WORD.findall(folded)


def spaced(*texts: str) -> str:
    """The folded words of some texts, each between single spaces, as terms look for them."""
    return f" {' '.join(word for text in texts for word in _words(text))} "


_WORD = re.compile(r"[^\W_]+")
_TYPED_WORD = re.compile("[^\\W_](?:[^\\W_]|[\u0300-\u036f])*")


@dataclass(frozen=True)
class Term:
    """Words that have to stand one after the other, each the beginning of one in the text."""

    words: tuple[str, ...]

    def at(self, text: tuple[str, ...]) -> Iterator[int]:
        """Where in a text's words the term begins."""
        length = len(self.words)
        for start in range(len(text) - length + 1):
            if all(begins(text[start + i], word) for i, word in enumerate(self.words)):
                yield start

    def is_in(self, text: str) -> bool:
        """Whether a text has it, as `spaced` writes texts."""
        if len(self.words) == 1:
            return _start(self.words[0]) in text
        return self._pattern.search(text) is not None

    @cached_property
    def _pattern(self) -> re.Pattern[str]:
        ends = ("" if len(word) == 1 else "[^ ]*" for word in self.words)
        return re.compile("".join(f" {word}{end}" for word, end in zip(self.words, ends, strict=True)) + " ")


def _start(word: str) -> str:
    """How a text that answers a word has it: as the beginning of one, or whole if it is a single letter."""
    return f" {word} " if len(word) == 1 else f" {word}"


def begins(word: str, with_: str) -> bool:
    """Whether a word of a text answers a word asked for; a single letter has to be the whole word."""
    return word == with_ if len(with_) == 1 else word.startswith(with_)


@dataclass(frozen=True)
class Sought:
    """What is looked for.

    Parameters
    ----------
    typed : str
        As it was typed.
    terms : tuple of Term
        All have to be found.
    unwanted : tuple of Term
        None may be found.
    """

    typed: str
    terms: tuple[Term, ...]
    unwanted: tuple[Term, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.terms)

    def is_in(self, text: str) -> bool:
        """Whether a text has every term and no unwanted one, as `spaced` writes texts."""
        return all(term.is_in(text) for term in self.terms) and not any(term.is_in(text) for term in self.unwanted)

    def tsquery(self, within: str = "") -> str:
        """The same in PostgreSQL's words; only letters and digits get into it.

        Parameters
        ----------
        within : str, optional
            The weight of the part that the words have to be in.
        """
        wanted = [_phrase(term, within) for term in self.terms]
        return " & ".join(wanted + [f"!({_phrase(term, within)})" for term in self.unwanted])


def _phrase(term: Term, within: str) -> str:
    marks = ((word, within if len(word) == 1 else f"*{within}") for word in term.words)
    return "(" + " <-> ".join(f"{word}:{mark}" if mark else word for word, mark in marks) + ")"


_QUOTED = re.compile(r'(?P<no>(?<!\S)-)?(?:["“”](?P<phrase>[^"“”]*)["“”]?|(?P<word>[^\s"“”]+))')


def sought(typed: str) -> Sought:
    """Read what somebody typed.

    Parameters
    ----------
    typed : str
        Words, of which all have to be found, in any order and as beginnings: ``dowel`` finds dowels. Words in
        quotation marks stand together; a word after a minus may not be there.

    Returns
    -------
    Sought
        False where there is no word in it.

    Examples
    --------
    >>> [term.words for term in sought('the "half lap" in ashes -pine').terms]
    [('half', 'lap'), ('ash',)]
    >>> sought('half-lap -pine').tsquery()
    '(half:*) & (lap:*) & !(pine:*)'
    """
    wanted: list[Term] = []
    unwanted: list[Term] = []
    for piece in _QUOTED.finditer(typed):
        if piece["phrase"] is not None:
            found = [Term(rooted)] if (rooted := tuple(map(root, words(piece["phrase"])))) else []
        else:
            # A word's own 's is no word to look for.
            bare = re.sub(r"['’]s\b", "", piece["word"])
            found = [Term((root(word),)) for word in words(bare)]
        (unwanted if piece["no"] else wanted).extend(found)
    if any(not _small(term) for term in wanted):
        wanted = [term for term in wanted if not _small(term)]
    return Sought(typed, tuple(dict.fromkeys(wanted)), tuple(dict.fromkeys(unwanted)))


def _small(term: Term) -> bool:
    return len(term.words) == 1 and term.words[0] in SMALL_WORDS


_PLURALS = (("ies", 3, 5), ("sses", 2, 6), ("xes", 2, 5), ("ches", 2, 5), ("shes", 2, 5))


def root(word: str) -> str:
    """A word asked for without the end of its plural, so that it is the beginning of both.

    Examples
    --------
    >>> [root(word) for word in ("dowels", "boxes", "assemblies", "glass", "ash")]
    ['dowel', 'box', 'assembl', 'glass', 'ash']
    """
    for ending, off, least in _PLURALS:
        if word.endswith(ending) and len(word) >= least:
            return word[:-off]
    return word[:-1] if len(word) > 3 and word.endswith("s") and word[-2] not in "siu" else word


# Showing where the words stand


@dataclass(frozen=True)
class Part:
    """A stretch of a text, marked or not."""

    text: str
    marked: bool = False


def marked(text: str, terms: Iterable[Term]) -> tuple[Part, ...]:
    """A text cut into parts, the words asked for marked."""
    return _parts(text, _hits(text, terms))


def snippet(text: str, terms: Iterable[Term], length: int = 220) -> tuple[Part, ...]:
    """A stretch of a text about the first of the words asked for, marked; its beginning if there is none."""
    # Line ends and runs of spaces take one place, as a page shows them.
    text = " ".join(text.split())
    hits = _hits(text, terms)
    start = 0
    if hits and hits[0][1] > length - 40:
        start = text.find(" ", max(0, hits[0][0] - length // 3)) + 1
    end = len(text)
    if end - start > length:
        end = text.rfind(" ", start + length // 2, start + length)
        end = start + length if end < 0 else end
    inside = [(low - start, high - start) for low, high in hits if start <= low and high <= end]
    parts = _parts(text[start:end], inside)
    before, after = ((Part("… "),) if start else ()), ((Part(" …"),) if end < len(text) else ())
    return (*before, *parts, *after)


def _hits(text: str, terms: Iterable[Term]) -> list[tuple[int, int]]:
    """Where in a text the words asked for stand, in order."""
    places = [match.span() for match in _TYPED_WORD.finditer(text)]
    folded = tuple(fold(text[low:high]).strip() for low, high in places)
    at = {start + i for term in terms for start in term.at(folded) for i in range(len(term.words))}
    return [places[i] for i in sorted(at)]


def _parts(text: str, hits: list[tuple[int, int]]) -> tuple[Part, ...]:
    parts, reached = [], 0
    for low, high in hits:
        parts += [Part(text[reached:low]), Part(text[low:high], True)]
        reached = high
    return tuple(part for part in [*parts, Part(text[reached:])] if part.text)
