"""Finding a joint, a timber, a glue, a shop or a study by its words."""

from .find import KINDS, Found, Group, Hit, find
from .words import LONGEST, Part, Sought, sought

__all__ = ["KINDS", "LONGEST", "Found", "Group", "Hit", "Part", "Sought", "find", "sought"]
