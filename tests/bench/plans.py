"""Which queries of which pages and API calls read a large table from end to end, and what a specimen takes on disk.

Run ``python -m tests.bench.plans``, or with ``--studies 100`` for a quicker look. It makes a book of its own in a
temporary SQLite file, and then in a throwaway PostgreSQL where ``pg_virtualenv`` is at hand, or only in the empty
database that ``DATABASE_URL`` names. Every page and call that takes no key, and those of one study, joint, timber and
workshop, is asked for once after a change; each of its queries is explained by the database. A scan that has to be is
named in `MUST` with its reason; any other is printed with its address, and ends with status 1.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.bench.api import Report, on_both

# Rows from which on a table is large: below that a scan is as quick as an index.
LARGE = 5_000
BYTES_A_SPECIMEN = 600.0
# What reads a large table whole, and why it has to: by a part of the address and the query, with a blank between.
ONCE = "counts the whole book, and is kept: once for each state of the data"
MUST: dict[str, str] = {
    "/api/v1/evidence ": ONCE,
    "/api/v1/movement ": ONCE,
    "/piece/movement/ ": ONCE,
    'COUNT(*) AS "__count"': ONCE,
}


def measure(studies: int, environment: dict[str, str]) -> bool:
    """Fill the database, ask for everything, and print what scans."""
    import django

    os.environ.update(environment, DEMO="True")  # made-up studies count
    django.setup()
    from django.core.management import call_command
    from django.db import connection

    from results.invented import make
    from results.models import Specimen
    from results.vocabulary import load_vocabulary

    call_command("migrate", verbosity=0)
    call_command("collectstatic", verbosity=0, interactive=False)
    report = Report()
    load_vocabulary()
    make(studies, 20, 10)
    count = Specimen.objects.count()
    print(f"{connection.vendor}: {count:,} specimens", flush=True)
    _disk(report, count)
    large = large_tables()
    print(f"  large tables: {', '.join(f'{name} {rows:,}' for name, rows in large.items())}", flush=True)
    asked = unexplained = 0
    for address in addresses():
        status, found = scans(address, set(large))
        asked += 1
        if status >= 400:
            print(f"  {address}: answered {status}")
            report.good = False
        for table, query in found:
            reason = next((why for part, why in MUST.items() if part in f"{address} {query}"), "")
            unexplained += not reason
            print(f"  {address}\n    scans {table}: {reason or shortened(query)}", flush=True)
    print(f"  {asked} addresses asked for", flush=True)
    report("queries that scan a large table for no reason given", unexplained, "", 0)
    return report.good


def _disk(report: Report, specimens: int) -> None:
    """Bytes with indexes, of the tables that hold the book."""
    from django.db import connection

    if connection.vendor != "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT page_count * page_size FROM pragma_page_count(), pragma_page_size()")
            report("bytes on disk a specimen, the whole file", cursor.fetchone()[0] / specimens, "B")
        return
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT relname, pg_relation_size(oid) + coalesce(pg_total_relation_size(nullif(reltoastrelid, 0)), 0), "
            "pg_indexes_size(oid) FROM pg_class WHERE relkind = 'r' AND relname LIKE 'results_%' "
            "ORDER BY pg_total_relation_size(oid) DESC"
        )
        rows = cursor.fetchall()
    for name, table, indexes in rows[:8]:
        more = f"of which indexes {indexes / specimens:.0f}"
        report(f"  {name}, bytes a specimen", (table + indexes) / specimens, "B", more=more)
    whole = sum(table + indexes for _, table, indexes in rows)
    report("bytes on disk a specimen, with indexes", whole / specimens, "B", BYTES_A_SPECIMEN)


def large_tables() -> dict[str, int]:
    """Tables of the book with many rows."""
    from django.apps import apps

    counts = {model._meta.db_table: model._default_manager.count() for model in apps.get_app_config("results").get_models()}  # fmt: skip  # noqa: E501
    return {name: rows for name, rows in counts.items() if rows >= LARGE}


def addresses() -> Iterator[str]:
    """Every page and call that a reader without an account may ask for, each with what it needs filled in."""
    from django.urls import URLPattern, URLResolver, get_resolver

    known = _known()

    def walk(patterns: list[Any], before: str) -> Iterator[str]:
        for one in patterns:
            route = before + str(getattr(one.pattern, "_route", one.pattern))
            if isinstance(one, URLResolver):
                if one.app_name != "admin" and one.namespace != "admin":
                    yield from walk(one.url_patterns, route)
            elif isinstance(one, URLPattern) and (filled := _filled(route, known)) is not None:
                yield filled

    found = dict.fromkeys(walk(get_resolver().url_patterns, "/"))
    yield from [address for address in found if _open(address)]
    yield from MORE


MORE = (
    "/compare/?footing=stress",
    "/compare/?joint=mt_blind&joint=butt",
    "/compare/network/?pair=butt,mt_blind",
    "/studies/?page=3",
    "/search/?q=oak",
    "/search/?q=Invented+study+7",
    "/api/v1/specimens?joint=mt_blind&timber=oak_northern_red",
    "/api/v1/specimens?ordering=specimen_id",
    "/api/v1/series?joint=lap_half",
    "/api/v1/footings?footing=stress",
)


def _known() -> dict[str, str]:
    """Keys to ask for, by the first part of an address."""
    from results.models import Series, Specimen, Study

    study, series, specimen = (model.objects.order_by("pk")[5] for model in (Study, Series, Specimen))
    codes = {"joints": "mt_blind", "timbers": "oak_northern_red", "adhesives": "pva", "loadings": "cantilever_arm"}
    keys = {"studies": study.pk, "series": series.pk, "specimens": specimen.pk, "workshops": study.workshop}
    return {name: str(key) for name, key in {**codes, **keys}.items()}


def _filled(route: str, known: dict[str, str]) -> str | None:
    """An address of a route; None where what it needs isn't known."""
    if "(?" in route or "\\" in route:
        return None
    route = re.sub(r"<suffix:\w+>", "", route)
    for name, key in known.items():
        route = re.sub(rf"(/{name}/)<\w+:(?:pk|code|slug|address|key)>", rf"\g<1>{key}", route)
    return None if "<" in route else route


def _open(address: str) -> bool:
    """Whether it may be asked for by anybody: what only posts, or belongs to somebody, isn't."""
    return _asked(address).status_code == 200


def _asked(address: str) -> Any:
    """An answer, read to its end."""
    from django.test import Client

    response = Client(raise_request_exception=False, SERVER_NAME="localhost").get(address)
    if response.streaming:
        for _ in response.streaming_content:
            pass
    return response


def scans(address: str, large: set[str]) -> tuple[int, list[tuple[str, str]]]:
    """The status of an answer, and what its queries read from end to end, with nothing kept from before."""
    from django.db import connection

    from results.models import bump

    bump()
    asked: dict[str, tuple[str, Any]] = {}

    def note(execute: Any, sql: str, params: Any, many: bool, context: Any) -> Any:
        if sql.lstrip().upper().startswith(("SELECT", "WITH")):
            asked.setdefault(sql, (sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(note):
        response = _asked(address)
    found = {}
    for sql, params in asked.values():
        for table in scanned(sql, params):
            if table in large:
                found[table, sql] = None
    return response.status_code, list(found)


def scanned(sql: str, params: Any) -> list[str]:
    """The tables that a query reads from end to end, as the database would do it."""
    from django.db import connection

    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(f"EXPLAIN (FORMAT JSON) {sql}", params)
            plan = cursor.fetchone()[0]
            return list(_sequential((json.loads(plan) if isinstance(plan, str) else plan)[0]["Plan"]))
        cursor.execute(f"EXPLAIN QUERY PLAN {sql}", params)
        told = [str(row[-1]) for row in cursor.fetchall()]
    # An index alone, read from end to end, is a scan too.
    named = dict(re.findall(r'"(\w+)" (?:AS )?"?([A-Z]\d+)"?', sql))
    aliases = {alias: table for table, alias in named.items()}
    found = [match[1] for line in told if (match := re.match(r"SCAN (\w+)", line))]
    return [aliases.get(name, name) for name in found]


def _sequential(plan: dict[str, Any], limited: bool = False) -> Iterator[str]:
    limited = limited or plan["Node Type"] == "Limit"
    if plan["Node Type"] in ("Seq Scan", "Parallel Seq Scan") and not (limited and plan["Total Cost"] < 1):
        yield plan["Relation Name"]
    for one in plan.get("Plans", []):
        yield from _sequential(one, limited)


def shortened(sql: str) -> str:
    """A query without the columns it asks for."""
    return re.sub(r"^SELECT (?:DISTINCT )?.*? FROM ", "SELECT … FROM ", sql, flags=re.S)[:400]


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--studies", type=int, default=1_000, help="of twenty series each")
    parser.add_argument("--folder", type=Path)
    asked = parser.parse_args()
    again = ["--studies", str(asked.studies)]
    return on_both("plans", again, asked.folder, lambda environment: measure(asked.studies, environment))


if __name__ == "__main__":
    sys.exit(main())
