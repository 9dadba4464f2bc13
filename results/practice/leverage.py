"""The same joint with short and long members: read from an address."""

from __future__ import annotations

from stats.errors import StatsError
from stats.practice.leverage import LEAST_MM, MOST_MM, Leverage, leverage
from stats.practice.piece import LARGEST_LOAD_N

from .asked import Asked, QuantityField


class LeverageAsked(Asked):
    """What a joint bears, and the lengths of member to look at."""

    moment_nm = QuantityField("moment", 0.01, 100_000.0, label="The joint bears", initial="120 N·m")
    typical_nm = QuantityField(
        "moment", 0.01, 100_000.0, label="A middling joint bears", help_text="Where it is known."
    )
    arm_mm = QuantityField("length", LEAST_MM, MOST_MM, label="My member, from joint to push", initial="450 mm")
    push_n = QuantityField(
        "force", 1.0, LARGEST_LOAD_N, label="Somebody pushes with", help_text="The measured push where left empty."
    )

    def answer(self) -> Leverage | None:
        """The curve; None where something typed can't be used, which is then said."""
        if not self.is_valid():
            return None
        asked = self.cleaned_data
        if asked["moment_nm"] is None:
            self.add_error("moment_nm", "This must be said.")
            return None
        try:
            return leverage(asked["moment_nm"], typical_nm=asked["typical_nm"], push_n=asked["push_n"])
        except StatsError as error:
            self.blame(error)
            return None

    @property
    def force_n(self) -> float | None:
        """Force at the end of the reader's own member that breaks the joint [N]."""
        asked = self.cleaned_data
        return 1000 * asked["moment_nm"] / asked["arm_mm"] if asked["arm_mm"] else None
