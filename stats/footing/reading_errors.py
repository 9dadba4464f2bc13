"""What can be wrong with a quantity as typed; each has a stable code and a remedy."""

from __future__ import annotations

from stats.errors import StatsError


class ReadingError(StatsError):
    """A typed quantity that can't be read.

    Parameters
    ----------
    text : str
        What was typed.
    message : str
        What was found and what would be right.
    hint : str
        The remedy alone, short enough to stand beside a cell.
    """

    code = "unreadable"

    def __init__(self, text: str, message: str, hint: str) -> None:
        self.text = text
        self.hint = hint
        super().__init__(f"{message} {hint}".strip())


class NotANumber(ReadingError):
    """No number was found where one was wanted."""

    code = "not-a-number"


class NoNumberFirst(NotANumber):
    """A text that begins with something else than a number."""


class AmbiguousNumber(ReadingError):
    """A number that could be read in two ways a thousand apart."""

    code = "ambiguous-number"


class NotFinite(ReadingError):
    """Infinity, or text that says there is no number."""

    code = "not-finite"


class Absurd(ReadingError):
    """A number so large that nothing in a workshop can have it."""

    code = "absurd"


class UnitMissing(ReadingError):
    """A number without a unit, where the unit matters."""

    code = "unit-missing"


class UnknownUnit(ReadingError):
    """A unit that no kind of quantity has."""

    code = "unknown-unit"


class WrongUnitKind(ReadingError):
    """A unit of another kind of quantity."""

    code = "wrong-unit-kind"
