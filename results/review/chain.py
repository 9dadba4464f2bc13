"""The chain of hashes over what was accepted and withdrawn, and whether everything still agrees with it."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC

from django.contrib.auth.models import User
from django.db import transaction
from django.utils import timezone

from results.evidence import Draft
from results.models import DataVersion, Entry, Revision, Study, bump
from results.models.revision import sealed

from .differences import CHANGED, Difference, differences
from .document import Document, alike, document, packed, read, sha256, written
from .errors import ReviewError

FIRST = "0" * 64
SEALED = "Accepted before revisions were kept."
# Differences that a message names; there may be thousands.
NAMED = 3


@dataclass(frozen=True)
class Wrong:
    """Something that does not agree with the chain.

    Parameters
    ----------
    code : str
        A stable name for the check.
    message : str
        What is wrong, and where.
    """

    code: str
    message: str

    def __str__(self) -> str:
        return self.message


def append(study: Study, revision: Revision | None, what: str, by: User | None, why: str = "") -> Entry:
    """Add the next link; call it in the transaction that accepts or withdraws.

    Parameters
    ----------
    study : Study
    revision : Revision or None
        The one accepted; none for a withdrawal.
    what : {"accepted", "withdrawn"}
    by : User or None
        Who decided.
    why : str
        In their words.
    """
    return _add([(study, revision)], what, by, why)[0]


def append_all(accepted: Sequence[tuple[Study, Revision]], why: str) -> list[Entry]:
    """Add a link for each of many first revisions that nobody reviewed; call it in the transaction that saves them."""
    return _add(accepted, Entry.What.ACCEPTED, None, why)


def _add(links: Sequence[tuple[Study, Revision | None]], what: str, by: User | None, why: str) -> list[Entry]:
    # Whoever raises the data version holds its row until the transaction ends, so that links are added one by one
    # and none is numbered twice or left out.
    bump()
    DataVersion.objects.select_for_update().get()
    last, entries = Entry.objects.order_by("-number").first(), []
    for study, revision in links:
        entry = Entry(
            number=last.number + 1 if last else 1,
            at=timezone.now(),
            study=study,
            revision=revision,
            what=what,
            by=by.pk if by is not None else None,
            why=why,
            document_sha256=revision.document_sha256 if revision is not None else "",
            before=last.hash if last else FIRST,
        )
        entry.hash = hash_of(entry)
        entries.append(entry)
        last = entry
    Entry.objects.bulk_create(entries, batch_size=500)
    # Whoever listens must not undo what is done by then.
    transaction.on_commit(lambda: sealed.send_robust(sender=Entry), robust=True)
    return entries


def hash_of(entry: Entry) -> str:
    """The hash over all that an entry says, the hash of the link before among it."""
    said = {
        "number": entry.number,
        "at": entry.at.astimezone(UTC).isoformat(),
        "study": entry.study_id,
        "revision": entry.revision.number if entry.revision is not None else None,
        "what": entry.what,
        "by": entry.by,
        "why": entry.why,
        "document_sha256": entry.document_sha256,
        "before": entry.before,
    }
    plain = json.dumps(said, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(plain.encode()).hexdigest()


def verify() -> list[Wrong]:
    """Look for whatever was changed behind the back of review.

    Returns
    -------
    list of Wrong
        Links missing, out of order or changed; documents that are not what was sealed; public studies whose records
        are not what was accepted, or that have no link.

    Notes
    -----
    Links cut off the end leave no gap: they show as studies without a link, and by the number and hash of the last
    link, which `manage.py verify` prints so that they can be kept elsewhere. Who can write the database and knows
    this code can make a chain anew; then only a hash kept elsewhere tells.
    """
    return [*_links(), *_documents(), *_studies()]


def seal() -> int:
    """Give public studies from before revisions were kept a revision and their links.

    Returns
    -------
    int
        How many there were; a second time there are none.
    """
    found = Study.objects.public().filter(revisions=None, entries=None).order_by("accepted_at", "pk")
    sealed = 0
    for key in list(found.values_list("pk", flat=True)):
        with transaction.atomic():
            study = Study.objects.select_for_update().get(pk=key)
            if study.revisions.exists():
                continue
            data, mark = packed(written(study))
            at = study.accepted_at or study.created_at
            revision = Revision.objects.create(
                study=study,
                number=1,
                state=Revision.State.ACCEPTED,
                made_by_id=study.contributor_id,
                decided_at=at,
                document=data,
                document_sha256=mark,
            )
            Revision.objects.filter(pk=revision.pk).update(made_at=study.created_at)
            append(study, revision, Entry.What.ACCEPTED, None, SEALED)
            if study.status == Study.Status.WITHDRAWN:
                append(study, None, Entry.What.WITHDRAWN, None, study.withdrawn_reason)
        sealed += 1
    return sealed


def _links() -> Iterator[Wrong]:
    before, number = FIRST, 0
    for entry in Entry.objects.select_related("revision").defer("revision__document").iterator(chunk_size=500):
        number += 1
        if entry.number != number:
            missing = f"{number} is" if entry.number == number + 1 else f"{number} to {entry.number - 1} are"
            yield Wrong("gap", f"Of the chain, link {missing} missing.")
        elif entry.before != before:
            yield Wrong("order", f"Link {entry.number} of the chain does not follow from the one before it.")
        if hash_of(entry) != entry.hash:
            yield Wrong("entry", f"Link {entry.number} of the chain does not say what its hash was taken over.")
        revision = entry.revision
        if entry.what == Entry.What.ACCEPTED and revision is None:
            yield Wrong("revision", f"Link {entry.number} of the chain accepts a revision that is gone.")
        elif revision is not None and revision.study_id != entry.study_id:
            yield Wrong("revision", f"Link {entry.number} of the chain points at another study's revision.")
        elif revision is not None and revision.document_sha256 != entry.document_sha256:
            yield Wrong("document", f"The document of {revision} is not the one that link {entry.number} seals.")
        before, number = entry.hash, entry.number


def _documents() -> Iterator[Wrong]:
    for revision in Revision.objects.select_related("study").iterator(chunk_size=10):
        try:
            if sha256(read(revision)) != revision.document_sha256:
                yield Wrong("document", f"The document of {revision} is not what its hash was taken over.")
        except ReviewError as error:
            yield Wrong("document", str(error))
    unsealed = Revision.objects.filter(state=Revision.State.ACCEPTED, entries=None).defer("document")
    for revision in unsealed.select_related("study"):
        yield Wrong("no-entry", f"{_first(str(revision))} is accepted, and no link of the chain says so.")


def _studies() -> Iterator[Wrong]:
    # Others have no records that a link speaks of.
    keys = Study.objects.exclude(entries=None, status__in=_NEVER).order_by("pk").values_list("pk", flat=True)
    for key in list(keys):
        # Whoever accepts a revision locks the study too, so that its links and its records are of one time.
        with transaction.atomic():
            study = Study.objects.select_for_update().filter(pk=key).first()
            if study is not None:
                yield from list(_study(study))


def _study(study: Study) -> Iterator[Wrong]:
    name = f"Study {study.pk} “{study}”"
    links = list(study.entries.select_related("revision").order_by("number"))
    if not links:
        yield Wrong("no-entry", f"{name} is {study.get_status_display()}, and no link of the chain says so.")
        return
    last = links[-1]
    if last.what != study.status:
        yield Wrong("status", f"{name} is {study.get_status_display()}, but was last {last.what} by the chain.")
    elif study.status == Study.Status.WITHDRAWN and last.why != study.withdrawn_reason:
        yield Wrong("status", f"{name} does not give the reason of its withdrawal that link {last.number} gives.")
    revision = next((one.revision for one in reversed(links) if one.revision is not None), None)
    if revision is None:
        yield Wrong("no-entry", f"{name} has no accepted revision in the chain.")
        return
    try:
        accepted = read(revision)
    except ReviewError:
        return  # told of the document already
    now = document(Draft.of(study))
    if not alike(accepted, now):
        found = f"{name} does not say what was accepted as its revision {revision.number}"
        yield Wrong("records", f"{found}: {_told(accepted, now)}.")


_NEVER = (Study.Status.DRAFT, Study.Status.SUBMITTED, Study.Status.RETURNED)


def _told(accepted: Document, now: Document) -> str:
    """The first differences in words."""
    found = differences(accepted, now)
    told = "; ".join(_in_words(one) for one in found[:NAMED])
    return f"{told}; and {len(found) - NAMED} more differences" if len(found) > NAMED else told


def _in_words(one: Difference) -> str:
    if one.kind != CHANGED:
        return f"{one.where} was {one.kind}"
    return f"{one.field} of {one.where} was {one.before or 'blank'!r}, now is {one.after or 'blank'!r}"


def _first(text: str) -> str:
    return text[:1].upper() + text[1:]
