"""Sentences of pages in other languages: gathered from templates and pages, and put into the files they are read from.

``python -m tests.language de`` renews ``results/locale/de``: what is new is added without a translation, what no page
says any more is dropped, and the compiled file is written anew. It needs the gettext tools; whoever only reads pages
doesn't.
"""

from __future__ import annotations

import ast
import contextlib
import csv
import re
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import polib

ROOT = Path(__file__).resolve().parent.parent
LOCALE = ROOT / "results" / "locale"
# Everything that holds no sentence of a page; what is stored or counted stays in English.
NOT_PAGES = ["locale", ".venv", ".ci", "tests", "var", "stats", "api", "fixtures", "static", "migrations", "management"]
NAMES, COUNTED, FIELDS = "vocabulary", "counted", "field"
Key = tuple[str | None, str]
_COUNT_OF = re.compile(r'count_of:"(\w+(?: \w+)*)"')
# Forms whose words the API and the findings say too, in English.
FORMS = [
    *(f"results/practice/{name}.py" for name in ("joint", "leverage", "movement", "piece", "plan_asked", "share")),
    "results/pages/account_forms.py",
    "results/pages/browse_forms.py",
]


def file_of(language: str, ending: str = "po") -> Path:
    """Where the sentences of a language are."""
    return LOCALE / language / "LC_MESSAGES" / f"django.{ending}"


def key_of(entry: polib.POEntry) -> Key:
    """What an entry is found by."""
    return entry.msgctxt, entry.msgid


def gathered() -> dict[Key, polib.POEntry]:
    """All that may be translated: sentences marked in templates and pages, words that are counted, and names.

    Raises
    ------
    CommandError
        If the gettext tools are not here.
    """
    entries = {key_of(one): one for one in (*_marked(), *_counted(), *_names(), *_fields())}
    return dict(sorted(entries.items(), key=lambda one: (one[0][1], one[0][0] or "")))


def _marked() -> Iterator[polib.POEntry]:
    from django.core.management import call_command
    from django.test import override_settings

    with (
        tempfile.TemporaryDirectory() as folder,
        override_settings(LOCALE_PATHS=[folder]),
        contextlib.chdir(ROOT),
    ):
        call_command("makemessages", locale=["de"], ignore_patterns=NOT_PAGES, keep_pot=True, verbosity=0)
        for entry in polib.pofile(str(Path(folder) / "django.pot")):
            entry.occurrences = sorted({(place, "") for place, _ in entry.occurrences})
            entry.msgstr_plural = dict.fromkeys(entry.msgstr_plural, "")
            yield entry


def _counted() -> Iterator[polib.POEntry]:
    from stats.charts.look import counted

    for path in sorted((ROOT / "templates").rglob("*.html")):
        for word in sorted(set(_COUNT_OF.findall(path.read_text(encoding="utf-8")))):
            many = counted(2, word).removeprefix("2 ")
            yield polib.POEntry(msgctxt=COUNTED, msgid=word, msgid_plural=many, msgstr_plural={0: "", 1: ""})


def _names() -> Iterator[polib.POEntry]:
    from django.apps import apps

    from results.evidence.choices import GROUPS, TESTS
    from results.evidence.known import LEADING
    from results.intake.columns import RECORDS
    from results.pages.compare import SCALES
    from results.pages.evidence_grid import BIES
    from results.pages.joint_shown import BY_NAMES, by_name
    from results.pages.wording import how_invented
    from results.site.choices import UNIT_NAMES
    from stats.footing.footings import FOOTINGS
    from stats.inference.certainty import LEVELS
    from stats.practice.demand import PIECES

    files = [*(ROOT / "fixtures" / "vocabulary").glob("*.csv"), ROOT / "fixtures" / "wood" / "timbers.csv"]
    for path in sorted(files):
        with path.open(encoding="utf-8-sig", newline="") as file:
            yield from (polib.POEntry(msgctxt=NAMES, msgid=row["name"]) for row in csv.DictReader(file))
    for model in apps.get_app_config("results").get_models():
        for field in model._meta.concrete_fields:
            for _, label in field.flatchoices:
                yield polib.POEntry(msgctxt=NAMES, msgid=str(label))
    yield from (polib.POEntry(msgctxt=NAMES, msgid=kind.name) for kind in FOOTINGS.values())
    for piece in PIECES.values():
        yield from (polib.POEntry(msgctxt=NAMES, msgid=name) for name in (piece.name, piece.joint))
    for words in (TESTS, GROUPS, SCALES, UNIT_NAMES, BIES):
        yield from (polib.POEntry(msgctxt=NAMES, msgid=name) for name in words.values())
    for column in (one for columns in RECORDS.values() for one in columns):
        yield from (polib.POEntry(msgctxt=NAMES, msgid=label) for _, label in column.choices)
    yield from (polib.POEntry(msgctxt=NAMES, msgid=by_name(by)) for by in (*BY_NAMES, *LEADING))
    told = how_invented([True]), how_invented([True, False]), "timber", "glue"
    yield from (polib.POEntry(msgctxt=NAMES, msgid=name) for name in (*LEVELS, *told))


def _fields() -> Iterator[polib.POEntry]:
    from results.intake.columns import RECORDS
    from results.pages.submit_fields import SAID
    from stats.footing.fields import FIELDS as SIZES
    from stats.practice.caution import USES
    from stats.practice.demand import FACTORS, PIECES

    words = list(SAID.values())
    for columns in RECORDS.values():
        for one in columns:
            words += [one.name, one.help, one.why]
    for path in FORMS:
        words += list(_said_in(ROOT / path))
    sizes = [size.words.removeprefix("the ") for size in SIZES.values()]
    words += [text[:1].upper() + text[1:] for text in sizes]
    words += [one.words[:1].upper() + one.words[1:] for piece in PIECES.values() for one in piece.inputs]
    words += [
        *USES.values(),
        *(f"Factor, {name}" for name in FACTORS),
        *(f"{said.capitalize()}." for said in FACTORS.values()),
    ]
    yield from (polib.POEntry(msgctxt=FIELDS, msgid=text) for text in words if text)


def _said_in(path: Path) -> Iterator[str]:
    """The labels, help and first choices that a form names in its code."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        named = node.keywords if isinstance(node, ast.Call) else ()
        yield from (
            one.value.value
            for one in named
            if one.arg in ("label", "help_text", "empty", "empty_label")
            and isinstance(one.value, ast.Constant)
            and isinstance(one.value.value, str)
        )
        if isinstance(node, ast.Assign | ast.AnnAssign) and isinstance(node.value, ast.Dict):
            yield from (
                one.value for one in node.value.values if isinstance(one, ast.Constant) and isinstance(one.value, str)
            )


def renew(language: str) -> polib.POFile:
    """Bring the files of a language up to what pages say, keeping what was translated."""
    path = file_of(language)
    before = polib.pofile(str(path)) if path.is_file() else polib.POFile(wrapwidth=118)
    known = {key_of(one): one for one in before}
    now = polib.POFile(wrapwidth=118)
    now.metadata = before.metadata or {
        "Language": language,
        "MIME-Version": "1.0",
        "Content-Type": "text/plain; charset=UTF-8",
        "Content-Transfer-Encoding": "8bit",
        "Plural-Forms": "nplurals=2; plural=(n != 1);",
    }
    for key, entry in gathered().items():
        if old := known.get(key):
            entry.msgstr = "" if entry.msgid_plural else old.msgstr
            if entry.msgid_plural:
                entry.msgstr_plural = dict(old.msgstr_plural) or {0: "", 1: ""}
        now.append(entry)
    path.parent.mkdir(parents=True, exist_ok=True)
    now.save(str(path))
    now.save_as_mofile(str(file_of(language, "mo")))
    return now


if __name__ == "__main__":
    import os

    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    django.setup()
    for code in sys.argv[1:]:
        found = renew(code)
        print(f"{code}: {len(found)} sentences and names, {len(found.untranslated_entries())} not translated")
