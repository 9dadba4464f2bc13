"""The records, as typed and in SI; import them from here."""

from .finding import Finding
from .footing import SeriesFooting
from .series import Series, Summary
from .setup import Setup
from .specimen import Specimen
from .study import Study
from .upload import Upload
from .vocabulary import AdhesiveClass, FailurePlace, Instrument, Joint, JointFamily, Loading, Timber

__all__ = [
    "AdhesiveClass",
    "FailurePlace",
    "Finding",
    "Instrument",
    "Joint",
    "JointFamily",
    "Loading",
    "Series",
    "SeriesFooting",
    "Setup",
    "Specimen",
    "Study",
    "Summary",
    "Timber",
    "Upload",
]
