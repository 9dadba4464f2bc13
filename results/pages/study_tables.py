"""The many small tables of a study's page, made and written out without a frame and a template for each.

Both would take longer than all the rest of the page; what comes out is the same, which a test holds.
"""

from __future__ import annotations

from html import escape
from typing import Any

from django.utils.safestring import SafeString, mark_safe

from results.templatetags.english import in_english

from . import tables
from .tables import Cell, Table


def of_rows(rows: list[dict[str, Any]], caption: str) -> Table:
    """A table of rows by column name; a row need not have every column."""
    names = dict.fromkeys(name for row in rows for name in row)
    return of_columns({name: [row.get(name) for row in rows] for name in names}, caption)


def of_columns(columns: dict[str, list[Any]], caption: str) -> Table:
    """A table of columns, all of one length; those without a single value are left out."""
    numeric = {
        name
        for name, values in columns.items()
        if all(value is None or isinstance(value, int | float) for value in values)
    }
    return tables.of_columns(columns, caption, numeric=numeric)


def markup(table: Table) -> SafeString:
    """The table as ``includes/table.html`` writes it."""
    caption, english = escape(table.caption), in_english() if table.english else ""
    head = "".join(f'<th scope="col"{_class(one.number, "number")}>{escape(one.text)}</th>' for one in table.columns)
    body = "".join(f"<tr>{_first(row[0])}{''.join(map(_cell, row[1:]))}</tr>" for row in table.rows)
    return mark_safe(
        f'<div class="table" tabindex="0" role="region" aria-label="{caption}"><table>'
        f"<caption{english}>{caption}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>"
    )


def _first(one: Cell) -> str:
    return f'<th scope="row"{_class(one.style == "long", "long")}>{_text(one)}</th>'


def _cell(one: Cell) -> str:
    return f"<td{_class(bool(one.style), one.style)}>{_text(one)}</td>"


def _text(one: Cell) -> str:
    return f'<a href="{escape(one.url)}">{escape(one.text)}</a>' if one.url else escape(one.text)


def _class(there: bool, name: str) -> str:
    return f' class="{name}"' if there else ""
