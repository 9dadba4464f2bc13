"""A finding: something the checks noticed about a saved study."""

from __future__ import annotations

from django.db import models

from .constraints import one_of
from .few_bytes import PhraseTextField
from .series import Series
from .specimen import Specimen
from .study import Study


class Finding(models.Model):
    class Severity(models.TextChoices):
        ERROR = "error", "error"
        DOUBT = "doubt", "doubt"
        REMARK = "remark", "remark"

    study = models.ForeignKey(Study, on_delete=models.CASCADE, related_name="findings")
    series = models.ForeignKey(Series, null=True, blank=True, on_delete=models.CASCADE, related_name="findings")
    specimen = models.ForeignKey(Specimen, null=True, blank=True, on_delete=models.CASCADE, related_name="findings")
    code = models.CharField(max_length=40)
    severity = models.CharField(max_length=6, choices=Severity.choices)
    field = models.CharField(max_length=60, blank=True)
    value = models.CharField(max_length=200, blank=True, help_text="What was typed.")
    message = PhraseTextField(help_text="What was found and what it means.")
    remedy = PhraseTextField(blank=True, help_text="What to do.")

    class Meta:
        ordering = ["id"]
        constraints = [one_of("severity", ["error", "doubt", "remark"])]

    def __str__(self) -> str:
        return f"{self.severity}: {self.code}"
