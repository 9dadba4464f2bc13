"""How much the book holds: in all, and of a word of the vocabulary on each footing, under each action."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from results.kept import once
from results.models import Study

from .extent import Counts, every, words_of
from .frames import ACTION_CODES
from .packing import CODES
from .sides import BY_BOND


@dataclass(frozen=True)
class Stock:
    """How much stands on one footing, under one action."""

    action: str
    tests: str
    footing: str
    series: int
    studies: int


def stock_of(word: str, code: str, *, invented: bool) -> list[Stock]:
    """What there is of a joint or a timber; once for each state of the data.

    Parameters
    ----------
    word : {"joint", "timber"}
    code : str
        Which one.
    invented : bool
        Whether invented studies count.
    """

    def work_out() -> list[Stock]:
        found = every(invented=invented)
        return _stock(found.take(found.of(word, code)))

    return once(f"stock {word} {code} {invented}", work_out)


def _stock(found: Counts) -> list[Stock]:
    key = found.action * len(BY_BOND) + found.bond
    footings = found.column("footings")
    rows = []
    for code in sorted(CODES):
        has = (footings >> CODES.index(code) & 1).astype(bool)
        tallies = found.take(has).tallies(key[has], len(ACTION_CODES) * len(BY_BOND))
        rows += [(at, code, tally) for at, tally in enumerate(tallies) if tally.series]
    return [
        Stock(ACTION_CODES[at // len(BY_BOND)], BY_BOND[at % len(BY_BOND)], code, tally.series, tally.studies)
        for at, code, tally in rows
    ]


def stocked(word: str, *, invented: bool) -> dict[str, tuple[int, int]]:
    """Series and studies of each word of the vocabulary that has any, by code; once for each state of the data.

    Parameters
    ----------
    word : {"joint", "timber", "adhesive", "loading"}
    invented : bool
        Whether invented studies count.
    """

    def work_out() -> dict[str, tuple[int, int]]:
        found = every(invented=invented)
        found = found.take(found.places(word) >= 0)
        codes = words_of(found.source, word).codes
        tallies = found.tallies(found.places(word), len(codes))
        return {code: (one.series, one.studies) for code, one in zip(codes, tallies, strict=True) if one.series}

    return once(f"stocked {word} {invented}", work_out)


def studies_with(joint: str) -> list[tuple[int, int]]:
    """Key of every accepted study of a joint, the newest first, and its series of it; once for each state of the data.

    Parameters
    ----------
    joint : str
    """

    def work_out() -> list[tuple[int, int]]:
        found = every(invented=True)
        own = found.study[found.of("joint", joint)]
        keys = found.source.studies.key
        number = dict(zip(keys.tolist(), np.bincount(own, minlength=len(keys)).tolist(), strict=True))
        newest = Study.objects.accepted().order_by("-accepted_at", "-id").values_list("pk", flat=True)
        return [(key, number[key]) for key in newest if number.get(key)]

    return once(f"studies with {joint}", work_out)


def held() -> dict[str, int]:
    """How many studies, series and specimens (void ones too) the book holds, of what is accepted; once as above."""

    def work_out() -> dict[str, int]:
        found = every(invented=True)
        specimens = found.column("told").sum(dtype=np.int64) + found.column("void").sum(dtype=np.int64)
        return {"studies": len(found.source.studies.key), "series": len(found), "specimens": int(specimens)}

    return once("stock held", work_out)
