"""The only door between saved records and the numeric code.

`state` turns records into stored footings and notices what the numbers show; `compare` reads stored footings
back as frames and sets joints side by side, `linked` through the network of studies; `limits` gives what most
joints exceed, `extent` how much evidence there is; `packing` keeps beside each study what they read of it;
`study_view` gathers what a study's page shows.
"""

from . import packing
from .choices import BadChoice, Choices
from .compare import Comparison, compare, unit_of
from .draft import Draft, Noticed, Place
from .extent import BY, Extent, extent
from .facets import facets
from .limits import MODELS, Limits, limits
from .linked import Linked, linked
from .matrix import matrix
from .restate import as_findings, restate
from .state import state
from .study import StudyView, study_view
from .verdict import Verdict, verdicts

__all__ = [
    "BY",
    "MODELS",
    "BadChoice",
    "Choices",
    "Comparison",
    "Draft",
    "Extent",
    "Limits",
    "Linked",
    "Noticed",
    "Place",
    "StudyView",
    "Verdict",
    "as_findings",
    "compare",
    "extent",
    "facets",
    "limits",
    "linked",
    "matrix",
    "packing",
    "restate",
    "state",
    "study_view",
    "unit_of",
    "verdicts",
]
