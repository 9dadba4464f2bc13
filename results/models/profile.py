"""What the book keeps for a person beside the account: how they want to be told, and what they were told."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models

from .constraints import one_of
from .study import Study


class Profile(models.Model):
    """Made when first asked for."""

    class Digest(models.TextChoices):
        NEVER = "never", "no e-mail"
        DAILY = "daily", "once a day"
        WEEKLY = "weekly", "once a week"

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="profile")
    digest = models.CharField(max_length=6, choices=Digest.choices, default=Digest.DAILY)
    # In the address of a person's own feed, which a feed reader asks for without logging in.
    feed_key = models.UUIDField(default=uuid.uuid4, unique=True)
    told_until = models.DateTimeField(null=True, blank=True, help_text="When the last digest was sent.")

    class Meta:
        constraints = [one_of("digest", ["never", "daily", "weekly"])]

    def __str__(self) -> str:
        return f"profile of {self.user_id}"


class Notice(models.Model):
    """Something that happened, told to one person: by e-mail in a digest, in their feed, and on a page."""

    class What(models.TextChoices):
        SUBMITTED = "submitted", "handed in for review"
        RETURNED = "returned", "returned with remarks"
        ACCEPTED = "accepted", "accepted"
        WITHDRAWN = "withdrawn", "withdrawn"
        QUESTION = "question", "question"
        DOUBT = "doubt", "doubt"
        ANSWER = "answer", "answer"
        RESOLVED = "resolved", "resolved"

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="notices")
    study = models.ForeignKey(Study, on_delete=models.CASCADE, related_name="+")
    what = models.CharField(max_length=10, choices=What.choices)
    text = models.TextField()
    address = models.CharField(max_length=300, help_text="The page it is about, from the host on.")
    at = models.DateTimeField(auto_now_add=True)
    seen_at = models.DateTimeField(null=True, blank=True)
    sent_at = models.DateTimeField(null=True, blank=True, help_text="When a digest took it along.")

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [
            models.Index(fields=["user", "-at"]),
            # Every page counts these for whoever is signed in.
            models.Index(fields=["user"], condition=models.Q(seen_at__isnull=True), name="notice_unseen"),
        ]
        constraints = [
            one_of(
                "what",
                ["submitted", "returned", "accepted", "withdrawn", "question", "doubt", "answer", "resolved"],
            )
        ]

    def __str__(self) -> str:
        return self.text[:60]
