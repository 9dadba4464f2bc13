"""Studies packed as arrays, so that a comparison reads a whole book at once and not record by record.

A comparison of all joints looks at every series and specimen of the book. As records that is most of its time, so
what it needs stands beside them a study at a time, as the arrays' own bytes. Words of the vocabulary are told by
`number_of` their code, which needs no register.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import QuerySet
from numpy.typing import NDArray

from results.models import Packed, Series, SeriesFooting, Specimen
from results.models.few_bytes import unpacked
from stats.footing.ladder import FOOTINGS

from .fields import specimen_field

FORM = 3
"""Raised whenever what is packed, or how, changes; packs of another form are not read."""

CODES = tuple(FOOTINGS)
GRAINS = ("", *Series.Grain.values)
CONDITIONINGS = tuple(Series.Conditioning.values)
SIZES = ("member_thickness_mm", "member_depth_mm", "bond_length_mm", "bond_width_mm")
COUNTS = ("n", "held", "kept_n", "kept_held")
LOGS = ("sum_log", "sum_sq_log", "kept_sum_log", "kept_sum_sq_log")

SERIES = np.dtype(
    [("id", "<i8"), ("setup", "<i8"), ("control", "<i8")]
    + [(word, "<u4") for word in ("joint", "timber", "adhesive", "loading", "control_joint")]
    + [("sizes", "<f8", len(SIZES)), ("told", "<u4"), ("void", "<u4")]
    + [(small, "u1") for small in ("bond", "grain_a", "grain_b", "conditioning", "published", "footings")]
)
"""A series on every footing: words by number (0 for none), `told` specimens, `void` ones, `footings` a bit for each."""
SPECIMEN = np.dtype([("place", "<u4"), ("held", "u1"), ("flagged", "u1")])
"""A specimen that is not void, in the order of its series and then its place in it."""
ON_FOOTING = np.dtype([(name, "<f8") for name in LOGS] + [(name, "<i4") for name in COUNTS] + [("missing", "<i2")])
"""A series on one footing: the stored sums, NaN where there is none, -1 for no count; the number of its reasons."""
VALUE = np.dtype("<f8")
"""A specimen's value on one footing. Those of a series without a sum have none, and aren't packed."""
NO_COUNT = -1

NO_ROW = -2
"""For ``missing``: nothing was stored for the series on this footing."""
NOTHING_MISSING = -1
# Studies packed at a time; more would take more memory, fewer more queries.
_AT_A_TIME = 200

Array = NDArray[Any]


@lru_cache(maxsize=4096)
def number_of(code: str | None) -> int:
    """A word's number: four bytes of its code's digest; 0 for no word."""
    return int.from_bytes(hashlib.blake2b(code.encode(), digest_size=4).digest(), "little") if code else 0


def store(studies: Iterable[int]) -> None:
    """Pack studies anew; call it in the transaction that saved their footings.

    Parameters
    ----------
    studies : iterable of int
        Keys of studies whose series, specimens and footings are as they will stay.
    """
    keys = list(studies)
    for start in range(0, len(keys), _AT_A_TIME):
        part = keys[start : start + _AT_A_TIME]
        Packed.objects.filter(study__in=part).delete()
        Packed.objects.bulk_create(packed(part), batch_size=500)


def packed(studies: Sequence[int]) -> Iterator[Packed]:
    """The packs of studies, made from their records and not saved.

    Parameters
    ----------
    studies : sequence of int

    Yields
    ------
    Packed
        For each study one for all footings, and one a footing.
    """
    for start in range(0, len(studies), _AT_A_TIME):
        yield from _packed(list(studies[start : start + _AT_A_TIME]))


def _packed(studies: list[int]) -> Iterator[Packed]:
    series = _Series(studies)
    specimens, values = _specimens(series)
    footings = {code: _sums(series, code) for code in CODES}
    facts = series.facts({code: ~np.isnan(sums["sum_log"]) for code, (sums, _) in footings.items()})
    end = np.concatenate([[0], np.cumsum(series.told)]).tolist()
    for study in studies:
        # Rows are sorted by study, and specimens by study and series.
        own = slice(*np.searchsorted(series.study, [study, study + 1]).tolist())
        there = slice(end[own.start], end[own.stop])
        labels = json.dumps(series.label[own], ensure_ascii=False)
        yield _pack(study, "", facts[own], specimens[there], labels)
        for code, (sums, reasons) in footings.items():
            numbers, words = _own_reasons(sums["missing"][own], reasons)
            on_footing = sums[own].copy()
            on_footing["missing"] = numbers
            known = np.repeat(~np.isnan(on_footing["sum_log"]), series.told[own])
            yield _pack(study, code, on_footing, values[code][there][known], words)


def _pack(study: int, code: str, series: Array, specimens: Array, words: str) -> Packed:
    return Packed(
        study_id=study, code=code, form=FORM, series=series.tobytes(), specimens=specimens.tobytes(), words=words
    )


def columns_of(rows: QuerySet[Any], *fields: str, binary: bool = False) -> list[tuple[Any, ...]]:
    """The rows' fields, a column each, past the model's converters: as the database's driver gives them.

    `binary` asks PostgreSQL for numbers, text and bytes as they are: as text, bytes take three times as long.
    """
    sql, params = rows.values_list(*fields).query.sql_with_params()
    # The one that the framework would read these rows from.
    connection = connections[rows.db]
    if binary and connection.vendor == "postgresql":
        found = _binary(connection, sql, params)
    else:
        with connection.cursor() as cursor:
            cursor.execute(sql, params)
            found = cursor.fetchall()
    return list(zip(*found, strict=True)) if found else [()] * len(fields)


def _binary(connection: BaseDatabaseWrapper, sql: str, params: Sequence[Any]) -> list[tuple[Any, ...]]:
    import psycopg

    connection.ensure_connection()
    # The driver's errors come out as the framework's, so that a database that went away is told as everywhere else.
    with connection.wrap_database_errors, psycopg.Cursor(connection.connection) as cursor:
        return cursor.execute(sql, params, binary=True).fetchall()


class _Series:
    """Series of some studies, by study and then key."""

    def __init__(self, studies: list[int]) -> None:
        rows = Series.objects.filter(study__in=studies).order_by("study_id", "pk")
        names = ["pk", "study_id", "label", "setup_id", "setup__loading_id", "setup__loading__action", "control_id"]
        names += ["control__joint_id", "joint_id", "timber_id", "adhesive_id", "tests", "grain_a", "grain_b"]
        names += ["conditioning", "summary__pk", *SIZES]
        self.studies = studies
        self.columns = dict(zip(names, columns_of(rows, *names), strict=True))
        self.key, self.study = (np.array(self.columns[name], dtype=np.int64) for name in ("pk", "study_id"))
        self.label = list(self.columns["label"])
        self.action = np.array(self.columns["setup__loading__action"], dtype=object)
        self.told = self.void = np.zeros(len(self.key), dtype=np.int64)
        self._order = np.argsort(self.key)

    def at(self, keys: Array) -> Array:
        """Places of series by their keys."""
        return self._order[np.searchsorted(self.key, keys, sorter=self._order)]

    def facts(self, has: dict[str, Array]) -> Array:
        """See `SERIES`; `has` tells of each footing which series stand on it."""
        columns, facts = self.columns, np.zeros(len(self.key), dtype=SERIES)
        facts["id"], facts["told"], facts["void"] = self.key, self.told, self.void
        facts["setup"] = columns["setup_id"]
        facts["control"] = [key or 0 for key in columns["control_id"]]
        for name, field in (
            ("joint", "joint_id"),
            ("timber", "timber_id"),
            ("adhesive", "adhesive_id"),
            ("loading", "setup__loading_id"),
            ("control_joint", "control__joint_id"),
        ):
            facts[name] = [number_of(code) for code in columns[field]]
        for at, name in enumerate(SIZES):
            facts["sizes"][:, at] = np.array(columns[name], dtype=float)
        facts["bond"] = [tests == Series.Tests.BOND for tests in columns["tests"]]
        for name in ("grain_a", "grain_b"):
            facts[name] = [GRAINS.index(grain) for grain in columns[name]]
        facts["conditioning"] = [CONDITIONINGS.index(lived) for lived in columns["conditioning"]]
        facts["published"] = [key is not None for key in columns["summary__pk"]]
        for bit, code in enumerate(CODES):
            facts["footings"] |= has[code].astype(np.uint8) << bit
        return facts


def _specimens(series: _Series) -> tuple[Array, dict[str, Array]]:
    """Specimens that are not void: what each is, and its value on each footing; how many a series has is noted."""
    rows = Specimen.objects.told().filter(series__study__in=series.studies)
    fields = list(dict.fromkeys(specimen_field(code, action) for code in CODES for action in ("bending", "axial")))
    of, outcome, flagged, place, *values = columns_of(
        rows.order_by("series__study_id", "series_id", "position", "pk"),
        *("series_id", "outcome", "flagged", "failure_place_id", *fields),
    )
    at = series.at(np.array(of, dtype=np.int64))
    series.told = np.bincount(at, minlength=len(series.key))
    (void,) = columns_of(
        Specimen.objects.filter(outcome=Specimen.Outcome.VOID, series__study__in=series.studies).order_by(), "series_id"
    )
    series.void = np.bincount(series.at(np.array(void, dtype=np.int64)), minlength=len(series.key))
    facts = np.zeros(len(at), dtype=SPECIMEN)
    facts["place"] = [number_of(code) for code in place]
    facts["held"] = [one == Specimen.Outcome.HELD for one in outcome]
    facts["flagged"] = flagged
    known = dict(zip(fields, (np.array(column, dtype=VALUE) for column in values), strict=True))
    by_action = {action: series.action[at] == action for action in set(series.action.tolist())}
    chosen = {code: np.full(len(at), np.nan, dtype=VALUE) for code in CODES}
    for action, which in by_action.items():
        for code in CODES:
            chosen[code][which] = known[specimen_field(code, action)][which]
    return facts, chosen


def _sums(series: _Series, code: str) -> tuple[Array, list[list[str]]]:
    """Stored sums on a footing, see `ON_FOOTING`, and the reasons that ``missing`` numbers."""
    rows = SeriesFooting.objects.filter(series__study__in=series.studies, code=code).order_by()
    of, *stored, missing = columns_of(rows, "series_id", *COUNTS, *LOGS, "missing")
    at, sums = series.at(np.array(of, dtype=np.int64)), np.zeros(len(series.key), dtype=ON_FOOTING)
    sums["missing"] = NO_ROW
    for name, column in zip((*COUNTS, *LOGS), stored, strict=True):
        none = NO_COUNT if name in COUNTS else np.nan
        sums[name] = none
        sums[name][at] = [none if value is None else value for value in column]
    reasons: dict[str, int] = {}
    numbers = np.array([reasons.setdefault(text, len(reasons)) for text in missing], dtype=np.int16)
    sums["missing"][at] = np.where(np.isnan(sums["sum_log"][at]), numbers, NOTHING_MISSING)
    return sums, [unpacked(json.loads(text)) for text in reasons]


def _own_reasons(numbers: Array, reasons: list[list[str]]) -> tuple[Array, str]:
    """Reasons of one study numbered among themselves, and these as JSON."""
    own = np.unique(numbers[numbers >= 0])
    words = json.dumps([reasons[number] for number in own.tolist()], ensure_ascii=False)
    return np.where(numbers >= 0, np.searchsorted(own, numbers), numbers), words
