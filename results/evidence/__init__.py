"""The only door between saved records and the numeric code.

`state` turns records into stored footings and notices what the numbers show; `compare` reads stored footings
back as frames and sets joints side by side; `study_view` gathers what a study's page shows.
"""

from .choices import BadChoice, Choices
from .compare import Comparison, compare, unit_of
from .draft import Draft, Noticed, Place
from .facets import facets
from .restate import as_findings, restate
from .state import state
from .study import StudyView, study_view

__all__ = [
    "BadChoice",
    "Choices",
    "Comparison",
    "Draft",
    "Noticed",
    "Place",
    "StudyView",
    "as_findings",
    "compare",
    "facets",
    "restate",
    "state",
    "study_view",
    "unit_of",
]
