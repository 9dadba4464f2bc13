"""The records, as typed and in SI; import them from here."""

from .data_version import DataVersion, bump, data_version
from .finding import Finding
from .footing import SeriesFooting
from .packed import Packed
from .release import Release
from .series import Series, Summary
from .setup import Setup
from .specimen import Specimen
from .study import Study
from .upload import Upload
from .vocabulary import AdhesiveClass, FailurePlace, Instrument, Joint, JointFamily, Loading, Timber

__all__ = [
    "AdhesiveClass",
    "DataVersion",
    "FailurePlace",
    "Finding",
    "Instrument",
    "Joint",
    "JointFamily",
    "Loading",
    "Packed",
    "Release",
    "Series",
    "SeriesFooting",
    "Setup",
    "Specimen",
    "Study",
    "Summary",
    "Timber",
    "Upload",
    "bump",
    "data_version",
]
