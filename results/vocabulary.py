"""Load the vocabulary and the timbers from the CSV files under ``fixtures/`` into the database."""

from __future__ import annotations

import csv
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import FieldDoesNotExist, ValidationError
from django.db import models, transaction

from results.models import (
    AdhesiveClass,
    FailurePlace,
    Instrument,
    Joint,
    JointFamily,
    Loading,
    Timber,
    bump,
)
from results.models.fields import field_of

FIXTURES: Path = settings.BASE_DIR / "fixtures"

_YES_NO = {"yes": True, "true": True, "1": True, "no": False, "false": False, "0": False, "": False}

Cells = dict[str, str]


def _instrument(cells: Cells) -> Cells:
    """An instrument as its record has it: the accuracy as one text, the note as description."""
    rest = dict(cells)
    low, high = rest.pop("accuracy_low_pct", ""), rest.pop("accuracy_high_pct", "")
    rest["description"] = rest.pop("note", "")
    rest["accuracy"] = f"{low} to {high} %" if low and high else ""
    return rest


# Files whose columns are those of the numeric code rather than of the record.
_SHAPED: dict[type[models.Model], Callable[[Cells], Cells]] = {Instrument: _instrument}

# A row may only point at a file above its own.
FILES: tuple[tuple[type[models.Model], str], ...] = (
    (JointFamily, "vocabulary/joint_families.csv"),
    (Joint, "vocabulary/joints.csv"),
    (Loading, "vocabulary/loadings.csv"),
    (Instrument, "vocabulary/instruments.csv"),
    (AdhesiveClass, "vocabulary/adhesives.csv"),
    (FailurePlace, "vocabulary/failure_places.csv"),
    (Timber, "wood/timbers.csv"),
)


class VocabularyError(ValueError):
    """Rows of a vocabulary file that can't be loaded; one line a fault, each with file, row and column.

    Parameters
    ----------
    faults : list of str
        Every fault found.
    """

    def __init__(self, faults: list[str]) -> None:
        self.faults = faults
        super().__init__("\n".join(faults))


def load_vocabulary(folder: Path = FIXTURES) -> dict[str, int]:
    """Bring the vocabulary in the database up to the files, all or nothing.

    Rows are matched by their code: new ones are added, known ones take the file's values. A code that a file
    no longer has stays in the database, because records may use it.

    Parameters
    ----------
    folder : Path
        Where ``vocabulary/`` and ``wood/`` are.

    Returns
    -------
    dict of str to int
        Rows loaded, by file.

    Raises
    ------
    VocabularyError
        If any row of any file is bad; nothing is changed then.
    """
    faults: list[str] = []
    known: dict[type[models.Model], set[str]] = {}
    loads: list[tuple[type[models.Model], list[str], list[models.Model]]] = []
    for model, name in FILES:
        fields, rows = _read(model, folder / name, name, known, faults)
        known[model] = {row.pk for row in rows}
        loads.append((model, fields, rows))
    if faults:
        raise VocabularyError(faults)
    with transaction.atomic():
        for model, fields, rows in loads:
            model._default_manager.bulk_create(
                rows,
                update_conflicts=True,
                unique_fields=["code"],
                update_fields=[field for field in fields if field != "code"],
            )
        bump()
    return {name: len(rows) for (_, name), (_, _, rows) in zip(FILES, loads, strict=True)}


def _read(
    model: type[models.Model],
    path: Path,
    name: str,
    known: dict[type[models.Model], set[str]],
    faults: list[str],
) -> tuple[list[str], list[models.Model]]:
    """The fields that one file fills and its unsaved rows; what is wrong is added to the faults."""
    if not path.is_file():
        faults.append(f"{name}: the file is missing.")
        return [], []
    with path.open(encoding="utf-8-sig", newline="") as file:
        reader = csv.DictReader(file)
        columns = list(reader.fieldnames or [])
        lines = list(enumerate(reader, start=2))
    if "code" not in columns:
        faults.append(f"{name}, row 1: there is no column 'code'.")
        return [], []
    table: list[tuple[int, Cells]] = []
    for number, cells in lines:
        if None in cells or None in cells.values():
            faults.append(f"{name}, row {number}: it needs {len(columns)} cells, one under each heading.")
        else:
            # Without a column of its own, the position is the place in the file.
            texts = {"position": str(number)} | {column: text.strip() for column, text in cells.items()}
            table.append((number, _SHAPED.get(model, dict[str, Any])(texts)))
    fields = dict(_fields(model, list(table[0][1]), name, faults)) if table else {}
    rows: dict[str, models.Model] = {}
    for number, cells in table:
        values = {}
        for column, field in fields.items():
            try:
                values[field.attname] = _value(field, cells[column], known)
            except ValidationError as error:
                faults.append(f"{name}, row {number}, column {column!r}: {' '.join(error.messages)}")
        if cells["code"] in rows:
            faults.append(f"{name}, row {number}, column 'code': {cells['code']!r} is there twice.")
        rows[cells["code"]] = model(**values)
    return [field.name for field in fields.values()], list(rows.values())


def _fields(
    model: type[models.Model], columns: list[str], name: str, faults: list[str]
) -> Iterator[tuple[str, models.Field]]:
    for column in columns:
        try:
            yield column, field_of(model, column)
        except FieldDoesNotExist:
            have = ", ".join(field.name for field in model._meta.concrete_fields)
            faults.append(f"{name}, row 1: there is no column {column!r}; the columns are {have}.")


def _value(field: models.Field, text: str, known: dict[type[models.Model], set[str]]) -> Any:
    """What a cell says, as the field keeps it."""
    if isinstance(field, models.ForeignKey):
        if text not in known.get(field.related_model, set()):
            raise ValidationError(f"{text!r} is no code of the {field.related_model._meta.verbose_name} file.")
        return text
    if isinstance(field, models.BooleanField):
        if text.casefold() not in _YES_NO:
            raise ValidationError(f"{text!r} is neither yes nor no.")
        return _YES_NO[text.casefold()]
    if text == "":
        if field.has_default():
            return field.get_default()
        if field.null:
            return None
        if field.blank:
            return ""
        raise ValidationError("it is empty, and must not be.")
    try:
        value = field.clean(text, None)
    except ValidationError as error:
        raise ValidationError([f"{text!r}: {message}" for message in error.messages]) from None
    if isinstance(value, float) and not math.isfinite(value):
        raise ValidationError(f"{text!r} is not a finite number.")
    return value
