"""A specimen: one joint, tested once."""

from __future__ import annotations

from django.db import models
from django.db.models import CheckConstraint, Q

from .constraints import between, one_of, positive
from .series import Series
from .vocabulary import FailurePlace


class SpecimenQuerySet(models.QuerySet["Specimen"]):
    def told(self) -> SpecimenQuerySet:
        """Specimens that say something: all but the void ones."""
        return self.exclude(outcome=Specimen.Outcome.VOID)


class Specimen(models.Model):
    class Outcome(models.TextChoices):
        BROKE = "broke", "broke"
        HELD = "held", "held (the rig or the tester stopped first)"
        VOID = "void", "void (the rig failed)"

    # Two indexes below begin with the series; a place alone finds a tenth of all specimens, which no index speeds up.
    series = models.ForeignKey(Series, on_delete=models.CASCADE, related_name="specimens", db_index=False)
    label = models.CharField(max_length=40)
    position = models.PositiveIntegerField(default=0)
    reading_typed = models.CharField(max_length=60, blank=True)
    reading_unit = models.CharField(max_length=20, blank=True)
    peak_load_n = models.FloatField(null=True, blank=True)
    outcome = models.CharField(max_length=5, choices=Outcome.choices, default=Outcome.BROKE)
    void_reason = models.CharField(max_length=200, blank=True)
    failure_place = models.ForeignKey(FailurePlace, null=True, blank=True, on_delete=models.PROTECT, db_index=False)
    wood_failure_pct = models.FloatField(null=True, blank=True)
    moisture_pct = models.FloatField(null=True, blank=True)
    density_kgm3 = models.FloatField(null=True, blank=True)
    notes = models.TextField(blank=True)
    # Stored footings, see results.evidence; a torque wrench fills moment_nm with no peak load before it.
    moment_nm = models.FloatField(null=True, blank=True)
    force_n = models.FloatField(null=True, blank=True)
    stress_mpa = models.FloatField(null=True, blank=True)
    ratio_solid = models.FloatField(null=True, blank=True)
    ratio_solid_matched = models.FloatField(null=True, blank=True)
    ratio_control = models.FloatField(null=True, blank=True)
    flagged = models.BooleanField(default=False, help_text="A check doubts this specimen.")

    objects = SpecimenQuerySet.as_manager()

    class Meta:
        ordering = ["series_id", "position", "id"]
        constraints = [
            models.UniqueConstraint(fields=["series", "label"], name="specimen_label_once_a_series"),
            one_of("outcome", ["broke", "held", "void"]),
            CheckConstraint(
                condition=(Q(outcome="void") & ~Q(void_reason=""))
                | (~Q(outcome="void") & Q(void_reason="") & ~Q(reading_typed="")),
                name="specimen_void_has_reason_others_have_reading",
            ),
            # A specimen that held has not failed anywhere.
            CheckConstraint(
                condition=Q(outcome="broke") | Q(failure_place__isnull=True),
                name="specimen_only_broken_has_failure_place",
            ),
            *positive(
                [
                    "peak_load_n",
                    "density_kgm3",
                    "moment_nm",
                    "force_n",
                    "stress_mpa",
                    "ratio_solid",
                    "ratio_solid_matched",
                    "ratio_control",
                ]
            ),
            between("wood_failure_pct", 0, 100),
            between("moisture_pct", 0, 200),
        ]

    def __str__(self) -> str:
        return self.label
