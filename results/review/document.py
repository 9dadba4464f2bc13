"""A study written down whole: what was typed and what it is in SI, with labels and codes instead of keys.

What a document leaves out is worked out from the rest: footings, flags and the findings of the numbers. A field that
holds nothing is left out too, so that a field which records get later changes no document from before.
"""

from __future__ import annotations

import copy
import hashlib
import json
import zlib
from collections.abc import Iterable
from dataclasses import asdict
from functools import cache
from typing import Any, cast

from django.db import models

from results.evidence import Draft, Noticed, state
from results.evidence.notice import CODES
from results.intake import build
from results.models import Revision, Rig, Series, Setup, Specimen, Study, Summary
from results.models.fields import field_of

from .errors import ReviewError

FORM = 1
"""Raised whenever documents are written otherwise."""

STUDY = build.STUDY
SETUP = (*build.SETUP, "reads", "typed")
SERIES = (*build.SERIES, "typed")
# A specimen's reading in SI is one of the last three, by what the setup reads.
SPECIMEN = (*build.SPECIMEN, "reading_typed", "reading_unit")
SUMMARY = ("quantity", "mean_typed", "mean_si", "sd_typed", "sd_si", "n")
READING = build.READ_FIELD
_FINDING = ("code", "severity", "message", "remedy", "series", "specimen", "field", "value")

Document = dict[str, Any]


def document(draft: Draft, noticed: Iterable[Noticed] = ()) -> Document:
    """Write a study down.

    Parameters
    ----------
    draft : Draft
        Saved or not.
    noticed : iterable of Noticed
        What the checks noticed; of that the document keeps what they said of the typing, which can't be told from
        the records any more.

    Returns
    -------
    dict
        ``form``, ``study``, ``setups``, ``series`` with their ``specimens`` or ``summary``, and ``noticed``.
    """
    written: Document = {
        "form": FORM,
        "study": _said(draft.study, STUDY),
        "setups": [_setup(one) for one in draft.setups],
        "series": [_series(draft, one) for one in draft.series],
    }
    of_typing = [_finding(one) for one in noticed if one.code not in CODES]
    if of_typing:
        written["noticed"] = of_typing
    return written


def written(study: Study) -> Document:
    """A saved study, written down from its records.

    Parameters
    ----------
    study : Study
        As it is in the database.
    """
    noticed = [
        Noticed(
            *(one.code, one.severity, one.message, one.remedy),
            series=one.series.label if one.series else "",
            specimen=one.specimen.label if one.specimen else "",
            field=one.field,
            value=one.value,
        )
        for one in study.findings.exclude(code__in=CODES).select_related("series", "specimen")
    ]
    return document(Draft.of(study), noticed)


def canonical(written: Document) -> bytes:
    """The one way to write a document as JSON, over which its hash is taken."""
    text = json.dumps(written, sort_keys=True, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return text.encode()


def sha256(written: Document) -> str:
    """A document's hash."""
    return hashlib.sha256(canonical(written)).hexdigest()


def alike(one: Document, other: Document) -> bool:
    """Whether two documents say the same of the records.

    Not looked at are the order of setups and series, which records keep by their age; the rigs, which are their
    owner's and may be renamed or deleted; and what was noticed.
    """
    return _settled(one) == _settled(other)


def read(revision: Revision) -> Document:
    """What a revision says.

    Raises
    ------
    ReviewError
        If its document can't be read: then something has written over it.
    """
    try:
        found = json.loads(zlib.decompress(bytes(revision.document)))
    except (zlib.error, ValueError) as error:
        raise ReviewError(f"The document of {revision} can't be read: {error}.") from None
    if not isinstance(found, dict) or found.get("form") != FORM:
        raise ReviewError(f"The document of {revision} has a form that isn't known here.")
    return found


def packed(written: Document) -> tuple[bytes, str]:
    """A document as a revision keeps it: compressed, and its hash."""
    plain = canonical(written)
    return zlib.compress(plain, 6), hashlib.sha256(plain).hexdigest()


def draft_of(written: Document, study: Study | None = None) -> Draft:
    """Make the records that a document tells of, with their footings stated; nothing is saved.

    Parameters
    ----------
    written : dict
        From `document`.
    study : Study, optional
        Whose it is: the draft's study is a copy of it that says what the document says, and rigs are found among
        its contributor's by their labels.

    Raises
    ------
    ReviewError
        If a word is no longer in the vocabulary.
    """
    return examined(written, study)[0]


def examined(written: Document, study: Study | None = None) -> tuple[Draft, list[Noticed]]:
    """`draft_of`, and all findings: those of the typing, from the document, and those of the numbers, made anew."""
    draft = _built(written, study)
    of_typing = [Noticed(**one) for one in written.get("noticed", [])]
    return draft, [*of_typing, *state(draft)]


def _setup(setup: Setup) -> dict[str, Any]:
    rig = {"rig": setup.rig.label} if setup.rig_id and setup.rig else {}
    return _said(setup, SETUP) | rig


def _series(draft: Draft, series: Series) -> dict[str, Any]:
    said = _said(series, SERIES) | {"setup": series.setup.label}
    if series.control is not None:
        said["control"] = series.control.label
    summary = draft.summaries.get(series.label)
    if summary is not None:
        said["summary"] = _said(summary, SUMMARY)
    reading = (*SPECIMEN, READING[series.setup.reads])
    said["specimens"] = [_said(one, reading) for one in draft.specimens.get(series.label, [])]
    return said


def _finding(one: Noticed) -> dict[str, str]:
    # Cut as `as_findings` cuts what it stores, so that both say the same.
    kept = asdict(one) | {"field": one.field[:60], "value": one.value[:200]}
    return {name: kept[name] for name in _FINDING if kept[name]}


def _said(record: models.Model, fields: tuple[str, ...]) -> dict[str, Any]:
    """What fields hold, blank ones left out, each number of the type that its column gives back."""
    found: dict[str, Any] = {}
    for name, attname, kind in _columns(type(record), fields):
        value = getattr(record, attname)
        if value is None or value == "" or value == {}:
            continue
        found[name] = value if kind is None else kind(value)
    return found


@cache
def _columns(model: type[models.Model], fields: tuple[str, ...]) -> tuple[tuple[str, str, type | None], ...]:
    kinds = {models.FloatField: float, models.BooleanField: bool, models.IntegerField: int}
    found = []
    for name in fields:
        field = field_of(model, name)
        kind = next((python for kind, python in kinds.items() if isinstance(field, kind)), None)
        found.append((name, field.attname, kind))
    return tuple(found)


def _settled(written: Document) -> Document:
    setups = [{name: value for name, value in one.items() if name != "rig"} for one in written["setups"]]
    return {
        "study": written["study"],
        "setups": sorted(setups, key=lambda one: one["label"]),
        "series": sorted(written["series"], key=lambda one: one["label"]),
    }


def _built(written: Document, study: Study | None) -> Draft:
    own = copy.copy(study) if study is not None else Study()
    # A copy shares what was read along with the record, so what changes here must not be an object of both.
    for name in STUDY:
        field = field_of(Study, name)
        setattr(own, field.attname, written["study"].get(name, field.get_default()))
    words = _Words()
    rigs = _rigs(written, study)
    setups = {}
    for said in written["setups"]:
        rig = rigs.get(said.get("rig", ""))
        setups[said["label"]] = Setup(study=own, rig=rig, **words.given(Setup, said, SETUP))
    draft = Draft(study=own, setups=list(setups.values()))
    made = {}
    for said in written["series"]:
        one = Series(study=own, setup=setups[said["setup"]], **words.given(Series, said, SERIES))
        made[one.label] = one
        draft.series.append(one)
        reading = (*SPECIMEN, READING[one.setup.reads])
        draft.specimens[one.label] = [
            Specimen(series=one, position=position, **words.given(Specimen, specimen, reading))
            for position, specimen in enumerate(said["specimens"])
        ]
        if "summary" in said:
            draft.summaries[one.label] = Summary(series=one, **words.given(Summary, said["summary"], SUMMARY))
    for said in written["series"]:
        if "control" in said:
            made[said["label"]].control = made[said["control"]]
    return draft


def _rigs(written: Document, study: Study | None) -> dict[str, Rig]:
    labels = {one["rig"] for one in written["setups"] if "rig" in one}
    if not labels or study is None or study.contributor_id is None:
        return {}
    return {one.label: one for one in Rig.objects.filter(user=study.contributor_id, label__in=labels)}


class _Words:
    """Rows of the vocabulary by their codes, each read when it is first asked for."""

    def __init__(self) -> None:
        self._found: dict[tuple[type[models.Model], str], models.Model] = {}

    def given(self, model: type[models.Model], said: dict[str, Any], fields: tuple[str, ...]) -> dict[str, Any]:
        """What a document says of a record, with codes made rows; what it doesn't say is left to the record."""
        found = {}
        for name, attname, _ in _columns(model, fields):
            if name in said:
                found[name] = said[name] if name == attname else self._row(model, name, said[name])
        return found

    def _row(self, model: type[models.Model], name: str, code: str) -> models.Model:
        vocabulary = cast(type[models.Model], field_of(model, name).related_model)
        key = vocabulary, code
        if key not in self._found:
            row = vocabulary._default_manager.filter(pk=code).first()
            if row is None:
                raise ReviewError(f"{name.replace('_', ' ').capitalize()} {code!r} is no longer in the vocabulary.")
            self._found[key] = row
        return self._found[key]
