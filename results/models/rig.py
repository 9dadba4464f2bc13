"""A rig that somebody keeps and uses again, and its calibrations against known weights."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from .vocabulary import Instrument, Loading


class Rig(models.Model):
    """A contributor's own rig: a setup without a study."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="rigs")
    label = models.CharField(max_length=80)
    loading = models.ForeignKey(Loading, on_delete=models.PROTECT, related_name="+")
    instrument = models.ForeignKey(Instrument, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    typed = models.JSONField(default=dict, blank=True, help_text="Lengths and numbers as typed, by a setup's field.")
    notes = models.TextField(blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    changed_at = models.DateTimeField(auto_now=True)

    class Meta:
        ordering = ["label"]
        constraints = [models.UniqueConstraint(fields=["user", "label"], name="rig_label_once_a_user")]

    def __str__(self) -> str:
        return self.label


class Calibration(models.Model):
    """Weights hung from a rig's instrument, and what it read."""

    rig = models.ForeignKey(Rig, on_delete=models.CASCADE, related_name="calibrations")
    made_on = models.DateField()
    unit = models.CharField(max_length=20, blank=True, help_text="Of readings typed without one.")
    points = models.JSONField(help_text="Pairs of what was hung and what was read, as typed.")
    hung_n = models.JSONField(help_text="The same in newtons (or newton metres), in the same order.")
    read_n = models.JSONField()
    weights_from = models.CharField(max_length=200, blank=True, help_text="How the weights are known.")
    weights_within = models.CharField(max_length=40, blank=True, help_text="How well, as typed: a share or a weight.")
    known_u_n = models.JSONField(default=list, blank=True, help_text="Their standard uncertainties, in that order.")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-made_on", "-id"]

    def __str__(self) -> str:
        return f"{self.rig}, {self.made_on}"
