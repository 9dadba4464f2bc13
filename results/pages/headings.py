"""Headings and captions of tables in the reader's language.

Tables are made of frames whose columns are named in English, by what works them out and knows no languages; so they are
translated where a table becomes one of a page.
"""

from __future__ import annotations

import re

from django.utils.translation import gettext, gettext_noop

from .in_language import named

# Of what stands below these, the cells are names of the vocabulary; elsewhere a word may be somebody's own.
OF_NAMES = {
    "Joint",
    "Timber",
    "Glue",
    "Where it broke",
    "Set against",
    "Tested against",
    "Loading",
    "Outcome",
    "Footing",
}
_LEVEL = re.compile(r"(\d+(?:\.\d+)? %) interval$")
_KNOWN = frozenset(
    (
        gettext_noop("A middling one"),
        gettext_noop("All"),
        gettext_noop("As typed"),
        gettext_noop("Broke"),
        gettext_noop("Broken specimens"),
        gettext_noop("Built so"),
        gettext_noop("Carried over"),
        gettext_noop("Compared"),
        gettext_noop("Flagged"),
        gettext_noop("Flagged, left out"),
        gettext_noop("Footing"),
        gettext_noop("From"),
        gettext_noop("Geometric mean"),
        gettext_noop("Glue"),
        gettext_noop("Group"),
        gettext_noop("Held"),
        gettext_noop("If only glue (or wood) decided"),
        gettext_noop("In SI"),
        gettext_noop("In the piece"),
        gettext_noop("Its solid bars, a series a row"),
        gettext_noop("Joint"),
        gettext_noop("Joints that fit there, the highest lower limit first"),
        gettext_noop("Left out because"),
        gettext_noop("Length of the tenon"),
        gettext_noop("Loaded in"),
        gettext_noop("Loads to expect on the rig"),
        gettext_noop("Lower limit"),
        gettext_noop("Margin, lower limit"),
        gettext_noop("Members"),
        gettext_noop("Middling specimen"),
        gettext_noop("Note"),
        gettext_noop("Notes"),
        gettext_noop("Order of testing"),
        gettext_noop("Other studies"),
        gettext_noop("Outcome"),
        gettext_noop("Over the handbook"),
        gettext_noop("Ratio"),
        gettext_noop("Ratio to solid wood"),
        gettext_noop("Series"),
        gettext_noop("Set against"),
        gettext_noop("Share"),
        gettext_noop("Shops"),
        gettext_noop("Size"),
        gettext_noop("Size of the member"),
        gettext_noop("Sizes of the joint"),
        gettext_noop("Specimen"),
        gettext_noop("Specimens"),
        gettext_noop("Specimens behind it"),
        gettext_noop("Specimens of each joint"),
        gettext_noop("Spread"),
        gettext_noop("Spread (CV)"),
        gettext_noop("Stress"),
        gettext_noop("Strongest"),
        gettext_noop("Studies"),
        gettext_noop("Studies of both"),
        gettext_noop("Studies with both"),
        gettext_noop("Study"),
        gettext_noop("Such as"),
        gettext_noop("Tested against"),
        gettext_noop("The chance of telling it, by the number of specimens"),
        gettext_noop("The next shop may find"),
        gettext_noop("The next shop should expect"),
        gettext_noop("The same without flagged specimens"),
        gettext_noop("The series behind the chart"),
        gettext_noop("Their mean"),
        gettext_noop("Their specimens"),
        gettext_noop("This study"),
        gettext_noop("This study beside all others"),
        gettext_noop("This study lies"),
        gettext_noop("Timber"),
        gettext_noop("Times the margin now"),
        gettext_noop("Weakest"),
        gettext_noop("What it gains"),
        gettext_noop("What to do"),
        gettext_noop("What to make"),
        gettext_noop("What was left out, and why"),
        gettext_noop("What would raise the margin, the highest lower limit first"),
        gettext_noop("Where it broke"),
        gettext_noop("Where the joints broke, and how much those had taken"),
        gettext_noop("Without"),
        gettext_noop("Wood failure"),
        gettext_noop("Workshop"),
    )
)


def heading(text: str) -> str:
    """A heading or caption in the reader's language, its unit as it is; the text itself where none is known."""
    if text in _KNOWN:
        return gettext(text)
    name, comma, unit = text.rpartition(", ")
    if name in _KNOWN:
        return f"{gettext(name)}{comma}{unit}"
    if level := _LEVEL.fullmatch(text):
        return gettext("%(level)s interval") % {"level": level[1]}
    return text


def called(name: str) -> str:
    """A name of the vocabulary in the reader's language, a unit after it as it is: "peak load, N"."""
    said = named(name)
    first, comma, unit = name.rpartition(", ")
    return f"{named(first)}{comma}{unit}" if said == name and first else said
