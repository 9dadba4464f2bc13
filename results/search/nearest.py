"""What somebody who found nothing may have meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

from .words import Sought, begins, words

MOST = 3
# Below this share of letters in common a word is another word; two letters of three that changed places have 2/3.
ALIKE, ALIKE_SHORT = 0.72, 0.66
SHORT, SHORTEST = 4, 3


def suggestions(asked: Sought, names: Iterable[str]) -> list[str]:
    """Up to three questions near this one.

    Parameters
    ----------
    asked : Sought
        What found nothing.
    names : iterable of str
        All names that could have been meant.

    Returns
    -------
    list of str
        The question with its unknown words replaced by the nearest known ones, where some name has them all;
        otherwise its words one by one, known or nearest.
    """
    texts = [words(name) for name in names]
    known = sorted({word for text in texts for word in text if len(word) >= SHORTEST})
    near = [_near(word, known) for term in asked.terms for word in term.words]
    if not near:
        return []
    whole = [" ".join(first) for first in zip(*_padded(near), strict=True)] if all(near) else []
    fitting = [one for one in dict.fromkeys(whole) if _fits(one, texts)]
    single = [word for options in near for word in options[:MOST]] if len(near) > 1 or not fitting else []
    found = [one for one in dict.fromkeys(fitting + single) if one != asked.typed.strip().lower()]
    return found[:MOST]


def _near(word: str, known: list[str]) -> list[str]:
    """A word itself if some name has it, or the known ones most like it."""
    if any(begins(one, word) for one in known):
        return [word]
    if len(word) < SHORTEST:
        return []
    return difflib.get_close_matches(word, known, n=MOST, cutoff=ALIKE_SHORT if len(word) <= SHORT else ALIKE)


def _padded(near: list[list[str]]) -> list[list[str]]:
    """As many options for each word as the most that any has, its last one repeated."""
    most = max(map(len, near))
    return [options + options[-1:] * (most - len(options)) for options in near]


def _fits(question: str, texts: list[tuple[str, ...]]) -> bool:
    asked = question.split()
    return any(all(any(begins(word, one) for word in text) for one in asked) for text in texts)
