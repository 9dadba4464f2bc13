"""The only door between saved records and the numeric code.

`state` turns records into stored footings and notices what the numbers show; `compare` reads stored footings
back as frames and sets joints side by side, `linked` through the network of studies; `limits` gives what most
joints exceed, `extent` how much evidence there is; `study_view` gathers what a study's page shows.
"""

from .choices import BadChoice, Choices
from .compare import Comparison, compare, unit_of
from .draft import Draft, Noticed, Place
from .extent import BY, Extent, extent
from .facets import facets
from .limits import MODELS, Limits, limits
from .linked import Linked, linked
from .restate import as_findings, restate
from .state import state
from .study import StudyView, study_view

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
    "as_findings",
    "compare",
    "extent",
    "facets",
    "limits",
    "linked",
    "restate",
    "state",
    "study_view",
    "unit_of",
]
