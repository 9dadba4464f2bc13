"""Each address as an operation; drf-spectacular finds the addresses and puts the document together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from drf_spectacular.openapi import AutoSchema

from ..errors import PROBLEMS
from ..formats import CSV, NDJSON, PARQUET_TYPE
from . import answers, parameters
from .cells import PROBLEM_EXAMPLE, TEXTS, Schema, ref

JSON = "application/json"
PROBLEM_TYPE = "application/problem+json"
_WHEN = {
    "400": "A parameter or the body can't be used; every fault is named.",
    "401": "The token is missing or not known.",
    "403": "Not allowed.",
    "404": "There is no such address, page or record that you may read.",
    "406": "The Accept header allows none of the formats.",
    "409": "The Idempotency-Key was used by somebody else.",
    "413": "The body is larger than is taken.",
    "415": "The body is of a kind that isn't taken.",
    "422": "What was asked for or sent can't be worked out; the detail says why.",
    "429": "Too many requests; Retry-After has the seconds to wait.",
}
_ALWAYS = {
    "RateLimit": ("What is left of the allowance, and seconds until it is whole again.", TEXTS),
    "RateLimit-Policy": ("The allowance: requests and the seconds they are for.", TEXTS),
}
_READ = {
    "ETag": ("Tag of this answer; send it as If-None-Match to be told with 304 that nothing has changed.", TEXTS),
    "Last-Modified": ("When the data last changed.", TEXTS),
    "Cache-Control": ("How long it may be kept.", TEXTS),
}
_LINKS = {"Link": ("Addresses of the first, next, previous and last page (RFC 8288).", TEXTS)}


class Schema31(AutoSchema):
    """Asks the view what kind it is, and describes it; a view of no known kind is left out."""

    def get_operation(
        self, path: str, path_regex: str, path_prefix: str, method: str, registry: Any
    ) -> dict[str, Any] | None:
        if "{format}" in path or "{rest}" in path:
            return None
        found = _describe(self.view, method)
        if found is None:
            return None
        where = [_in_path(name, self.view) for name in _names(path)]
        if where:
            found["parameters"] = [*where, *found.get("parameters", [])]
        return found


def _names(path: str) -> list[str]:
    return [part.split("}")[0] for part in path.split("{")[1:]]


def _in_path(name: str, view: Any) -> dict[str, Any]:
    if name == "kind":
        schema, about = parameters.words(list(PROBLEMS)), "Kind of problem."
    elif getattr(view, "model", None) is not None and view.model._meta.pk.name == "code":
        schema, about = {"type": "string", "pattern": "^[-a-zA-Z0-9_]+$"}, f"Code of the {view.one}."
        schema = parameters.words(parameters.codes(view.model)) if parameters.codes(view.model) else schema
    else:
        schema, about = {"type": "integer", "minimum": 0, "maximum": 2**63 - 1}, f"Number of the {view.one}."
    return {"name": name, "in": "path", "required": True, "schema": schema, "description": about}


def _describe(view: Any, method: str) -> dict[str, Any] | None:
    from ..views import about, extent, normalise, openapi, practice, records, releases, statistics

    if isinstance(view, records.Records):
        return _records(view, method)
    if isinstance(view, statistics.Statistic):
        return _statistic(view)
    if isinstance(view, extent.Evidence):
        return _evidence(view)
    if isinstance(view, normalise.Normalise):
        return _normalise(view)
    if isinstance(view, practice.Worked):
        return _worked(view)
    plain = {
        about.Root: answers.texts("name", "about", "json", "csv", "filters", "ordering"),
        about.Columns: answers.texts("table", "column", "kind", "unit", "meaning"),
        about.Problem: answers.texts("kind", "title", "meaning"),
        releases.Releases: answers.listed(answers.ANY_OBJECT),
    }
    if type(view) in plain:
        name = type(view).__name__.lower()
        given = [parameters.format_of()]
        refusals = ("400", "404", "406", "429") if name == "problem" else ("400", "406", "429")
        return _read(f"about_{name}", "about", view.__doc__ or "", given, plain[type(view)], refusals)
    if isinstance(view, openapi.Description):
        given = [parameters.format_of(("json",))]
        document = {"type": "object", "required": ["openapi", "info", "paths"]}
        return _read("about_schema", "about", view.about, given, document, ("400", "406", "429"), tables=False)
    return None


def _records(view: Any, method: str) -> dict[str, Any]:
    name = view.table.replace("-", "_")
    if method == "POST":
        return _draft(view)
    if view.action == "list":
        given = [
            *parameters.filters(view.filterset_class),
            *parameters.presentation(view.column_names, view.order_names),
        ]
        about = f"{view.about} JSON comes by the page, the other formats whole unless a page is asked for."
        return _read(f"{name}_list", view.table, about, given, answers.page_of(view.table), headers=_LINKS)
    about = f"One {view.one}, with all that belongs to it; in the other formats its row."
    schema = answers.record(view.table, view.columns)
    given = [parameters.format_of()]
    return _read(f"{name}_one", view.table, about, given, schema, ("400", "404", "406", "429"))


def _statistic(view: Any) -> dict[str, Any]:
    more = parameters.of_limit() if "coverage" in view.own else []
    given = [*parameters.choices(), *more, parameters.table(view.tables), parameters.format_of()]
    schema = answers.statistic(view.name, view.tables)
    about = f"{view.about} All of it as JSON, one table in the other formats."
    return _read(view.name, "statistics", about, given, schema, ("400", "406", "422", "429"))


def _evidence(view: Any) -> dict[str, Any]:
    from ..views.extent import TABLES

    given = [
        *parameters.filters(view.filterset_class),
        parameters.by(),
        parameters.table(TABLES),
        parameters.format_of(),
    ]
    return _read("evidence", "statistics", view.about, given, answers.evidence(), ("400", "406", "429"))


def _worked(view: Any) -> dict[str, Any]:
    given = [*view.described(), parameters.format_of(("json",))]
    refusals = ("400", "406", "422", "429")
    return _read(view.name, "practice", view.about, given, answers.worked(view.name), refusals, tables=False)


def _normalise(view: Any) -> dict[str, Any]:
    body = {JSON: {"schema": answers.NORMALISE_BODY, "example": answers.NORMALISE_EXAMPLE}}
    return {
        "operationId": "normalise",
        "tags": ["statistics"],
        "summary": "Normalise readings of your own",
        "description": view.about,
        "requestBody": {"required": True, "content": body},
        "responses": {
            "200": _answer("The ladder, with its working.", {JSON: {"schema": answers.NORMALISED}}, _ALWAYS),
            **_refusals(("400", "401", "406", "413", "415", "422", "429")),
        },
        "security": [{}, {"token": []}],
    }


def _draft(view: Any) -> dict[str, Any]:
    key = {
        "name": "Idempotency-Key",
        "in": "header",
        "required": False,
        "schema": {"type": "string", "format": "uuid"},
        "description": "A UUID of your own for this study: sending it twice saves it once.",
    }
    content = {
        JSON: {"schema": answers.DRAFT_BODY, "example": answers.DRAFT_EXAMPLE},
        CSV.media_type: {"schema": TEXTS},
    }
    return {
        "operationId": "studies_create",
        "tags": [view.table],
        "summary": "Send a study as a draft",
        "description": "The flat table of a study, a specimen a row, through the checks of a form or a spreadsheet; "
        "saved as a draft that only its contributor reads.",
        "parameters": [key],
        "requestBody": {"required": True, "content": content},
        "responses": {
            "201": _answer("Saved as a draft.", {JSON: {"schema": answers.DRAFTED}}, _ALWAYS),
            **_refusals(("400", "401", "403", "406", "409", "413", "415", "422", "429")),
        },
        "security": [{"token": []}],
    }


def _read(
    name: str,
    tag: str,
    about: str,
    given: list[dict[str, Any]],
    schema: Schema,
    refusals: Sequence[str] = ("400", "404", "406", "429"),
    *,
    headers: dict[str, tuple[str, Schema]] | None = None,
    tables: bool = True,
) -> dict[str, Any]:
    content: dict[str, Any] = {JSON: {"schema": schema}}
    if tables:
        content |= {
            CSV.media_type: {"schema": TEXTS},
            NDJSON.media_type: {"schema": TEXTS},
            PARQUET_TYPE: {"schema": {"type": "string", "format": "binary"}},
        }
    told = {**_ALWAYS, **_READ, **(headers or {})}
    return {
        "operationId": name,
        "tags": [tag],
        "summary": about.split(". ")[0].rstrip("."),
        "description": about,
        "parameters": given,
        "responses": {
            "200": _answer("What was asked for.", content, told),
            "304": {"description": "Nothing has changed since the answer whose tag or date was sent."},
            **_refusals((*refusals, "401")),
        },
        "security": [{}, {"token": []}],
    }


def _answer(about: str, content: dict[str, Any], headers: dict[str, tuple[str, Schema]]) -> dict[str, Any]:
    told = {name: {"description": text, "schema": schema} for name, (text, schema) in headers.items()}
    return {"description": about, "content": content, "headers": told}


def _refusals(codes: Sequence[str]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for code in sorted(codes):
        media: dict[str, Any] = {"schema": ref("Problem")}
        if code == "400":
            media["example"] = PROBLEM_EXAMPLE
        found[code] = {"description": _WHEN[code], "content": {PROBLEM_TYPE: media}}
    found.get("429", {}).setdefault("headers", {})["Retry-After"] = {
        "description": "Seconds to wait.",
        "schema": {"type": "integer"},
    }
    return found


def postprocess(result: dict[str, Any], **kwargs: Any) -> dict[str, Any]:
    """Add what the operations refer to."""
    from ..views.records import TABLES

    parts = result.setdefault("components", {})
    parts.setdefault("schemas", {}).update(answers.components({view.table: view.columns for view in TABLES}))
    parts["securitySchemes"] = {
        "token": {
            "type": "http",
            "scheme": "bearer",
            "description": "A token of your own, for a higher allowance and for sending drafts; reading needs none.",
        }
    }
    return result
