"""Why each thing is asked, in a few words: what the form and the template say after what it means."""

from __future__ import annotations

from stats.footing.area_rules import AREAS

# By record and column; what a column's own help says already is not said again.
WHY = {
    ("study", "title"): "Others find it by this.",
    ("study", "question"): "A test answers the question it was made for, and no other.",
    ("study", "workshop"): "Shops differ, so the book tells them apart.",
    ("study", "tested on"): "Tells these tests from your later ones.",
    ("study", "origin"): "A published mean carries less weight than single results.",
    ("study", "citation"): "Others must be able to check the figures.",
    ("study", "licence"): "Without one nobody may use them.",
    ("study", "invented"): "Made-up numbers are kept apart from real ones.",
    ("study", "length unit"): "A bare 12 may be inches or millimetres.",
    ("setup", "loading"): "It decides what the joint feels.",
    ("setup", "instrument"): "It tells what a reading means and how sure it is.",
    ("setup", "reading unit"): "A pound taken for a newton is 4.4 times wrong.",
    ("setup", "ram diameter"): "Pressure times its area is the force.",
    ("setup", "lever ratio"): "A lever multiplies what you read.",
    ("setup", "arm reference"): "Half a post's width may be a tenth of the arm.",
    ("study", "plan"): "What was settled before testing can't have been picked to fit.",
    ("setup", "angle"): "Only the part of the load that is square to the arm bends the joint.",
    ("setup", "span"): "Bending grows with it.",
    ("setup", "load offset"): "Bending is the load times this.",
    ("setup", "joint offset"): "Bending is less away from the load.",
    ("setup", "leg"): "It is the lever that opens or closes the corner.",
    ("setup", "friction"): "Friction carries part of the load.",
    ("setup", "rail height"): "It is the lever of the push.",
    ("setup", "frames"): "They share the push.",
    ("setup", "shear faces"): "Two faces share the load.",
    ("setup", "rate"): "Wood takes more when it is loaded fast.",
    ("series", "series"): "Charts and tables call it this.",
    ("series", "joint"): "It is compared with others of its kind.",
    ("series", "tests"): "The two are never compared with each other.",
    ("series", "adhesive"): "Readers look for the glue they use.",
    ("series", "grain a"): "End grain holds far less than long grain.",
    ("series", "control"): "It cancels what the rig reads wrong.",
    ("series", "moisture"): "Dry wood is stronger; that is allowed for.",
    ("series", "density"): "Denser wood of a kind holds more.",
    ("series", "conditioning"): "Seasons loosen joints.",
    ("series", "cycles"): "Repeated loads loosen joints.",
    ("series", "sd"): "Without it the spread is borrowed from like series.",
    ("series", "n"): "Without it the mean weighs as a single specimen.",
    ("specimen", "reading"): "The peak, not what it showed afterwards.",
    ("specimen", "outcome"): "One that held took at least this much, so it counts.",
    ("specimen", "void reason"): "So that none is dropped without a word.",
    ("specimen", "wood failure"): "It shows whether wood or glue gave way.",
    ("series", "member thickness"): "Strength grows with it.",
    ("series", "member depth"): "Strength in bending grows with its square.",
}
_IN_AREA = {name for rule in AREAS.values() for name in rule.needs} | {"tenon_count"}
# A couple of dowels or screws turns about the far edge: stats/practice/scaling.py.
_AS_LEVER = {"fastener_spacing_mm", "fastener_edge_mm"}


def of_a_size(field: str) -> str:
    """Why a size of a joint is asked: what is worked out from it, if anything is."""
    if field in _IN_AREA:
        return "The bonded area is worked out from it."
    if field in _AS_LEVER:
        return "It is the lever when the result is carried to another size."
    return "It is kept, so that others see what was tested; strength isn't worked out from it."
