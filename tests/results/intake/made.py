"""Small submissions as people would send them, to be spoiled one cell at a time."""

from __future__ import annotations

import io
from collections.abc import Iterable

from openpyxl import Workbook

from results.intake.examine import Examination, examine_file

FLAT: dict[str, str] = {
    "study title": "Rails into posts",
    "study question": "Which joint takes more?",
    "study workshop": "Shop by the river",
    "study licence": "CC0-1.0",
    "setup": "arm",
    "setup loading": "Cantilever arm",
    "setup instrument": "Luggage scale",
    "setup arm": "300 mm",
    "series": "A",
    "series joint": "Blind mortise and tenon",
    "series timber": "Northern red oak",
    "series adhesive": "pva",
    "series member thickness": "20 mm",
    "series member depth": "40 mm",
    "series tenon length": "30 mm",
    "series tenon depth": "30 mm",
    "series moisture": "8 %",
    "specimen": "",
    "specimen reading": "120 kg",
    "specimen outcome": "broke",
    "specimen void reason": "",
    "specimen failure place": "",
    "specimen wood failure": "",
}
READINGS = ("118 kg", "120 kg", "125 kg", "131 kg", "122 kg")


def flat(*changes: dict[str, str], **everywhere: str) -> list[dict[str, str]]:
    """Five specimens of one series; each change is for the row of its number, keywords for all rows."""
    rows = []
    for number, reading in enumerate(READINGS):
        row = {**FLAT, "specimen": str(number + 1), "specimen reading": reading}
        row |= {key.replace("_", " "): value for key, value in everywhere.items()}
        rows.append(row)
    for number, change in enumerate(changes):
        rows[number] |= change
    return rows


def csv_of(rows: Iterable[dict[str, str]], delimiter: str = ",") -> str:
    """Rows as delimited text, every cell in quotation marks."""
    rows = list(rows)
    headings = list(dict.fromkeys(key for row in rows for key in row))
    lines = [headings, *([row.get(key, "") for key in headings] for row in rows)]
    return "\n".join(delimiter.join('"' + cell.replace('"', '""') + '"' for cell in line) for line in lines)


def sent(rows: Iterable[dict[str, str]], delimiter: str = ",") -> Examination:
    """Rows as if they had been sent as a CSV file."""
    return examine_file(csv_of(rows, delimiter).encode(), "tests.csv")


def workbook(sheets: dict[str, list[list[object]]]) -> bytes:
    """A workbook of these sheets."""
    book = Workbook()
    book.remove(book.active)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def four_sheets() -> dict[str, list[list[object]]]:
    """A study on four sheets: a butt joint as a control, and a blind mortise and tenon."""
    return {
        "study": [
            ["field", "value"],
            ["title", "Rails into posts"],
            ["question", "Which joint takes more?"],
            ["workshop", "Shop by the river"],
            ["licence", "CC0-1.0"],
            ["length unit", "mm"],
        ],
        "setups": [
            ["setup", "loading", "instrument", "reading unit", "arm"],
            ["arm", "Cantilever arm", "Luggage scale", "kg", 300],
        ],
        "series": [
            ["series", "joint", "timber", "member thickness", "member depth", "tenon length", "tenon depth", "control"],
            ["butt", "Glued butt", "Oak, northern red", 20, 40, None, None, None],
            ["tenon", "mt_blind", "Oak, northern red", 20, 40, 30, 30, "butt"],
        ],
        "specimens": [
            ["series", "specimen", "reading", "outcome"],
            *(["butt", f"b{n}", 40.5 + n, "broke"] for n in range(4)),
            *(["tenon", f"t{n}", 118.5 + n, "broke"] for n in range(4)),
        ],
    }


def told(examination: Examination, code: str) -> str:
    """Message and remedy of the first finding of a code; the codes there are, if it is not among them."""
    found = [one for one in examination.noticed if one.code == code]
    assert found, [f"{one.code}: {one.message}" for one in examination.noticed]
    return f"{found[0].message} {found[0].remedy}"
