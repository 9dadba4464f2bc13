"""A study: one person's or lab's set of tests made to answer one question."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models import CheckConstraint, Q
from django.urls import reverse

from .constraints import one_of
from .plan import Plan


def reviews(user) -> bool:
    """Whether this person is a reviewer; nobody reviews what they contributed themselves."""
    return user.is_active and user.has_perm("results.review_study")


class StudyQuerySet(models.QuerySet["Study"]):
    def accepted(self) -> StudyQuerySet:
        """The studies that count."""
        return self.filter(status=Study.Status.ACCEPTED)

    def public(self) -> StudyQuerySet:
        """What everybody may read: accepted, and withdrawn as withdrawn."""
        return self.filter(status__in=[Study.Status.ACCEPTED, Study.Status.WITHDRAWN])

    def visible_to(self, user) -> StudyQuerySet:
        """What this person may read: the public ones, their own, and what a reviewer has to review."""
        public = Q(status__in=[Study.Status.ACCEPTED, Study.Status.WITHDRAWN])
        if not user.is_authenticated:
            return self.filter(public)
        if reviews(user):
            public |= Q(status__in=[Study.Status.SUBMITTED, Study.Status.RETURNED])
        return self.filter(public | Q(contributor=user))


class Study(models.Model):
    class Status(models.TextChoices):
        DRAFT = "draft", "draft"
        SUBMITTED = "submitted", "submitted"
        RETURNED = "returned", "returned with remarks"
        ACCEPTED = "accepted", "accepted"
        WITHDRAWN = "withdrawn", "withdrawn"

    class Origin(models.TextChoices):
        OWN = "own", "own tests"
        PUBLISHED = "published", "taken from a publication"

    class Licence(models.TextChoices):
        CC0 = "CC0-1.0", "CC0 1.0 (public domain)"
        CC_BY = "CC-BY-4.0", "CC BY 4.0 (use with credit)"

    title = models.CharField(max_length=200)
    question = models.TextField(help_text="The question the tests were made to answer.")
    workshop = models.CharField(max_length=120, help_text="Who made the tests.")
    contributor = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="studies"
    )
    tested_on = models.CharField(max_length=10, blank=True, help_text="ISO 8601: 2025, 2025-03 or 2025-03-14.")
    origin = models.CharField(max_length=10, choices=Origin.choices, default=Origin.OWN)
    citation = models.TextField(blank=True)
    source_url = models.URLField(blank=True, max_length=500)
    licence = models.CharField(max_length=10, choices=Licence.choices, default=Licence.CC_BY)
    invented = models.BooleanField(default=False, help_text="Made up to show how the book works.")
    notes = models.TextField(blank=True)
    # A plan that a study follows stays, or the study's mark would rest on nothing: plans are withdrawn, never deleted.
    plan = models.ForeignKey(Plan, null=True, blank=True, on_delete=models.PROTECT, related_name="studies")
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.DRAFT)
    withdrawn_reason = models.TextField(blank=True)
    # One key a filled-in form or upload: sending it twice saves it once.
    submission_key = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)
    accepted_at = models.DateTimeField(null=True, blank=True)

    objects = StudyQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "studies"
        ordering = ["-accepted_at", "-id"]
        indexes = [models.Index(fields=["-accepted_at", "-id"], name="study_newest_first")]
        permissions = [("review_study", "Can review studies")]
        constraints = [
            one_of("status", ["draft", "submitted", "returned", "accepted", "withdrawn"]),
            one_of("origin", ["own", "published"]),
            one_of("licence", ["CC0-1.0", "CC-BY-4.0"]),
            CheckConstraint(
                condition=~Q(status="withdrawn") | ~Q(withdrawn_reason=""),
                name="study_withdrawn_has_reason",
            ),
            CheckConstraint(condition=~Q(origin="published") | ~Q(citation=""), name="study_published_has_citation"),
            CheckConstraint(
                condition=~Q(status="accepted") | Q(accepted_at__isnull=False),
                name="study_accepted_has_date",
            ),
        ]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        return reverse("browse:study", args=[self.pk])

    def is_of(self, user) -> bool:
        """Whether this person contributed it; a study whose contributor has left is nobody's."""
        return self.contributor_id is not None and self.contributor_id == user.pk

    @property
    def is_public(self) -> bool:
        return self.status in (self.Status.ACCEPTED, self.Status.WITHDRAWN)
