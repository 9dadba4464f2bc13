"""How often a word is used, from what is counted once for each state of the data."""

from __future__ import annotations

from typing import Any

from django.db.models import Expression, F, IntegerField

from results.evidence.stock import stocked


class Stocked(Expression):
    """Accepted series, invented ones too, that name the record's word; 0 for one that none names.

    The numbers stand in the query itself, so that rows can be ordered by them and a cursor can go on from one. They
    are looked up when a query is put into words, which is each time that it is asked: a query may be kept for longer
    than the data stay as they are.

    Parameters
    ----------
    word : str
        What of a series, as `stocked` takes it.
    """

    def __init__(self, word: str) -> None:
        super().__init__(output_field=IntegerField())
        self.word = word
        self.code: Any = F("pk")

    def get_source_expressions(self) -> list[Any]:
        return [self.code]

    def set_source_expressions(self, exprs: list[Any]) -> None:
        (self.code,) = exprs

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, list[Any]]:
        code, params = compiler.compile(self.code)
        # A book with nothing in it has one that no word is: a mere 0 to order by would be the place of a column.
        series = {word: found[0] for word, found in stocked(self.word, invented=True).items()} or {"": 0}
        cases = " ".join(f"WHEN %s THEN {int(number)}" for number in series.values())
        return f"CASE {code} {cases} ELSE 0 END", [*params, *series]
