"""Pages that begin after a row: a cursor holds what the last row was ordered by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core import signing
from django.db.models import Expression, F, Q, QuerySet
from rest_framework.request import Request
from rest_framework.utils.urls import replace_query_param

from .errors import BadParameters, Fault

SALT = "api.cursor"


@dataclass(frozen=True)
class By:
    """What rows are ordered by; missing values come last either way.

    Parameters
    ----------
    name : str
        Names it in the cursor.
    expression : expression
        What it is in the database.
    down : bool
        Whether the largest comes first.
    always : bool
        Whether every row has it.
    """

    name: str
    expression: F | Expression
    down: bool = False
    always: bool = False

    @property
    def ordering(self) -> Any:
        if self.always:  # in the words that an index is in
            return self.expression.desc() if self.down else self.expression.asc()
        return self.expression.desc(nulls_last=True) if self.down else self.expression.asc(nulls_last=True)


@dataclass(frozen=True)
class CursorPage:
    """The keys of some rows, and where the next page begins."""

    keys: list[Any]
    next: str | None


def page(request: Request, found: QuerySet, order: Sequence[By], size: int) -> CursorPage:
    """The rows after the request's cursor; the first ones where it is empty.

    Parameters
    ----------
    request : Request
        Its ``cursor`` is what the page before gave.
    found : QuerySet
        All rows.
    order : sequence of By
        Ends with the key, so that no two rows tie.
    size : int
        Rows on the page.
    """
    names = [("-" if by.down else "") + by.name for by in order]
    aliases = {f"by_{at}": by.expression for at, by in enumerate(order)}
    found = found.alias(**aliases)
    if given := request.query_params.get("cursor"):
        found = found.filter(_after(order, _read(given, names)))
    sequence = [By(by.name, F(f"by_{at}"), by.down, by.always).ordering for at, by in enumerate(order)]
    rows = list(found.order_by(*sequence).values_list("pk", *aliases.values())[: size + 1])
    following = None
    if len(rows) > size:
        cursor = signing.dumps([names, [_plain(value) for value in rows[size - 1][1:]]], salt=SALT)
        following = replace_query_param(request.build_absolute_uri(), "cursor", cursor)
    return CursorPage([row[0] for row in rows[:size]], following)


def _plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, datetime) else value


def _read(given: str, names: list[str]) -> list[Any]:
    detail = ""
    try:
        ordered, values = signing.loads(given, salt=SALT)
    except signing.BadSignature:
        detail = "is no cursor of this book, or one from before its secret changed; begin with cursor= and nothing."
    else:
        if ordered == names:
            return values
        detail = f"is of rows in another order ({','.join(ordered)}); begin with cursor= and nothing."
    raise BadParameters([Fault("cursor", given, f"cursor={given[:20]!r} {detail}")])


def _after(order: Sequence[By], values: Sequence[Any]) -> Q:
    """Rows that come after one with these values: past it in the first, or level there and past it in the rest."""
    after, level = Q(pk__in=[]), Q()
    for at, (by, value) in enumerate(zip(order, values, strict=True)):
        name = f"by_{at}"
        if value is None:
            level &= Q(**{f"{name}__isnull": True})
            continue
        past = Q(**{f"{name}__{'lt' if by.down else 'gt'}": value})
        after |= level & (past if by.always else past | Q(**{f"{name}__isnull": True}))
        level &= Q(**{name: value})
    if order[0].always and values[0] is not None:
        # Says nothing new, but says it in the words that an index understands.
        after &= Q(**{f"by_0__{'lte' if order[0].down else 'gte'}": values[0]})
    return after
