"""The refusals and warnings that the numeric code raises."""

from __future__ import annotations


class StatsError(ValueError):
    """Input that a calculation can't use; the message names it and says what would be right."""

    code = "stats"


class MissingInputs(StatsError):
    """A quantity can't be had because inputs it needs were not given.

    Parameters
    ----------
    missing : sequence of str
        Names of the inputs that are missing, with their unit suffix (``arm_mm``).
    what : str
        What could not be computed, in words.
    """

    code = "missing-inputs"

    def __init__(self, missing: tuple[str, ...] | list[str], what: str) -> None:
        self.missing = tuple(missing)
        self.what = what
        super().__init__(f"{what} needs {', '.join(self.missing)}, which was not given.")


class StatsWarning(UserWarning):
    """A result that stands but wants care; the message says why."""


class NotCovered(StatsError):
    """A quantity can't be had because the rules do not cover this case, whatever else is given.

    Parameters
    ----------
    what : str
        What could not be computed, in words.
    reason : str
        Why, and what to do instead if there is something.
    """

    code = "not-covered"

    def __init__(self, what: str, reason: str) -> None:
        self.what = what
        self.reason = reason
        super().__init__(f"{what} can't be had: {reason}")
