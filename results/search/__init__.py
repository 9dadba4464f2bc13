"""Finding a joint, a timber, a glue, a shop, a study, a plan or a page of the site by its words."""

from .find import KINDS, Found, Group, Hit, SitePage, find
from .words import LONGEST, Part, Sought, sought

__all__ = ["KINDS", "LONGEST", "Found", "Group", "Hit", "Part", "SitePage", "Sought", "find", "sought"]
