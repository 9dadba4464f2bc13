"""What can't be done with a study as it stands."""

from __future__ import annotations


class ReviewError(ValueError):
    """Something that can't be done with this study or revision; the message says why and what to do."""


class Stale(ReviewError):
    """A change made from what the study said before somebody else changed it."""


class Decided(ReviewError):
    """A revision that was decided on, or replaced, before."""
