"""CSV that PostgreSQL writes itself: its COPY, in the very bytes that Python would have written."""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import islice

from django.db import connections
from django.db.models import QuerySet

from .columns import BOOLEAN, INTEGER, NUMBER, TEXT, Column
from .formats import BLOCK_ROWS
from .spliced import Shared, Spliced

# As Python prints them: a whole number in a column of numbers keeps its ".0", so that it stays one.
_AS_CSV = {
    INTEGER: "{0}",
    NUMBER: "CASE WHEN {0} = trunc({0}) THEN {0}::text || '.0' ELSE {0}::text END",
    BOOLEAN: "CASE WHEN {0} THEN 'true' WHEN NOT {0} THEN 'false' END",
    TEXT: "CASE WHEN left({0}, 1) IN ('=', '+', '-', '@', chr(9), chr(10), chr(13)) THEN '''' || {0} "
    "ELSE nullif({0}, '') END",
}
# Records read at a time: what they share is read first, since nothing else can be read during a COPY. Each time the
# database finds out anew which rows may be read, so fewer would cost more.
AT_A_TIME = 2_000


def can_copy(found: QuerySet, shared: Shared, columns: Sequence[Column]) -> bool:
    """Whether COPY can give these rows: they come by the shared record, and its lines can be taken apart."""
    if connections[found.db].vendor != "postgresql" or found.query.order_by[:1] != (f"{shared.name}_id",):
        return False
    own = [column for column in columns if not shared.holds(column)]
    places = [place for place, column in enumerate(columns) if not shared.holds(column)]
    # Only the last run of own columns may hold what has commas in it.
    start = len(places) - 1
    while start and places[start - 1] == places[start] - 1:
        start -= 1
    return all(column.kind in _AS_CSV for column in own) and all(one.kind == INTEGER for one in own[:start])


class Copied(Spliced):
    """As `Spliced`; each row's own part is a line of COPY that begins with the key of what it shares."""

    def __iter__(self) -> Iterator[bytes]:
        yield self.head.encode()
        key = f"{self.shared.name}_id"
        keys = array("q", self.found.order_by(key).values_list(key, flat=True).distinct().iterator())
        for start in range(0, len(keys), AT_A_TIME):
            some = keys[start : start + AT_A_TIME].tolist()
            common = {
                one: tuple(piece.encode() for piece in pieces) for one, pieces in self.common_pieces(some).items()
            }
            lines = self._copy(self.found.filter(**{f"{key}__gte": some[0], f"{key}__lte": some[-1]}))
            while block := list(islice(lines, BLOCK_ROWS)):
                yield b"\r\n".join(self._joined(line, common) for line in block) + b"\r\n"

    def _joined(self, line: bytes, common: dict[int, tuple[bytes, ...]]) -> bytes:
        """A whole line, from a row's own part and what it shares."""
        key, *own = line.split(b",", self._apart + 1)
        shares = iter(common[int(key)])
        parts, place = [], 0
        for is_common, run in self.runs:
            if is_common:
                parts.append(next(shares))
            else:
                parts.append(b",".join(own[place : place + len(run)]))
                place += len(run)
        return b",".join(parts)

    @cached_property
    def _apart(self) -> int:
        """Own columns before the last run of them, each of which is a cell of the line by itself."""
        runs = [len(run) for is_common, run in self.runs if not is_common]
        return sum(runs[:-1])

    def _copy(self, found: QuerySet) -> Iterator[bytes]:
        """Each row's own part, as CSV without its end of line."""
        rows = found.values_list(f"{self.shared.name}_id", *(column.source for column in self.own))
        inner, params = rows.query.sql_with_params()
        names = [f"c{place}" for place in range(len(self.own) + 1)]
        cells = [names[0], *(_AS_CSV[one.kind].format(name) for one, name in zip(self.own, names[1:], strict=True))]
        # The names are ours; what the reader asked for stands in the parameters.
        query = f"COPY (SELECT {', '.join(cells)} FROM ({inner}) AS t({', '.join(names)})) TO STDOUT (FORMAT csv)"
        connection = connections[found.db]
        # The framework's names for the driver's errors, which tell a replica that is away from a slip of ours.
        with connection.wrap_database_errors, connection.cursor() as cursor, cursor.cursor.copy(query, params) as copy:
            while line := copy.read():
                yield bytes(line[:-1])
