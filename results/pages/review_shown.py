"""What a reviewer looks at, series by series: findings, numbers against the book, photos; and what a change changes."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from results.evidence import Choices, Noticed
from results.evidence.standing import Against, against_book
from results.intake.findings import DOUBT, ERROR, REMARK, by_severity, counts
from results.kept import once
from results.models import Photo, Revision, Study
from results.review.differences import differences
from results.review.document import examined, read, written
from results.review.errors import ReviewError
from results.site.choices import told_now
from stats.footing.footings import FOOTINGS

from . import study_sheet
from .photo_forms import Group, groups_of
from .revisions_shown import Compared, compared
from .wording import footing_name

# More than a reviewer reads one by one; all of them are on the study's own page.
MOST_FINDINGS, MOST_DIFFERENCES = 20, 200


@dataclass(frozen=True)
class Part:
    """The study as a whole or one of its series: what was noticed, its numbers against the book, its photos."""

    label: str
    findings: list[Noticed]
    against: Against | None = None
    footing: str = ""
    photos: list[Photo] = field(default_factory=list)

    @property
    def first(self) -> list[Noticed]:
        return self.findings[:MOST_FINDINGS]

    @property
    def more(self) -> int:
        return max(len(self.findings) - MOST_FINDINGS, 0)

    @property
    def stands_out(self) -> bool:
        """Whether something is doubted, or it lies apart from the book."""
        outside = self.against is not None and self.against.within is False
        return outside or any(one.severity != REMARK for one in self.findings)


@dataclass(frozen=True)
class Looked:
    """What follows from a revision and the book alone."""

    parts: list[Part]
    rigs: SafeString
    counts: dict[str, int]
    invented: bool = False
    # Why nothing could be worked out, if so.
    trouble: str = ""

    @property
    def stand(self) -> int:
        """Findings that speak against accepting it."""
        return self.counts.get(ERROR, 0) + self.counts.get(DOUBT, 0)


def looked_at(revision: Revision) -> Looked:
    """What a revision shows beside the book as it is now, worked out once for each state of the data."""
    name = f"review {revision.pk} {revision.document_sha256}{told_now()}"
    try:
        return once(name, lambda: _look(revision))
    except ReviewError as trouble:
        return Looked([Part("", [])], SafeString(""), {}, trouble=str(trouble))


def _look(revision: Revision) -> Looked:
    draft, noticed = examined(read(revision), revision.study)
    with_invented = Choices().with_invented or draft.study.invented
    against = against_book(draft, noticed, invented=with_invented)
    by_series: dict[str, list[Noticed]] = {}
    for one in by_severity(noticed):
        by_series.setdefault(one.series, []).append(one)
    parts = [Part("", by_series.get("", []))]
    parts += [Part(one.label, by_series.get(one.label, []), one, _footing(one)) for one in against]
    rigs = [study_sheet.rig(one, [each for each in draft.series if each.setup.pk == one.pk]) for one in draft.setups]
    return Looked(
        parts=parts,
        rigs=SafeString("".join(render_to_string("browse/rig.html", {"rig": rig}) for rig in rigs)),
        counts=counts(noticed),
        invented=any(one.others and one.others["invented"] for one in against),
    )


def _footing(one: Against) -> str:
    return footing_name(FOOTINGS[one.footing], one.unit) if one.footing else ""


def with_photos(looked: Looked, study: Study) -> list[Part]:
    """The parts with the photos as they are now, each beside what it is of."""
    groups: dict[str, Group] = {group.series.label if group.series else "": group for group in groups_of(study)}
    known = {part.label for part in looked.parts}
    lost = [photo for label, group in groups.items() if label not in known for photo in group.photos]
    return [
        Part(
            part.label,
            part.findings,
            part.against,
            part.footing,
            [*(groups[part.label].photos if part.label in groups else []), *([] if part.label else lost)],
        )
        for part in looked.parts
    ]


def changed_by(revision: Revision) -> Compared | None:
    """What a revision changes: of the accepted study, else of what was handed in before; None if there was nothing."""
    study = revision.study
    before = study.revisions.filter(number__lt=revision.number).order_by("-number")
    accepted = before.filter(state=Revision.State.ACCEPTED).first()
    since = accepted or before.exclude(state=Revision.State.REPLACED).first() or before.first()
    if since is None and (not revision.is_change or revision.state == Revision.State.ACCEPTED):
        return None
    try:
        if since is not None:
            return compared(since, revision, MOST_DIFFERENCES)
        # A study that was accepted before revisions were kept has none.
        found = differences(written(study), read(revision))
    except ReviewError as trouble:
        return Compared([], since, revision, trouble=str(trouble))
    return Compared(found, None, revision, MOST_DIFFERENCES)
