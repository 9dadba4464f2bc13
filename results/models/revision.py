"""A revision: what a study said at one time, whole; and the chain that seals what was accepted."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, OuterRef, Q, Subquery
from django.dispatch import Signal

from .constraints import one_of
from .study import Study

# Sent once what was accepted or withdrawn can be read.
sealed = Signal()


class Revision(models.Model):
    """A study's records as they were handed in, never changed afterwards, and what a reviewer made of them.

    A study that is not accepted holds its newest revision. An accepted study holds the newest accepted one: a change
    to it waits as a revision until a reviewer accepts it.
    """

    class State(models.TextChoices):
        SUBMITTED = "submitted", "waits for review"
        RETURNED = "returned", "returned with remarks"
        ACCEPTED = "accepted", "accepted"
        REPLACED = "replaced", "replaced before it was reviewed"

    study = models.ForeignKey(Study, on_delete=models.CASCADE, related_name="revisions")
    number = models.PositiveIntegerField(help_text="Counts the study's revisions from 1.")
    state = models.CharField(max_length=9, choices=State.choices, default=State.SUBMITTED)
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField(auto_now_add=True)
    why = models.TextField(blank=True, help_text="Why it was made, in its maker's words.")
    restores = models.PositiveIntegerField(null=True, blank=True, help_text="The revision it goes back to.")
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    decided_at = models.DateTimeField(null=True, blank=True)
    remarks = models.TextField(blank=True, help_text="The reviewer's reasons.")
    document = models.BinaryField(help_text="The study's records as canonical JSON, compressed.")
    document_sha256 = models.CharField(max_length=64, help_text="Of the canonical JSON.")

    class Meta:
        ordering = ["study_id", "number"]
        constraints = [
            models.UniqueConstraint(fields=["study", "number"], name="revision_number_once_a_study"),
            # A study has at most one revision that waits.
            models.UniqueConstraint(fields=["study"], condition=Q(state="submitted"), name="revision_one_waits"),
            one_of("state", ["submitted", "returned", "accepted", "replaced"]),
            CheckConstraint(condition=~Q(state="returned") | ~Q(remarks=""), name="revision_returned_has_remarks"),
        ]

    def __str__(self) -> str:
        return f"revision {self.number} of {self.study}"

    @property
    def is_change(self) -> bool:
        """Whether it was made of a study that was accepted by then, whatever became of either since.

        A study gets accepted once: by the revision that was decided on at that very time, or before revisions were
        kept. What comes after that is a change.
        """
        study = self.study
        if study.accepted_at is None:
            return False
        by = study.revisions.filter(state=self.State.ACCEPTED, decided_at=study.accepted_at).order_by("number")
        number = by.values_list("number", flat=True).first()
        return self.number > number if number is not None else study.is_public


def last_accepted() -> Subquery:
    """The number of each study's newest accepted revision, as a column of studies."""
    accepted = Revision.objects.filter(study=OuterRef("pk"), state=Revision.State.ACCEPTED)
    return Subquery(accepted.order_by("-number").values("number")[:1])


class Entry(models.Model):
    """One link of the chain: what was accepted or withdrawn, sealed by a hash over it and over the link before."""

    class What(models.TextChoices):
        ACCEPTED = "accepted", "accepted"
        WITHDRAWN = "withdrawn", "withdrawn"

    number = models.PositiveBigIntegerField(primary_key=True, help_text="Counts from 1, without gaps.")
    at = models.DateTimeField()
    study = models.ForeignKey(Study, on_delete=models.PROTECT, related_name="entries")
    revision = models.ForeignKey(Revision, null=True, on_delete=models.PROTECT, related_name="entries")
    what = models.CharField(max_length=9, choices=What.choices)
    # The number of the user, who may be gone since; a name is not sealed, so that it can be taken out.
    by = models.PositiveBigIntegerField(null=True)
    why = models.TextField(blank=True)
    document_sha256 = models.CharField(max_length=64, blank=True)
    before = models.CharField(max_length=64, help_text="The hash of the link before; zeros for the first.")
    hash = models.CharField(max_length=64, unique=True)

    class Meta:
        verbose_name_plural = "entries"
        ordering = ["number"]
        constraints = [one_of("what", ["accepted", "withdrawn"])]

    def __str__(self) -> str:
        return f"{self.number}: {self.study_id} {self.what}"
