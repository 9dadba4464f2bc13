"""A setup: how load was applied and read."""

from __future__ import annotations

from django.db import models

from .constraints import between, one_of, positive
from .rig import Rig
from .study import Study
from .vocabulary import Instrument, Loading


class Setup(models.Model):
    class Reads(models.TextChoices):
        FORCE = "force", "a force"
        MOMENT = "moment", "a moment"
        STRESS = "stress", "a stress (published results)"

    class ArmReference(models.TextChoices):
        FACE = "face", "the joint's face"
        CENTRE = "centre", "the centre line of the other member"
        FAR_FACE = "far_face", "the far face of the other member"

    # Lengths and numbers of the rig, by the name the statics know them by.
    LENGTHS = (
        "arm_mm",
        "span_mm",
        "load_offset_mm",
        "joint_offset_mm",
        "leg_mm",
        "leg_b_mm",
        "face_offset_mm",
        "rail_height_mm",
        "ram_diameter_mm",
    )
    NUMBERS = ("angle_deg", "diagonal_deg", "friction", "frame_count", "shear_faces", "lever_ratio")

    study = models.ForeignKey(Study, on_delete=models.CASCADE, related_name="setups")
    label = models.CharField(max_length=80)
    loading = models.ForeignKey(Loading, on_delete=models.PROTECT)
    instrument = models.ForeignKey(Instrument, null=True, blank=True, on_delete=models.PROTECT)
    reads = models.CharField(max_length=10, choices=Reads.choices, default=Reads.FORCE)
    arm_mm = models.FloatField(null=True, blank=True)
    arm_reference = models.CharField(max_length=10, choices=ArmReference.choices, default=ArmReference.FACE)
    span_mm = models.FloatField(null=True, blank=True)
    load_offset_mm = models.FloatField(null=True, blank=True)
    joint_offset_mm = models.FloatField(null=True, blank=True)
    leg_mm = models.FloatField(null=True, blank=True)
    leg_b_mm = models.FloatField(null=True, blank=True)
    face_offset_mm = models.FloatField(null=True, blank=True)
    rail_height_mm = models.FloatField(null=True, blank=True)
    ram_diameter_mm = models.FloatField(null=True, blank=True)
    angle_deg = models.FloatField(null=True, blank=True)
    diagonal_deg = models.FloatField(null=True, blank=True)
    friction = models.FloatField(null=True, blank=True)
    frame_count = models.PositiveSmallIntegerField(null=True, blank=True)
    shear_faces = models.PositiveSmallIntegerField(null=True, blank=True)
    lever_ratio = models.FloatField(null=True, blank=True)
    rate_mm_min = models.FloatField(null=True, blank=True)
    typed = models.JSONField(default=dict, blank=True, help_text="Each length as it was typed, by field.")
    notes = models.TextField(blank=True)
    # The contributor's own rig that it was filled in from, and with it how the instrument was calibrated.
    rig = models.ForeignKey(Rig, null=True, blank=True, on_delete=models.SET_NULL, related_name="setups")

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(fields=["study", "label"], name="setup_label_once_a_study"),
            one_of("reads", ["force", "moment", "stress"]),
            one_of("arm_reference", ["face", "centre", "far_face"]),
            *positive(
                [
                    "arm_mm",
                    "span_mm",
                    "load_offset_mm",
                    "joint_offset_mm",
                    "leg_mm",
                    "leg_b_mm",
                    "rail_height_mm",
                    "ram_diameter_mm",
                    "lever_ratio",
                    "rate_mm_min",
                    "frame_count",
                ]
            ),
            between("face_offset_mm", 0, 1e6),
            between("angle_deg", -89, 89),
            between("diagonal_deg", 0, 89),
            between("friction", 0, 0.99),
            between("shear_faces", 1, 2),
        ]

    def __str__(self) -> str:
        return self.label

    def parameters(self) -> dict[str, float | str]:
        """The lengths and numbers that were given, by name; what was not given is absent."""
        names = (*self.LENGTHS, *self.NUMBERS)
        given = {name: getattr(self, name) for name in names if getattr(self, name) is not None}
        return {**given, "arm_reference": self.arm_reference}
