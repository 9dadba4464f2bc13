"""A release: a dated snapshot of all accepted studies that is never changed."""

from __future__ import annotations

from django.db import models
from django.urls import reverse


class Release(models.Model):
    """What a release's files hold; the files themselves lie under the data folder, by the release's name."""

    date = models.DateField(help_text="The day its data last changed.")
    number = models.PositiveIntegerField(help_text="Counts the releases of one date from 1.")
    as_of = models.DateTimeField(help_text="When its data last changed.")
    data_hash = models.CharField(max_length=64, help_text="SHA-256 over the sums of its tables.")
    counts = models.JSONField(default=dict, help_text="Rows by table.")
    invented = models.PositiveIntegerField(default=0, help_text="Made-up studies among its studies.")
    changes = models.JSONField(default=dict, help_text="What differs from the release before.")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-date", "-number"]
        constraints = [models.UniqueConstraint(fields=["date", "number"], name="release_name_once")]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("data:release", args=[self.name])

    @property
    def name(self) -> str:
        """Also the name of its folder: ``2025-03-14-1``."""
        return f"{self.date:%Y-%m-%d}-{self.number}"
