"""Tries that are counted when a clock steps back."""

from __future__ import annotations

from functools import wraps

from allauth.core.internal import ratelimit

# Clocks of a site's machines differ a little: a try that another has just counted is not from the future.
APART_S = 5.0


def forget_later_tries() -> None:
    """Let no limit count tries that are later than now.

    A try is counted by its time. After a clock that was ahead has been put right, those tries would stay within the
    last five minutes until the time they name has come, and keep somebody out for hours. The library has no place of
    its own for this, but one small function that every limit goes through.
    """
    given = ratelimit.apply_rate
    if hasattr(given, "__wrapped__"):
        return

    @wraps(given)
    def apply_rate(
        history: list[float], now: float, rate: ratelimit.Rate, *, dry_run: bool = False
    ) -> tuple[bool, list[float]]:
        return given([at for at in history if at <= now + APART_S], now, rate, dry_run=dry_run)

    ratelimit.apply_rate = apply_rate
