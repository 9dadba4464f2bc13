"""An upload: the file somebody sent, kept from preview to saving, and what became of it."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models.signals import post_delete
from django.dispatch import receiver

from .files import drop_with_row
from .study import Study


def upload_path(upload: Upload, name: str) -> str:
    """Where the file is kept; nothing of the sender's file name is used but its checked ending."""
    return f"uploads/{upload.pk}.{upload.kind}"


class Upload(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="uploads")
    kind = models.CharField(max_length=4, choices=[("csv", "CSV"), ("xlsx", "XLSX")])
    name = models.CharField(max_length=200)
    file = models.FileField(upload_to=upload_path)
    size_bytes = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    study = models.OneToOneField(Study, null=True, blank=True, on_delete=models.SET_NULL, related_name="upload")
    counts = models.JSONField(default=dict, blank=True)
    # A file may also change a study that is there: which one, and as which of its revisions it was handed in.
    changes = models.ForeignKey(Study, null=True, blank=True, on_delete=models.CASCADE, related_name="change_uploads")
    revision = models.PositiveIntegerField(null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return self.name


@receiver(post_delete, sender=Upload, dispatch_uid="upload_file")
def _on_delete(instance: Upload, **kwargs: object) -> None:
    drop_with_row(instance.file)
