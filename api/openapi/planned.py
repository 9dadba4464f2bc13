"""How a plan of a test is answered."""

from __future__ import annotations

from .cells import TEXTS, Schema, strict

_NUMBER: Schema = {"type": ["number", "null"]}
_COUNT: Schema = {"type": "integer"}
_SENTENCES: Schema = {"type": "array", "items": TEXTS}
_ROWS: Schema = {"type": "array", "items": {"type": "object"}}
_LOAD = strict(
    {
        **dict.fromkeys(("typical_n", "low_n", "high_n", "at_joint"), {"type": "number"}),
        "unit": {**TEXTS, "description": "Of at_joint."},
        "working": _ROWS,
    }
)
_RIG = strict(
    {
        "verdict": {"type": "string", "enum": ["reads them all", "too small", "too coarse"]},
        **dict.fromkeys(("full_scale", "low_share", "high_share"), {"type": "number"}),
        **dict.fromkeys(("unit", "words"), TEXTS),
        **dict.fromkeys(("least_arm_mm", "most_arm_mm"), _NUMBER),
        "working": _ROWS,
    }
)
_SERIES = strict(
    {
        **dict.fromkeys(("series", "joint", "joint_name", "why", "load_from"), TEXTS),
        "n": _COUNT,
        "control": {"type": "boolean"},
        "load": {"anyOf": [_LOAD, {"type": "null"}], "description": "Loads to expect on the rig."},
        "rig": {"anyOf": [_RIG, {"type": "null"}], "description": "Whether the instrument reads them."},
    }
)
_TOLD = strict(dict.fromkeys(("ratio", "ratio_down"), {"type": "number"}))
_RUN = strict({"turn": _COUNT, "block": _COUNT, "series": TEXTS, "specimen": _COUNT})
PLAN: Schema = strict(
    {
        "caution": strict({"use": TEXTS, "leads": {"type": "boolean"}, "sentences": _SENTENCES}),
        "query": {**TEXTS, "description": "What was asked, as an address has it."},
        **dict.fromkeys(("title", "question", "loading", "action", "cv_source"), TEXTS),
        "n": {**_COUNT, "description": "Specimens of each joint in question."},
        "specimens": {**_COUNT, "description": "Of all series together."},
        **dict.fromkeys(("ratio", "cv", "power_wanted", "alpha"), {"type": "number"}),
        "n_for_power": _COUNT,
        "told_by_n": {"anyOf": [_TOLD, {"type": "null"}], "description": "What the number that can be made tells."},
        "curve": {**_ROWS, "description": "The chance of telling the ratio, by the number of specimens."},
        "series": {"type": "array", "items": _SERIES},
        "arms_mm": {
            "anyOf": [{"type": "array", "items": {"type": "number"}}, {"type": "null"}],
            "description": "Shortest arm for the strongest series, longest for the weakest to be read.",
        },
        "arms": {**TEXTS, "description": "The same in a sentence, rounded to the side on which the rig will do."},
        "order": {"type": "array", "items": _RUN},
        "invented": {"type": "boolean", "description": "Whether any figure is from studies that are made up."},
        "remarks": {"type": "array", "items": strict({"parameter": TEXTS, "message": TEXTS})},
        "notes": _SENTENCES,
    }
)
