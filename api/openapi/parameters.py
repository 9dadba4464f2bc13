"""Parameters of the addresses, from the filters and choices that read them."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from django.contrib.auth.models import AnonymousUser
from django.db.models import Model
from django.forms import Field

from results.evidence import BY, MODELS
from results.evidence.choices import ACTIONS, ANY, CONDITIONING, GROUPS, LEVELS, TESTS, WITH
from results.models import AdhesiveClass, Joint, Timber
from results.practice.asked import Asked, QuantityField, WordField
from stats.footing.ladder import FOOTINGS
from stats.footing.units import UNITS

from ..filter_kinds import Numbers, Search, Words
from ..filters import Strict
from ..pagination import Pages
from ..renderers import FORMATS
from .cells import Schema

Parameter = dict[str, Any]
# Longer lists of words would hide the rest; they are in the tables themselves.
WORDS_MOST = 300
MEANINGS = {
    "status": "State of the study; accepted ones if it isn't given. Drafts are read by their contributor only.",
    "study": "Number of a study.",
    "series": "Number of a series.",
    "joint": "Code of a joint, from the table of joints.",
    "family": "Code of a family of joints.",
    "timber": "Code of a timber, from the table of timbers.",
    "adhesive": "Code of a class of glue.",
    "loading": "Code of a loading arrangement.",
    "action": "What the joint feels.",
    "tests": "A joint as it is used, or a glue bond by itself.",
    "conditioning": "What the joints went through before the test.",
    "workshop": "Who made the tests, in full.",
    "invented": "Whether the study is made up to show how the book works; with means both, without those that aren't.",
    "outcome": "Broke, held (stopped first) or void (the rig failed).",
    "failure_place": "Code of where it broke.",
    "flagged": "Whether a check doubts the specimen; with means all of them, without means those not doubted.",
    "footing": "The quantity the numbers are on.",
    "available": "Whether the footing can be had.",
    "origin": "Own tests, or taken from a publication.",
    "licence": "How the data may be used.",
    "severity": "How grave a finding is.",
    "group": "Hardwood or softwood.",
    "q": "Words of the title, question or workshop of a study, or of a timber's names; all of them have to be there.",
}


def one(name: str, schema: Schema, about: str, **more: Any) -> Parameter:
    """A parameter that is given once."""
    found = {"name": name, "in": "query", "required": False, "description": about, "schema": or_empty(schema)}
    return {**found, **more}


def or_empty(schema: Schema) -> Schema:
    """A value left empty, as a form sends it, is no value."""
    if schema.get("type") == "array":
        return {**schema, "items": or_empty(schema["items"])}
    if "enum" in schema:
        return {**schema, "enum": [*schema["enum"], ""]}
    if schema.get("type") == "string" and "enum" not in schema:
        return schema
    return {"anyOf": [*schema.get("anyOf", [schema]), {"type": "string", "const": ""}]}


def many(name: str, items: Schema, about: str) -> Parameter:
    """A parameter that may be repeated, which means "or"."""
    schema = {"type": "array", "items": items}
    return {**one(name, schema, f"{about} Repeat it for several."), "style": "form", "explode": True}


def commas(name: str, known: list[str], about: str, example: str) -> Parameter:
    """A parameter that lists names with commas."""
    schema = {"type": "array", "items": {"type": "string", "enum": known}}
    return {**one(name, schema, about, example=[example]), "style": "form", "explode": False}


def filters(filterset: type[Strict]) -> list[Parameter]:
    """Those that choose rows."""
    request = SimpleNamespace(user=AnonymousUser())
    return [_filter(name, kind, request) for name, kind in filterset.base_filters.items()]


def _filter(name: str, kind: Words, request: Any) -> Parameter:
    about = MEANINGS[name]
    if isinstance(kind, Search):
        return one(name, {"type": "string", "maxLength": kind.MOST}, about)
    if isinstance(kind, Numbers):
        return many(name, {"type": "integer", "minimum": 0, "maximum": 10**18 - 1}, about)
    return many(name, words([str(word) for word in kind.known(request)]), about)


def words(known: list[str]) -> Schema:
    """One of these words; any text where there are too many to show, or none yet."""
    return {"type": "string", **({"enum": known} if 0 < len(known) <= WORDS_MOST else {})}


def codes(model: type[Model]) -> list[str]:
    return [str(code) for code in model._default_manager.values_list("pk", flat=True)]


def format_of(known: tuple[str, ...] = FORMATS) -> Parameter:
    about = (
        "Format of the answer; it goes before the Accept header. The address may end in it as well, as in .csv: "
        "csv is tidy and safe to open in a spreadsheet, ndjson has an object a line, parquet carries unit and meaning "
        "with each column."
    )
    return one("format", {"type": "string", "enum": list(known)}, about)


def presentation(columns: list[str], order: tuple[str, ...]) -> list[Parameter]:
    """Those that say how rows are answered."""
    size = {"type": "integer", "minimum": 1}
    pages = {"anyOf": [{"type": "integer", "minimum": 1}, {"type": "string", "const": "last"}]}
    found = [
        commas("fields", columns, "Only these columns.", columns[0]),
        one("page", pages, f"Number of the page, of {Pages.page_size} rows if page_size doesn't say otherwise."),
        one("page_size", size, f"Rows on a page; above {Pages.max_page_size} it gives as many as that.", example=100),
        one(
            "cursor",
            {"type": "string"},
            "A page that costs the same at any depth: empty for the first, then what the Link header's rel=next has.",
        ),
        format_of(),
    ]
    if order:
        both = [sign + name for name in order for sign in ("", "-")]
        about = "Order of the rows; with - the largest first. Missing values come last."
        found.insert(0, commas("ordering", both, about, order[0]))
    return found


def choices() -> list[Parameter]:
    """Those of a comparison."""
    joints = codes(Joint)
    return [
        many("joint", words(joints), MEANINGS["joint"] + " All, if none is named."),
        one("action", words([*ACTIONS, ANY]), MEANINGS["action"] + " bending if it isn't given."),
        one("footing", words(list(FOOTINGS)), MEANINGS["footing"] + " ratio_solid if it isn't given."),
        one("tests", words(list(TESTS)), MEANINGS["tests"] + " joint if it isn't given."),
        many("timber", words(codes(Timber)), MEANINGS["timber"]),
        many("group", words(list(GROUPS)), "Group of timbers."),
        many("adhesive", words(codes(AdhesiveClass)), MEANINGS["adhesive"]),
        many("conditioning", words(list(CONDITIONING)), "What the joints lived through before they were tested."),
        one("reference", words(joints), "Code of the joint that ratios are against."),
        one("flagged", words(list(WITH)), "With the specimens a check doubts, or without; with if it isn't given."),
        one("invented", words(list(WITH)), "With studies that are made up, or without; without if it isn't given."),
        one("level", words(list(LEVELS)), "Level of the intervals; 0.95 if it isn't given."),
    ]


def of_limit() -> list[Parameter]:
    share = {"type": "number", "minimum": 0.5, "maximum": 0.999}
    return [
        one("coverage", share, "Share of joints above the limit; 0.95 if it isn't given.", example=0.95),
        one("confidence", share, "Probability that the limit keeps its word; 0.75 if it isn't given.", example=0.75),
        one("model", words(list(MODELS)), "What strength is taken to follow; lognormal if it isn't given."),
    ]


def table(names: tuple[str, ...]) -> Parameter:
    return one("table", words(list(names)), "Only this table. Formats of tables give the first if none is named.")


def by() -> Parameter:
    return one("by", words(list(BY)), "What cells are split by, beside joint, action and kind of test.")


def of_form(form: Asked) -> list[Parameter]:
    """Those of a form that an address holds: words with their codes, quantities as people write them."""
    return [_of_field(name, field) for name, field in form.fields.items()]


def _of_field(name: str, field: Field) -> Parameter:
    about = f"{field.label}. {field.help_text}".strip()
    # A schema can't say how people write quantities, so any text is taken and what can't be read is told.
    schema: Schema = {"type": "string"}
    if isinstance(field, WordField):
        schema = words([code for code in field.codes if code])
    elif isinstance(field, QuantityField) and field.unit:
        about = f"{about} A number in {field.unit}, or with its unit: {', '.join(UNITS[field.kind][:4])}."
        if field.kind == "force":
            about += " Kilograms and pounds are taken as the weight of that mass."
    given = field.initial if field.initial is not None else field.widget.attrs.get("placeholder")
    taken = f" {given} if it isn't given." if given not in (None, "") else ""
    return one(name, schema, about + taken, **({"required": True} if field.required else {}))
