"""The site's own pages, for its search: what each is called, and in a sentence what it does."""

from __future__ import annotations

from django.urls import reverse

from results.search import SitePage
from stats.practice.demand import PIECES

# Address, name, other names, what it does. A page of the methods is called as its part is; a test holds them together.
_PAGES: tuple[tuple[str, str, str, str], ...] = (
    ("compare:compare", "Compare joints", "side by side",
     "Woodworking joints side by side on one footing, with intervals and what may not be compared."),
    ("compare:network", "All joints through all studies", "network; network meta-analysis",
     "Every joint against every other, also where no study tested both."),
    ("browse:evidence", "Evidence map", "gaps",
     "How much is known of which joint, how surely, and where nobody has tested yet."),
    ("piece:pieces", "My piece", "is it strong enough; margin; demand; chair; table; shelf; door; bed; drawer",
     "What a piece of furniture asks of its worst joint, and what a joint of the book bears over that."),
    ("piece:share", "Several joints share a load", "four joints are not four times one",
     "What several joints hold together: bounds side by side, and not one joint times their number."),
    ("piece:leverage", "Short and long members", "leverage; arm",
     "What force at the end of a member breaks its joint: a short test piece hides leverage."),
    ("piece:movement", "Through the seasons", "wood movement; shrinkage; swelling; humidity",
     "How far wood moves across a joint over a year, and what a glued cross-grain joint is forced to hold."),
    ("plan:plan", "Plan a test", "power; how many specimens; sample size; running order",
     "What the book lacks, how many specimens tell two joints apart, in which order, and whether your rig will do."),
    ("plans:plans", "Plans", "preregistration; lodged",
     "Tests that people planned before testing: followed by a study, or evidence that is missing."),
    ("browse:studies", "Studies", "results", "All studies of the book, the newest first."),
    ("browse:workshops", "Workshops", "shops", "Who tested what, and how shops repeat themselves and each other."),
    ("browse:joints", "Joints", "vocabulary", "All kinds of joint that the book knows, with their trade names."),
    ("browse:timbers", "Timbers", "woods; species; vocabulary", "All timbers with their strengths and their sources."),
    ("submit:start", "Submit results", "hand in; upload; spreadsheet; template; form",
     "Hand in what you tested, by a form or by a spreadsheet."),
    ("browse:data", "Take the data", "download; API; JSON; CSV; Parquet; licence; DOI; data dictionary; columns; cite",
     "All results as tables, for a spreadsheet or a program."),
    ("data:releases", "Releases", "snapshots; download", "Dated snapshots of all data, which never change."),
    ("browse:methods", "Methods", "how the numbers are made; formulas; statistics",
     "Every formula, rule and statistic of the book, each with an example worked by the code."),
)  # fmt: skip
METHODS: dict[str, str] = {
    "readings": "Units and readings",
    "loadings": "Loading arrangements",
    "areas": "Sections and bonded areas",
    "footings": "Footings: from a load to a like-for-like quantity",
    "solid-wood": "Solid wood and adjustments",
    "comparing": "What may be compared",
    "uncertainty": "Measurement uncertainty",
    "series": "One series",
    "groups": "Groups in one study, and planning",
    "studies": "One comparison over studies",
    "network": "All joints through all studies",
    "shops": "Between shops",
    "certainty": "How far a comparison can be trusted",
    "findings": "What the checks look for",
    "piece": "A piece of your own",
    "next-test": "The next test",
}
"""Names of the parts of the methods, which take seconds to work out."""


def site_pages() -> list[SitePage]:
    """Every page that anybody may look for by its name."""
    found = [SitePage(reverse(to), name, beside, says) for to, name, beside, says in _PAGES]
    for code, piece in PIECES.items():
        says = f"What it asks of its worst joint, {piece.joint}."
        found.append(SitePage(reverse("piece:piece", args=[code]), f"My piece: {piece.name}", "", says))
    for part, name in METHODS.items():
        says = "How the numbers are made: formulas, rules and worked examples."
        found.append(SitePage(reverse("browse:methods-part", args=[part]), f"Methods: {name}", "", says))
    return found
