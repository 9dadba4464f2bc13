"""A photo of a break, made anew from what was sent, without what the camera wrote into it."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.db import models
from django.db.models.signals import post_delete
from django.dispatch import receiver
from django.urls import reverse

from .files import drop_with_row
from .series import Series
from .specimen import Specimen
from .study import Study


def photo_path(photo: Photo, name: str) -> str:
    """Where the picture is kept; nothing of the sender's file name is used."""
    return f"photos/{photo.pk}.jpg"


def thumbnail_path(photo: Photo, name: str) -> str:
    """Where the small picture is kept."""
    return f"photos/{photo.pk}-small.jpg"


class Photo(models.Model):
    """Whoever may read the study may see it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    study = models.ForeignKey(Study, on_delete=models.CASCADE, related_name="photos")
    series = models.ForeignKey(Series, null=True, blank=True, on_delete=models.SET_NULL, related_name="photos")
    specimen = models.ForeignKey(Specimen, null=True, blank=True, on_delete=models.SET_NULL, related_name="photos")
    caption = models.CharField(max_length=200, help_text="What it shows, for those who can't see it too.")
    file = models.FileField(upload_to=photo_path)
    thumbnail = models.FileField(upload_to=thumbnail_path)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size_bytes = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64, help_text="Of the picture as kept.")
    sent_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="photos")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["created_at", "id"]
        constraints = [models.UniqueConstraint(fields=["study", "sha256"], name="photo_once_a_study")]

    def __str__(self) -> str:
        return self.caption

    def get_absolute_url(self) -> str:
        return reverse("photos:picture", args=[self.pk])

    @property
    def small_url(self) -> str:
        """Where the small picture is."""
        return reverse("photos:small", args=[self.pk])

    def drop_files(self) -> None:
        """Take both files away, those that are there."""
        for file in (self.file, self.thumbnail):
            if file.name:
                file.storage.delete(file.name)


@receiver(post_delete, sender=Photo, dispatch_uid="photo_files")
def _on_delete(instance: Photo, **kwargs: object) -> None:
    drop_with_row(instance.file, instance.thumbnail)
