"""A series on one footing: its sufficient statistics and how they were obtained."""

from __future__ import annotations

from django.db import models
from django.db.models import CheckConstraint, Q

from .constraints import one_of
from .few_bytes import PhraseCharField, PhrasesField, StepsField
from .series import Series

CODES = ("peak_load", "at_joint", "stress", "ratio_solid", "ratio_solid_matched", "ratio_control")


class SeriesFooting(models.Model):
    """Stored when a series is saved. A footing that can't be had is a row too: it says what is missing.

    Sums run over the natural logarithms of the specimens that broke; those that held are counted apart.
    ``kept`` sums leave out flagged specimens. A summary without a spread has no ``sum_sq_log``.
    """

    # The constraint below is an index that begins with the series.
    series = models.ForeignKey(Series, on_delete=models.CASCADE, related_name="footings", db_index=False)
    code = models.CharField(max_length=20)
    unit = models.CharField(max_length=10)
    n = models.PositiveIntegerField(null=True, help_text="Broken specimens; empty if a summary gives no count.")
    held = models.PositiveIntegerField(default=0)
    sum_log = models.FloatField(null=True)
    sum_sq_log = models.FloatField(null=True)
    kept_n = models.PositiveIntegerField(null=True)
    kept_held = models.PositiveIntegerField(default=0)
    kept_sum_log = models.FloatField(null=True)
    kept_sum_sq_log = models.FloatField(null=True)
    factor = models.FloatField(null=True, help_text="Value per newton (or as read), where it is one number.")
    basis = PhraseCharField(max_length=200, blank=True)
    steps = StepsField(default=list)
    worked = models.TextField(blank=True)
    missing = PhrasesField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["series", "code"], name="footing_once_a_series"),
            one_of("code", CODES),
            CheckConstraint(
                condition=Q(kept_n__isnull=True) | Q(n__isnull=True) | Q(kept_n__lte=models.F("n")),
                name="footing_kept_within_all",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.series} on {self.code}"
