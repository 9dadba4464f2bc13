"""The records, as typed and in SI; import them from here."""

from .data_version import DataVersion, bump, data_version, version_now
from .finding import Finding
from .footing import SeriesFooting
from .form_draft import FormDraft
from .packed import Packed
from .photo import Photo
from .plan import Plan
from .profile import Notice, Profile
from .question import Answer, Question
from .release import Release
from .revision import Entry, Revision, last_accepted
from .rig import Calibration, Rig
from .series import Series, Summary
from .setup import Setup
from .specimen import Specimen
from .study import Study, reviews
from .upload import Upload
from .vocabulary import AdhesiveClass, FailurePlace, Instrument, Joint, JointFamily, Loading, Timber

__all__ = [
    "AdhesiveClass",
    "Answer",
    "Calibration",
    "DataVersion",
    "Entry",
    "FailurePlace",
    "Finding",
    "FormDraft",
    "Instrument",
    "Joint",
    "JointFamily",
    "Loading",
    "Notice",
    "Packed",
    "Photo",
    "Plan",
    "Profile",
    "Question",
    "Release",
    "Revision",
    "Rig",
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
    "last_accepted",
    "reviews",
    "version_now",
]
