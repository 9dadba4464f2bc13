"""What each address answers, as JSON Schema."""

from __future__ import annotations

from typing import Any

from results.models import Setup
from stats.inference.certainty import LEVELS

from ..columns import Column
from ..normalising import READINGS_MOST
from .cells import ANY_OBJECT, FINDING, PROBLEM, TEXTS, Schema, listed, ref, row, strict
from .planned import PLAN

NUMBER: Schema = {"type": ["number", "null"]}
COUNT: Schema = {"type": ["integer", "null"]}
WORD: Schema = {"type": ["string", "null"]}
ROWS: Schema = {"type": "array", "items": ANY_OBJECT}
STEPS: Schema = {
    "type": "array",
    "description": "The derivation: what was multiplied by what, and on whose authority.",
    "items": strict(
        {
            "name": TEXTS,
            "formula": TEXTS,
            "inputs": {"type": "object", "additionalProperties": {"type": "array", "description": "Value and unit."}},
            "factor": {"type": ["number", "array"], "description": "What the value before is multiplied by."},
            "result_unit": TEXTS,
            "source": TEXTS,
            "note": TEXTS,
        }
    ),
}


def component(table: str) -> str:
    """Name of a table's row among the components."""
    return "".join(word.capitalize() for word in table.split("-")) + "Row"


def components(tables: dict[str, tuple[Column, ...]]) -> dict[str, Schema]:
    """What several answers share."""
    rows = {component(name): row(columns) for name, columns in tables.items()}
    return {**rows, "Problem": PROBLEM, "Finding": strict(FINDING)}


def page_of(table: str) -> Schema:
    return listed(ref(component(table)))


def record(table: str, columns: tuple[Column, ...]) -> Schema:
    """A single record: its row, and what belongs to it."""
    return row(columns, more=_PARTS.get(table, {}))


_FINDINGS: Schema = {"type": "array", "items": ref("FindingsRow")}
_PARTS: dict[str, dict[str, Schema]] = {
    "studies": {
        "page": {"type": "string", "description": "Path of the study's page."},
        "setups": {
            "type": "array",
            "items": row(
                (),
                more={
                    **{name: {} for name in ("id", "label", "loading", "instrument", "reads", "arm_reference")},
                    **dict.fromkeys((*Setup.LENGTHS, *Setup.NUMBERS, "rate_mm_min"), NUMBER),
                    "typed": {"type": "object", "description": "Each length as it was typed."},
                    "notes": TEXTS,
                },
            ),
        },
        "series_rows": {"type": "array", "items": ref("SeriesRow")},
        "findings": _FINDINGS,
    },
    "series": {
        "typed": {"type": "object", "description": "Each dimension as it was typed."},
        "faces": WORD,
        "footings": {"type": "array", "items": ANY_OBJECT, "description": "Every footing, with its working."},
        "published": {"type": ["object", "null"], "description": "A published mean, as typed and in SI."},
        "findings": _FINDINGS,
    },
}
_COMPARED: dict[str, Schema] = {
    "query": {"type": "string", "description": "The choice, as an address has it."},
    "action": TEXTS,
    "footing": strict({"code": TEXTS, "name": TEXTS, "symbol": TEXTS, "unit": TEXTS}),
    "level": {"type": "number"},
    "flagged": {"type": "string", "enum": ["with", "without"]},
    "reference": {"type": "string", "description": "Code of the joint that ratios are against."},
    "invented": {"type": "boolean", "description": "Whether any study in it is made up."},
    "refused": {"type": "string", "description": "Why nothing is shown; empty where something is."},
    "alternatives": {"type": "array", "items": strict({"label": TEXTS, "query": TEXTS})},
}


def statistic(name: str, tables: tuple[str, ...]) -> Schema:
    """All of a statistic; with ``table`` one of its tables in the envelope of a list."""
    if name == "network":
        test = strict({"q": NUMBER, "df": COUNT, "p": NUMBER})
        routes = strict({"q": NUMBER, "df": COUNT, "p": NUMBER, "q_within": NUMBER, "df_within": COUNT})
        more = {
            "studies": COUNT,
            "series": COUNT,
            "between_variance": {**NUMBER, "description": "Variance between studies of a log ratio."},
            "between_variance_low": NUMBER,
            "between_variance_high": NUMBER,
            "i_squared": {**NUMBER, "description": "Share of the spread that the series' own errors don't explain."},
            "df": COUNT,
            "scale": {**NUMBER, "description": "Knapp-Hartung factor on the variances."},
            "inconsistency": {"anyOf": [routes, {"type": "null"}]},
            "replicates": {"anyOf": [test, {"type": "null"}]},
            "notes": {"type": "array", "items": TEXTS},
            **dict.fromkeys(tables, ROWS),
        }
    elif name == "limits":
        more = {"coverage": {"type": "number"}, "confidence": {"type": "number"}, "model": TEXTS, "limits": ROWS}
    else:
        reason = strict({"name": TEXTS, "steps": COUNT, "reason": TEXTS})
        verdict = strict(
            {
                **dict.fromkeys(("joint", "sentence", "thin", "not_said"), TEXTS),
                "certainty": {"enum": [*LEVELS, None], "description": "Of this evidence, not of the joint."},
                "reasons": {"type": "array", "items": reason},
            }
        )
        more = {"verdicts": {"type": "array", "items": verdict}, **{t: ROWS for t in tables if t != "points"}}
    return {"anyOf": [strict({**_COMPARED, **more}), listed(ANY_OBJECT)]}


def evidence() -> Schema:
    number = {"type": "integer"}
    cell = strict(
        {"joint": TEXTS, "action": TEXTS, "tests": TEXTS, **dict.fromkeys(("studies", "series", "specimens"), number)},
        {"part": number, "timber": WORD, "adhesive": WORD},
    )
    part = {
        "action": TEXTS,
        "tests": TEXTS,
        "part": number,
        "joints": {"type": "array", "items": TEXTS},
        "studies": number,
    }
    parts = {"type": "array", "items": strict(part), "description": "Joints that studies link, by action."}
    apart = {
        "type": "array",
        "items": strict({**part, "reason": TEXTS}),
        "description": "Parts that nothing links to the one with most joints.",
    }
    more = {"by": TEXTS, "parts": parts, "apart": apart}
    return {"anyOf": [listed(cell, more=more), listed({"anyOf": [cell, strict(part)]})]}


_LINES: Schema = {
    "type": "array",
    "description": "The working, a line a step: formula, what went in, the result, and on whose authority.",
    "items": ANY_OBJECT,
}
_NOTES: Schema = {"type": "array", "items": TEXTS}
_CAUTION = strict({"use": TEXTS, "leads": {"type": "boolean"}, "sentences": _NOTES})
_BETWEEN: Schema = {"type": ["object", "null"], "description": "Where a further joint would lie: low, high, level."}
_FIGURE: dict[str, Schema] = {"caution": _CAUTION, "value": {"type": "number"}, "unit": TEXTS, "working": _LINES}
_DEMAND = strict(
    {
        **_FIGURE,
        **dict.fromkeys(("piece", "joint_in_piece", "action", "assumption"), TEXTS),
        **dict.fromkeys(("least", "bending_nm", "axial_n", "shear_n"), {"type": "number"}),
        "determinate": {"type": "boolean", "description": "Whether equilibrium alone gives it; else it is the most."},
        "inputs": ANY_OBJECT,
        "factors": ANY_OBJECT,
        "defaulted": _NOTES,
        "notes": _NOTES,
    }
)
# Where a strength can be carried to a piece's sizes in several ways: by the glued faces, by the member's section.
_BY_WAYS: dict[str, Schema] = {
    "value": {"type": "number", "description": "By the way of carrying it over that gives the least."},
    "upper": {"type": "number", "description": "By the way of carrying it over that gives the most."},
}
_CAPACITY = strict(
    {
        **_FIGURE,
        "action": TEXTS,
        **_BY_WAYS,
        "typical": {"type": "number", "description": "Of a middling joint."},
        "single": _BETWEEN,
        "ways": ROWS,
        "factors": ROWS,
        "sizes": ANY_OBJECT,
        "as_tested": {**_NOTES, "description": "Sizes that were not given and are those tested."},
        "limit": ANY_OBJECT,
        "other_limit": {"type": ["object", "null"], "description": "By the other way to the strength."},
        "evidence": ANY_OBJECT,
        "notes": _NOTES,
    }
)
_WORKED: dict[str, Schema] = {
    "plan": PLAN,
    "demand": _DEMAND,
    "capacity": _CAPACITY,
    "margin": strict(
        {
            "caution": _CAUTION,
            **_BY_WAYS,
            **dict.fromkeys(("typical", "chance_short"), {"type": "number"}),
            "single": _BETWEEN,
            "words": TEXTS,
            "working": _LINES,
            "changes": {
                **ROWS,
                "description": "What would raise it, the most first, with the shops and specimens that each rests on; "
                "refused says why one can't be.",
            },
            "place": {**TEXTS, "description": "Where the piece's worst joint is."},
            "left_out": {**_NOTES, "description": "Codes of joints tested that aren't made at such a place."},
            "over": {"type": "object", "additionalProperties": ROWS, "description": "The margin over a size."},
            "demand": _DEMAND,
            "capacity": _CAPACITY,
        }
    ),
    "share": strict(
        {
            "caution": _CAUTION,
            "n": {"type": "integer"},
            **dict.fromkeys(("unit", "model", "words"), TEXTS),
            **dict.fromkeys(("mean", "cv"), {"type": "number"}),
            "shares": {"type": "array", "items": {"type": "number"}},
            "bounds": ROWS,
        }
    ),
    "leverage": strict(
        {
            "caution": _CAUTION,
            **dict.fromkeys(("moment_nm", "push_n", "reach_mm"), {"type": "number"}),
            "typical_nm": NUMBER,
            "push_source": TEXTS,
            "curve": ROWS,
        }
    ),
    "movement": strict(
        {
            "caution": _CAUTION,
            "timber": TEXTS,
            **dict.fromkeys(("coefficient_per_pct", "winter_pct", "summer_pct", "glued_pct"), {"type": "number"}),
            **dict.fromkeys(("to_winter", "to_summer", "cross_grain", "evidence"), ANY_OBJECT),
            "year": ROWS,
        }
    ),
}


def worked(name: str) -> Schema:
    """What is worked out for a piece."""
    return _WORKED[name]


def texts(*names: str, **others: Schema) -> Schema:
    """A list of rows of text."""
    return listed(strict({**dict.fromkeys(names, TEXTS), **others}))


_TYPED: Schema = {"type": ["string", "number", "boolean", "null"]}
_SERIES: Schema = {
    "type": "object",
    "description": "Joint, timber, dimensions, moisture and whatever else the template's columns of a series have.",
    "additionalProperties": _TYPED,
    "properties": {"joint": TEXTS, "timber": WORD},
    "required": ["joint"],
}
_READINGS: Schema = {
    "type": "array",
    "minItems": 1,
    "maxItems": READINGS_MOST,
    "description": 'A reading as typed ("280 lbf"), or an object with the template\'s columns of a specimen.',
    "items": {"anyOf": [{"type": ["string", "number"]}, {"type": "object", "additionalProperties": _TYPED}]},
}
NORMALISE_BODY = strict(
    {
        "setup": {
            "type": "object",
            "description": "The rig, by the template's columns of a setup, with or without their unit in the name.",
            "additionalProperties": _TYPED,
            "properties": {"loading": TEXTS},
            "required": ["loading"],
        },
        "series": _SERIES,
        "readings": _READINGS,
    },
    {
        "length_unit": {"type": "string", "enum": ["mm", "cm", "in"], "description": "Of lengths typed without one."},
        "control": {
            **strict({"series": _SERIES, "readings": _READINGS}),
            "description": "The series on the same rig that this one is measured against.",
        },
    },
)
NORMALISE_EXAMPLE: dict[str, Any] = {
    "setup": {"loading": "cantilever_arm", "instrument": "luggage_scale", "arm": "300 mm"},
    "series": {
        "joint": "mt_blind",
        "timber": "oak_northern_red",
        "member thickness": "20 mm",
        "member depth": "40 mm",
        "moisture": 9,
    },
    "readings": ["127 kg", "280 lbf", {"reading": "118 kg", "outcome": "held"}],
}
NORMALISED = strict(
    {
        "action": TEXTS,
        "reads": {"type": "string", "enum": ["force", "moment", "stress"]},
        "reading_steps": STEPS,
        "readings": {
            "type": "array",
            "items": strict(
                {
                    "reading_typed": TEXTS,
                    "reading_unit": TEXTS,
                    "outcome": {"type": "string", "enum": ["broke", "held", "void"]},
                    "flagged": {"type": "boolean", "description": "A check doubts it."},
                    "footings": {"type": "object", "additionalProperties": NUMBER, "description": "Its value on each."},
                }
            ),
        },
        "footings": {
            "type": "array",
            "items": strict(
                {
                    "code": TEXTS,
                    "name": TEXTS,
                    "symbol": TEXTS,
                    "unit": TEXTS,
                    "values": {"type": "array", "items": NUMBER, "description": "By reading."},
                    "factor": NUMBER,
                    "basis": TEXTS,
                    "worked": TEXTS,
                    "steps": STEPS,
                    "missing": {"type": "array", "items": TEXTS},
                }
            ),
        },
        "findings": {"type": "array", "items": strict({**FINDING, "pointer": {"type": "string"}})},
    }
)
DRAFT_ROW: Schema = {
    "type": "object",
    "additionalProperties": _TYPED,
    "description": "A specimen, by the flat template's columns; study, setup and series repeated or left out below.",
}
DRAFT_BODY: Schema = {
    "anyOf": [
        {"type": "array", "items": DRAFT_ROW, "minItems": 1},
        strict({"rows": {"type": "array", "items": DRAFT_ROW, "minItems": 1}}),
    ]
}
DRAFT_EXAMPLE = [
    {
        "study title": "Rails into posts",
        "study question": "Does a longer tenon take more?",
        "study workshop": "Shop by the river",
        "study licence": "CC-BY-4.0",
        "setup": "jack and arm",
        "setup loading": "cantilever_arm",
        "setup arm": "300 mm",
        "series": "A",
        "series joint": "mt_blind",
        "series timber": "oak_northern_red",
        "series member thickness": "20 mm",
        "series member depth": "40 mm",
        "specimen": "A1",
        "specimen reading": "280 lbf",
    },
    {"series": "A", "specimen": "A2", "specimen reading": "265 lbf"},
]
PLACED: dict[str, Schema] = {"row": COUNT, "column": COUNT}
DRAFTED = strict(
    {
        "study_id": {"type": "integer"},
        "study_status": {"type": "string"},
        "address": {"type": "string", "format": "uri"},
        "findings": {"type": "array", "items": strict({**FINDING, **PLACED})},
    }
)
