"""What a comparison reads of a study, packed so that a whole book is read at once."""

from __future__ import annotations

from typing import Any

from django.db import models
from django.db.models.signals import post_delete, post_save
from django.dispatch import receiver

from .footing import SeriesFooting
from .series import Series, Summary
from .setup import Setup
from .specimen import Specimen
from .study import Study


class Packed(models.Model):
    """A study's series and specimens as `results.evidence.packing` packs them.

    The row without a code holds what is so on every footing, the others what a footing adds. They are made from the
    records and say nothing that those don't; a study that lacks them is packed as it is read, which takes longer.
    """

    study = models.ForeignKey(Study, on_delete=models.CASCADE, related_name="packed")
    code = models.CharField(max_length=20, blank=True, help_text="The footing; empty for what holds on all.")
    form = models.PositiveSmallIntegerField(help_text="Which way of packing.")
    series = models.BinaryField()
    specimens = models.BinaryField()
    words = models.TextField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["study", "code"], name="packed_once_a_footing")]

    def __str__(self) -> str:
        return f"{self.study_id} on {self.code or 'all footings'}"


@receiver([post_save, post_delete], dispatch_uid="packed")
def _on_change(sender: type[models.Model], instance: Any, **kwargs: Any) -> None:
    """A record saved or deleted by itself: what was packed of its study no longer holds.

    Whoever changes records in bulk packs the study anew, see `results.evidence.packing.store`.
    """
    if sender in (Series, Setup):
        Packed.objects.filter(study=instance.study_id).delete()
    elif sender in (Specimen, Summary, SeriesFooting):
        Packed.objects.filter(study__series=instance.series_id).delete()
