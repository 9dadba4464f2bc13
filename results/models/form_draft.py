"""A form that is being filled in, kept by the server as it is typed."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models

from .study import Study


class FormDraft(models.Model):
    """What somebody has typed so far; nothing of it is checked, and nobody else reads it."""

    # Of the form's own key and its user, as `Study.submission_key` is: another user's form has another one.
    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="form_drafts")
    study = models.ForeignKey(
        Study, null=True, blank=True, on_delete=models.CASCADE, related_name="+", help_text="The study it changes."
    )
    title = models.CharField(max_length=200, blank=True)
    typed = models.JSONField(default=dict, help_text="What was typed, by the name of the input.")
    # Rises with each save: a second tab that has not seen the newest does not overwrite it.
    version = models.PositiveIntegerField(default=1)
    tab = models.CharField(max_length=40, blank=True, help_text="The open page that saved it last.")
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["-changed_at"]

    def __str__(self) -> str:
        return self.title or "a study without a title yet"
