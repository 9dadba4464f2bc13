"""What can be chosen on the comparison page, with how much there is of each."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from results.models import JointFamily
from stats.footing.ladder import FOOTINGS

from . import book
from .book import Array, Words
from .choices import ACTIONS, TESTS, Choices
from .packing import CODES


def facets(footing: str = Choices.footing) -> dict[str, list[tuple]]:
    """Choices that some accepted series stands behind, as (code, name, number of series).

    Parameters
    ----------
    footing : str
        A footing on which the book is read anyway; it makes no difference to what there is.

    Returns
    -------
    dict
        ``joints`` (with the family's name as a fourth item), ``actions``, ``tests``, ``footings``, ``timbers``,
        ``adhesives``.
    """
    read = book.read(footing).read
    words = read.vocabulary
    families = dict(JointFamily.objects.values_list("pk", "name"))
    joints = _counted(words.joints, read.places("joint"))
    family = dict(zip(words.joints.codes, words.joints.more, strict=True))
    by_loading = _counts(read.places("loading"), len(words.loadings.codes))
    actions = {
        action: sum(n for n, of in zip(by_loading, words.loadings.more, strict=True) if of == action)
        for action in ACTIONS
    }
    bonds = int(np.count_nonzero(read.column("bond")))
    tests = {"joint": len(read.packs.series) - bonds, "bond": bonds}
    has = read.column("footings")
    return {
        "joints": [(code, name, n, families[family[code]]) for code, name, n in joints],
        "actions": [(code, name, actions[code]) for code, name in ACTIONS.items() if actions[code]],
        "tests": [(code, TESTS[code], n) for code, n in tests.items() if n],
        "footings": [
            (code, info.name, int(np.count_nonzero(has >> CODES.index(code) & 1))) for code, info in FOOTINGS.items()
        ],
        "timbers": sorted(_counted(words.timbers, read.places("timber")), key=lambda row: row[1].casefold()),
        "adhesives": sorted(_counted(words.adhesives, read.places("adhesive")), key=lambda row: row[1]),
    }


def _counts(places: Array, size: int) -> list[int]:
    return np.bincount(places[places >= 0], minlength=size).tolist()


def _counted(words: Words, places: Array) -> list[tuple[str, str, int]]:
    rows: Iterable[tuple[str, str, int]] = zip(words.codes, words.names, _counts(places, len(words.codes)), strict=True)
    return [row for row in rows if row[2]]
