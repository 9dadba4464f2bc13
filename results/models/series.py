"""A series: specimens made alike and tested on one setup; or a published summary of one."""

from __future__ import annotations

from django.db import models
from django.db.models import CheckConstraint, F, Q

from .constraints import between, one_of, positive
from .dimensions import DIMS, Dimensions
from .setup import Setup
from .study import Study
from .vocabulary import AdhesiveClass, Joint, Timber


class SeriesQuerySet(models.QuerySet["Series"]):
    def counting(self) -> SeriesQuerySet:
        """Series of accepted studies: those that statistics may use."""
        return self.filter(study__status=Study.Status.ACCEPTED)

    def of_joint(self, *codes: str) -> SeriesQuerySet:
        return self.filter(joint_id__in=codes)

    def under(self, action: str) -> SeriesQuerySet:
        """Series whose loading makes the joint feel this action."""
        return self.filter(setup__loading__action=action)


class Series(Dimensions):
    class Tests(models.TextChoices):
        JOINT = "joint", "a joint as it is used"
        BOND = "bond", "a glue bond by itself"

    class Grain(models.TextChoices):
        END = "end", "end grain"
        LONG = "long", "long grain (edge)"
        SIDE = "side", "face or side grain"

    class Conditioning(models.TextChoices):
        UNKNOWN = "unknown", "not recorded"
        INDOORS = "indoors", "kept indoors"
        CLIMATE = "climate", "held at a steady climate"
        CYCLED = "cycled", "cycled between dry and damp"
        SOAKED = "soaked", "soaked before the test"

    # An index below begins with the study.
    study = models.ForeignKey(Study, on_delete=models.CASCADE, related_name="series", db_index=False)
    setup = models.ForeignKey(Setup, on_delete=models.CASCADE, related_name="series")
    label = models.CharField(max_length=80)
    joint = models.ForeignKey(Joint, on_delete=models.PROTECT, related_name="series")  # its index: the newest of it
    tests = models.CharField(max_length=5, choices=Tests.choices, default=Tests.JOINT)
    timber = models.ForeignKey(Timber, null=True, blank=True, on_delete=models.PROTECT, related_name="series")
    adhesive = models.ForeignKey(AdhesiveClass, null=True, blank=True, on_delete=models.PROTECT, related_name="series")
    adhesive_note = models.CharField(max_length=200, blank=True)
    grain_a = models.CharField(max_length=4, choices=Grain.choices, blank=True)
    grain_b = models.CharField(max_length=4, choices=Grain.choices, blank=True)
    control = models.ForeignKey("self", null=True, blank=True, on_delete=models.SET_NULL, related_name="measured")
    moisture_pct = models.FloatField(null=True, blank=True)
    density_kgm3 = models.FloatField(null=True, blank=True)
    cure_hours = models.FloatField(null=True, blank=True)
    conditioning = models.CharField(max_length=10, choices=Conditioning.choices, default=Conditioning.UNKNOWN)
    cycles = models.PositiveIntegerField(null=True, blank=True, help_text="Load cycles before the test.")
    typed = models.JSONField(default=dict, blank=True, help_text="Each dimension as it was typed, by field.")
    notes = models.TextField(blank=True)

    objects = SeriesQuerySet.as_manager()

    class Meta:
        verbose_name_plural = "series"
        ordering = ["id"]
        # What lists of specimens are filtered by most, answered without reading the series themselves.
        indexes = [models.Index(fields=["joint", "timber", "study"], name="series_by_kind")]
        constraints = [
            models.UniqueConstraint(fields=["study", "label"], name="series_label_once_a_study"),
            one_of("tests", ["joint", "bond"]),
            one_of("grain_a", ["", "end", "long", "side"]),
            one_of("grain_b", ["", "end", "long", "side"]),
            one_of("conditioning", ["unknown", "indoors", "climate", "cycled", "soaked"]),
            CheckConstraint(
                condition=Q(control__isnull=True) | ~Q(control=F("id")),
                name="series_is_not_its_own_control",
            ),
            *positive([*DIMS, "density_kgm3", "cure_hours"]),
            between("moisture_pct", 0, 200),
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def faces(self) -> str | None:
        """The grain of the two bonded faces, as one word in a fixed order: ``end-side``."""
        if not (self.grain_a and self.grain_b):
            return None
        return "-".join(sorted([self.grain_a, self.grain_b], key=self.Grain.values.index))

    @property
    def is_summary(self) -> bool:
        return hasattr(self, "summary")


class Summary(models.Model):
    """A published mean, with or without count and spread, instead of specimens."""

    class Quantity(models.TextChoices):
        FORCE = "force", "peak load"
        MOMENT = "moment", "moment at the joint"
        STRESS = "stress", "stress"

    series = models.OneToOneField(Series, on_delete=models.CASCADE, related_name="summary")
    quantity = models.CharField(max_length=10, choices=Quantity.choices)
    mean_typed = models.CharField(max_length=60)
    mean_si = models.FloatField(help_text="N, N·m or MPa, by the quantity.")
    sd_typed = models.CharField(max_length=60, blank=True)
    sd_si = models.FloatField(null=True, blank=True)
    n = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        verbose_name_plural = "summaries"
        constraints = [
            one_of("quantity", ["force", "moment", "stress"]),
            CheckConstraint(condition=Q(mean_si__gt=0, mean_si__lt=1e9), name="summary_mean_gt0"),
            *positive(["sd_si", "n"]),
        ]

    def __str__(self) -> str:
        return f"mean {self.mean_typed} of {self.n or 'an unstated number of'} specimens"
